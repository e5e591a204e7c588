"""Entries that come late, are put right or are taken away: the ledger keeps all, the totals follow."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from shop.people.models import Person
from shop.press import working_out
from shop.press.models import ShotEntry
from shop.press.services import shots
from shop.tooling.services import inserts
from tests.factories import Built
from tests.press.conftest import HOUR, of_insert, refused, tool_total

Log = Callable[..., ShotEntry]


def test_late_entry_finds_its_place_and_totals_are_worked_out_again(in_press: Built, log: Log) -> None:
    log(1, 1000)
    last = log(4, 1900)
    middle = log(2, 1200, blocked=[1])
    assert (middle.worked.shots, middle.worked.total) == (200, 200)
    last.refresh_from_db()
    assert (last.worked.shots, last.worked.total) == (700, 900)
    assert (of_insert(in_press, "1"), of_insert(in_press, "2")) == (700, 900)
    earliest = log(0.5, 900)
    assert earliest.worked.total == 0
    assert tool_total(in_press) == 1000


def test_late_entry_that_contradicts_what_follows_is_refused(in_press: Built, log: Log) -> None:
    log(1, 1000)
    log(4, 1200)
    assert not refused("shots.less_than_none", log, 3, 1250).question
    assert (ShotEntry.objects.count(), tool_total(in_press)) == (2, 200)


def test_entry_is_put_right_by_one_that_supersedes_it(
    in_press: Built, log: Log, press_tech: Person, at: datetime
) -> None:
    log(1, 1000)
    wrong = log(2, 1020, lot="L1")
    log(3, 1400)
    right = shots.correct(entry=wrong, counter=1200, blocked=[8], why="misread", by=press_tech, at=at + 5 * HOUR)
    assert (right.at, right.supersedes, right.lot, right.why) == (wrong.at, wrong, "L1", "misread")
    assert ShotEntry.objects.get(pk=wrong.pk).counter == 1020
    assert (right.worked.shots, tool_total(in_press), of_insert(in_press, "8")) == (200, 400, 200)
    assert not hasattr(ShotEntry.objects.get(pk=wrong.pk), "worked")
    refused("shots.already_put_right", shots.correct, entry=wrong, counter=1, why="x", by=press_tech, at=at + 5 * HOUR)
    refused("shots.corrected_without_reason", shots.correct, entry=right, why=" ", by=press_tech, at=at + 5 * HOUR)


def test_correction_may_move_an_entry_to_when_it_happened(
    in_press: Built, log: Log, press_tech: Person, lead: Person, at: datetime
) -> None:
    log(1, count=100)
    entry = log(5, count=100)
    inserts.fit(insert=in_press.inserts["9"], position=in_press.positions[1], by=lead, at=at + 3 * HOUR)
    working_out.rebuild(in_press.tool)
    assert of_insert(in_press, "9") == 100
    shots.correct(entry=entry, happened_at=at + 2 * HOUR, why="shift report", by=press_tech, at=at + 6 * HOUR)
    assert (of_insert(in_press, "9"), of_insert(in_press, "1"), tool_total(in_press)) == (0, 200, 200)


def test_correction_that_falls_is_asked_like_an_entry(
    in_press: Built, log: Log, press_tech: Person, at: datetime
) -> None:
    log(1, 1000)
    entry = log(2, 1200)
    put_right = {"entry": entry, "counter": 90, "why": "a new job", "by": press_tech, "at": at + 5 * HOUR}
    refused("shots.counter_fell", shots.correct, **put_right)
    shots.correct(**put_right, answers={"shots.counter_fell": "new_job"})
    assert tool_total(in_press) == 90


def test_voided_entry_is_taken_away_and_the_readings_close_the_gap(
    in_press: Built, log: Log, press_tech: Person, at: datetime
) -> None:
    log(1, 1000)
    wrong = log(2, 1100)
    counted = log(3, count=40)
    shots.void(entry=wrong, why="another tool's", by=press_tech, at=at + 4 * HOUR)
    assert tool_total(in_press) == 40
    log(4, 1300, answers={"shots.counted_otherwise": "on_top"})
    assert tool_total(in_press) == 40 + 300
    shots.void(entry=counted, why="entered twice", by=press_tech, at=at + 5 * HOUR)
    assert tool_total(in_press) == 300
    assert [of_insert(in_press, "1"), ShotEntry.objects.of_tool(in_press.tool).count()] == [300, 2]
    refused("shots.already_put_right", shots.void, entry=wrong, why="again", by=press_tech, at=at + 5 * HOUR)


def test_void_that_would_make_a_later_reading_fall_is_refused(
    in_press: Built, log: Log, press_tech: Person, at: datetime
) -> None:
    log(1, 9000)
    new_job = log(2, 50, answers={"shots.counter_fell": "new_job"})
    log(3, 100)
    refused("shots.less_than_none", shots.void, entry=new_job, why="mistake", by=press_tech, at=at + 4 * HOUR)
    assert tool_total(in_press) == 100
