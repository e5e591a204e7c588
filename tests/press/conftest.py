"""A tool in a press, and how the tests log and count."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from shop.people.models import Person
from shop.press.models import InsertShots, Press, ShotEntry, WorkedShots
from shop.press.services import presses, runs, shots
from shop.refusal import Refused
from tests.factories import Built, build_tool

HOUR = timedelta(hours=1)


@pytest.fixture
def press(press_tech: Person, at: datetime) -> Press:
    """A press that makes at most 360 shots an hour."""
    return presses.add_press(plant=press_tech.plant, name="P1", most_shots_per_hour=360, by=press_tech, at=at)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    """A tool of eight cavities with two spare inserts, 9 and 10."""
    return build_tool(lead, at, cavities=8, spares=2)


@pytest.fixture
def in_press(built: Built, press: Press, press_tech: Person, at: datetime) -> Built:
    """The tool of eight, in press P1 for order A-1."""
    runs.start_run(tool=built.tool, press=press, by=press_tech, at=at, order_number="A-1", order_shots=20_000)
    return built


@pytest.fixture
def log(in_press: Built, press_tech: Person, at: datetime) -> Callable[..., ShotEntry]:
    """Log so many hours after the run began; a mould counter unless said otherwise."""

    def take(hours: float, counter: int | None = None, **given: Any) -> ShotEntry:
        return shots.log(
            **{
                "tool": in_press.tool, "by": press_tech, "at": at + hours * HOUR, "source": "mould counter",
                "counter": counter, "answers": {"shots.first_counter": "baseline_only"}, **given,
            }
        )  # fmt: skip

    return take


def tool_total(built: Built) -> int:
    return WorkedShots.objects.totals([built.tool.pk]).get(built.tool.pk, 0)


def of_insert(built: Built, number: str) -> int:
    insert = built.inserts[number]
    return InsertShots.objects.totals([insert.pk]).get(insert.pk, 0)


def of_position(built: Built, number: int) -> int:
    position = built.positions[number]
    return InsertShots.objects.position_totals([position.pk]).get(position.pk, 0)


def worked(built: Built) -> tuple[list[Any], list[Any]]:
    """Everything that is worked out for the tool, for comparing with a rebuild."""
    made = WorkedShots.objects.filter(tool=built.tool).order_by("at", "entry_id")
    of_inserts = InsertShots.objects.filter(entry__tool=built.tool).order_by("at", "entry_id", "insert_id")
    return (
        list(made.values_list("entry_id", "at", "shots", "total")),
        list(of_inserts.values_list("entry_id", "insert_id", "position_id", "at", "shots", "total", "resin_id")),
    )


def refused(code: str, call: Callable[..., Any], *args: Any, **given: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        call(*args, **given)
    assert caught.value.code == code
    assert caught.value.plain()
    return caught.value


def choices(question: Refused) -> set[str]:
    assert question.question
    return {code for code, _ in question.choices}
