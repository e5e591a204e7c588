"""Planned runs: entered, changed and cancelled, and what speaks against them."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection

from shop.ledger.models import Change
from shop.people.models import Person
from shop.press.models import PlannedRun, Press
from shop.press.services import planned, presses
from shop.refusal import Refused
from tests.factories import Built, build_tool

DAY = timedelta(days=1)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    return build_tool(lead, at)


@pytest.fixture
def press(press_tech: Person, at: datetime) -> Press:
    return presses.add_press(plant=press_tech.plant, name="P7", most_shots_per_hour=100, by=press_tech, at=at)


def plan(built: Built, by: Person, at: datetime, **given: Any) -> PlannedRun:
    asked = {"shots": 5000, "starts_at": at + 2 * DAY, "ends_at": at + 6 * DAY, "order_number": "A-1"}
    return planned.plan_run(tool=built.tool, by=by, at=at, **{**asked, **given})


def test_run_is_planned_changed_and_cancelled_and_the_trail_says_so(
    built: Built, press_tech: Person, at: datetime
) -> None:
    run = plan(built, press_tech, at)
    planned.change_run(run=run, shots=6000, by=press_tech, at=at)
    gone = planned.cancel_run(run=run, why="customer moved it", by=press_tech, at=at)
    assert (gone.shots, gone.cancelled_at) == (6000, at)
    assert list(PlannedRun.objects.standing()) == []
    trail = Change.objects.filter(room="press.plannedrun", row_id=run.pk)
    assert set(trail.values_list("field", flat=True)) == {"starts_at", "shots", "cancelled_at"}
    assert trail.get(field="cancelled_at").why == "customer moved it"
    with pytest.raises(Refused, match="was cancelled"):
        planned.change_run(run=run, shots=1, by=press_tech, at=at)
    with pytest.raises(Refused, match="was cancelled"):
        planned.cancel_run(run=run, why="again", by=press_tech, at=at)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"ends_at": 1}, "before it starts"),
        ({"starts_at": -6, "ends_at": -2}, "cannot be planned any more"),
        ({"sets": ["left"]}, "has no set left"),
    ],
)
def test_run_that_cannot_be_is_refused(
    built: Built, press_tech: Person, at: datetime, given: dict[str, Any], said: str
) -> None:
    asked = {name: at + value * DAY if name.endswith("_at") else value for name, value in given.items()}
    with pytest.raises(Refused, match=said):
        plan(built, press_tech, at, **asked)


def test_more_shots_than_the_press_makes_are_refused(
    built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    # Four days at 100 an hour are 9,600.
    plan(built, press_tech, at, press=press, shots=9600)
    with pytest.raises(Refused, match="more than press P7 makes"):
        plan(built, press_tech, at, press=press, shots=9601, starts_at=at + 7 * DAY, ends_at=at + 11 * DAY)


def test_two_runs_at_once_of_one_tool_or_in_one_press_are_refused(
    built: Built, press: Press, press_tech: Person, lead: Person, at: datetime
) -> None:
    plan(built, press_tech, at, press=press)
    with pytest.raises(Refused, match="is planned from"):
        plan(built, press_tech, at, order_number="A-2", starts_at=at + 5 * DAY, ends_at=at + 9 * DAY)
    other = build_tool(lead, at)
    with pytest.raises(Refused, match="is planned from"):
        plan(other, press_tech, at, press=press, order_number="A-3")
    # One after the other, and elsewhere at the same time, both may be.
    plan(built, press_tech, at, press=press, order_number="A-2", starts_at=at + 6 * DAY, ends_at=at + 9 * DAY)
    plan(other, press_tech, at, order_number="A-3")


def test_cancelling_wants_a_reason(built: Built, press_tech: Person, at: datetime) -> None:
    run = plan(built, press_tech, at)
    with pytest.raises(Refused, match="why the run is cancelled"):
        planned.cancel_run(run=run, why="  ", by=press_tech, at=at)


@pytest.mark.django_db(transaction=True)
def test_tools_planned_into_one_press_at_once_find_it_free_once(
    press: Press, press_tech: Person, lead: Person, at: datetime
) -> None:
    shops = [build_tool(lead, at) for _ in range(4)]
    start = threading.Barrier(len(shops))
    refused: list[str] = []

    def ask(place: int) -> None:
        try:
            start.wait()
            plan(shops[place], press_tech, at, press=press)
        except Refused as problem:
            refused.append(problem.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=ask, args=(place,)) for place in range(len(shops))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert refused == ["planned.at_once"] * 3
    assert PlannedRun.objects.standing().count() == 1
