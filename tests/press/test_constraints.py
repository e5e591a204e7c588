"""What the database of the press room refuses, whoever writes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import pytest
from django.db import IntegrityError, transaction

from shop.people.models import Person
from shop.press.models import InsertShots, Press, Run, ShotEntry, WorkedShots
from tests.factories import Built, build_tool
from tests.press.conftest import HOUR


def refused_by(constraint: str, write: Callable[[], object]) -> None:
    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        write()
    # SQLite names the columns of a unique constraint, PostgreSQL the constraint.
    assert constraint in str(refused.value) or "UNIQUE" in str(refused.value)


def test_tool_is_in_one_press_and_a_press_holds_one_tool(
    in_press: Built, press: Press, lead: Person, at: datetime
) -> None:
    other_press = Press.objects.create(plant=press.plant, name="P9")
    other_tool = build_tool(lead, at).tool
    refused_by(
        "tool_in_one_press", lambda: Run.objects.create(tool=in_press.tool, press=other_press, began_at=at)
    )
    refused_by("press_holds_one_tool", lambda: Run.objects.create(tool=other_tool, press=press, began_at=at))
    refused_by("press_name_once", lambda: Press.objects.create(plant=press.plant, name="P1"))


def test_run_ends_after_it_began(in_press: Built, at: datetime) -> None:
    refused_by("run_ends_after_it_began", lambda: Run.objects.update(ended_at=at))


def test_entry_counts_one_way_and_a_superseding_one_says_why(
    in_press: Built, press_tech: Person, at: datetime
) -> None:
    row = {"tool": in_press.tool, "by": press_tech, "at": at, "source": "by hand"}
    refused_by("shot_entry_counts_one_way", lambda: ShotEntry.objects.create(**row, basis="counter", shots=5))
    refused_by("shot_entry_counts_one_way", lambda: ShotEntry.objects.create(**row, basis="count", counter=5))
    refused_by("shot_entry_says_why", lambda: ShotEntry.objects.create(**row, basis="count", shots=5, void=True))
    old = ShotEntry.objects.create(**row, basis="count", shots=5)
    refused_by("shot_entry_says_why", lambda: ShotEntry.objects.create(**row, basis="count", shots=6, supersedes=old))
    ShotEntry.objects.create(**row, basis="count", shots=6, supersedes=old, why="misread")
    refused_by(
        "supersedes",
        lambda: ShotEntry.objects.create(**row, basis="count", shots=7, supersedes=old, why="misread again"),
    )


def test_entry_is_worked_out_once(in_press: Built, log: Callable[..., ShotEntry], at: datetime) -> None:
    entry = log(1, count=5)
    refused_by(
        "entry", lambda: WorkedShots.objects.create(entry=entry, tool=in_press.tool, at=at, shots=5, total=5)
    )
    refused_by(
        "insert_shots_once",
        lambda: InsertShots.objects.create(
            entry=entry, insert=in_press.insert, position=in_press.positions[1], at=at + HOUR, shots=5, total=5
        ),
    )
    refused_by("shots", lambda: WorkedShots.objects.update(shots=-1))


def test_ledger_row_is_neither_altered_nor_deleted(in_press: Built, log: Callable[..., ShotEntry]) -> None:
    log(1, count=5)
    refused_by("", lambda: ShotEntry.objects.update(shots=6))
    refused_by("", lambda: ShotEntry.objects.all()._raw_delete("default"))
