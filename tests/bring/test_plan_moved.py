"""A plan that is sent again moves runs that are late, and a row that cannot be taken takes nothing away."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from shop.bring.answer import Brought
from shop.bring.service import bring
from shop.people.models import Person
from shop.press.models import PlannedRun, Press
from shop.press.services import presses, runs
from tests.factories import Built, build_tool

DAY = timedelta(days=1)
HEAD = "tool;order;press;shots;starts;ends"

Brings = Callable[..., Brought]


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    return build_tool(lead, at)


@pytest.fixture
def press(press_tech: Person, at: datetime) -> Press:
    return presses.add_press(plant=press_tech.plant, name="P7", most_shots_per_hour=100, by=press_tech, at=at)


@pytest.fixture
def row(built: Built, at: datetime) -> Callable[..., str]:
    def write(order: str, first: float, last: float, *, shots: str = "5000", press: str = "") -> str:
        starts, ends = (f"{at + day * DAY:%Y-%m-%d %H:%M}" for day in (first, last))
        return f"{built.tool.number};{order};{press};{shots};{starts};{ends}"

    return write


@pytest.fixture
def brought(press_tech: Person) -> Brings:
    def take(*lines: str, at: datetime, good_rows: bool = False) -> Brought:
        content = "\n".join([HEAD, *lines]).encode()
        return bring("plan", content, plant=press_tech.plant, by=press_tech, at=at, good_rows=good_rows)

    return take


def standing() -> list[tuple[str, datetime]]:
    return list(PlannedRun.objects.standing().order_by("starts_at").values_list("order_number", "starts_at"))


def test_late_run_that_the_plan_moves_takes_the_place_of_the_one_before(
    brought: Brings, row: Callable[..., str], at: datetime
) -> None:
    brought(row("A-1", 1, 5), at=at)
    # A day after it should have begun it has not; the planning moves it by three days.
    moved = brought(row("A-1", 4, 8), at=at + 2 * DAY)
    assert moved.bad == []
    assert [(order, round((start - at) / DAY)) for order, start in standing()] == [("A-1", 4)]


def test_run_that_should_run_by_now_stays_where_the_plan_only_tells_of_later_ones(
    brought: Brings, row: Callable[..., str], at: datetime
) -> None:
    brought(row("A-1", 1, 5), at=at)
    brought(row("A-2", 6, 9), at=at + 2 * DAY)
    assert [order for order, _start in standing()] == ["A-1", "A-2"]


@pytest.mark.parametrize("wrong", [{"press": "P-none"}, {"shots": "many"}])
def test_row_that_cannot_be_taken_cancels_nothing(
    brought: Brings, row: Callable[..., str], at: datetime, wrong: dict[str, str]
) -> None:
    brought(row("A-1", 1, 5), row("A-2", 6, 9), at=at)
    taken = brought(row("A-1", 1, 5, shots="6000"), row("A-2", 6, 9, **wrong), at=at, good_rows=True)
    assert len(taken.bad) == 1
    assert [order for order, _start in standing()] == ["A-1", "A-2"]


def test_run_that_was_never_begun_is_not_counted_twice_when_it_moves_past_its_end(
    brought: Brings, row: Callable[..., str], at: datetime
) -> None:
    brought(row("A-1", 1, 5), at=at)
    brought(row("A-1", 10, 14), at=at + 2 * DAY)
    assert [round((start - at) / DAY) for _order, start in standing()] == [10]


def test_second_part_of_an_order_leaves_the_part_that_runs(
    brought: Brings, row: Callable[..., str], built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    brought(row("A-1", 1, 5), row("A-1", 10, 14), at=at)
    runs.start_run(tool=built.tool, press=press, order_number="A-1", by=press_tech, at=at + 1 * DAY)
    brought(row("A-1", 10, 14), at=at + 2 * DAY)
    assert len(standing()) == 2
