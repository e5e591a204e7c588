"""The hard cases of a toolroom: what was counted, and what it means for each cavity and each insert."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from shop.people.models import Person
from shop.press import working_out
from shop.press.models import Press, ShotEntry
from shop.press.services import presses, runs, shots
from shop.tooling.models import FinishLife, Insert, SteelEntry
from shop.tooling.reading import inserts_at
from shop.tooling.services import faces, inserts
from tests.factories import Built, build_tool
from tests.press.conftest import HOUR, choices, of_insert, of_position, refused, tool_total, worked

Log = Callable[..., ShotEntry]


def test_insert_4_moved_to_position_7_takes_its_shots_along(
    in_press: Built, log: Log, lead: Person, at: datetime
) -> None:
    four, face = in_press.inserts["4"], in_press.faces["show 4"]
    faces.take_steel(face=face, depth_um=30, work="WO-1 kiss polish", by=lead, at=at)
    log(1, 10_000)
    log(3, 10_600)
    inserts.fit(insert=four, position=in_press.positions[7], by=lead, at=at + 4 * HOUR, why="7 was dented")
    inserts.fit(insert=in_press.inserts["9"], position=in_press.positions[4], by=lead, at=at + 4 * HOUR)
    log(6, 11_000)

    assert tool_total(in_press) == 1000
    assert [of_insert(in_press, number) for number in ("4", "7", "9", "1")] == [1000, 600, 400, 1000]
    assert [of_position(in_press, number) for number in (4, 7, 1)] == [1000, 1000, 1000]
    sits = {fitting.position.number: fitting.insert.number for fitting in inserts_at(in_press.tool, at + 6 * HOUR)}
    assert (sits[4], sits[7]) == ("9", "4")
    assert {fitting.position.number: fitting.insert.number for fitting in inserts_at(in_press.tool, at)}[7] == "7"
    assert face.insert == four
    assert SteelEntry.objects.left_by_face([face.pk])[face.pk] == 370
    assert list(FinishLife.objects.running().filter(face=face).values_list("number", flat=True)) == [1]


def test_insert_move_entered_in_hindsight_is_counted_from_when_it_happened(
    in_press: Built, log: Log, lead: Person, at: datetime
) -> None:
    log(1, 0)
    log(2, 100)
    log(4, 300)
    inserts.fit(insert=in_press.inserts["9"], position=in_press.positions[4], by=lead, at=at + 3 * HOUR)
    assert of_insert(in_press, "9") == 0
    assert working_out.rebuild_if_counted(in_press.tool, since=at + 3 * HOUR)
    assert (of_insert(in_press, "9"), of_insert(in_press, "4"), of_position(in_press, 4)) == (200, 100, 300)
    assert not working_out.rebuild_if_counted(in_press.tool, since=at + 5 * HOUR)


def test_family_tool_with_two_of_four_sets_counts_those_two(
    lead: Person, press_tech: Person, press: Press, at: datetime
) -> None:
    family = build_tool(lead, at, cavities=8, sets=("A", "B", "C", "D"))
    runs.start_run(tool=family.tool, press=press, by=press_tech, at=at, sets=["A", "C"])
    shots.log(tool=family.tool, by=press_tech, at=at + HOUR, source="by hand", count=250)
    assert [of_insert(family, str(number)) for number in range(1, 9)] == [250, 0, 250, 0, 250, 0, 250, 0]
    assert tool_total(family) == 250
    refused(
        "run.set_unknown",
        shots.log, tool=family.tool, by=press_tech, at=at + HOUR, source="by hand", count=1, sets=["E"],
    )  # fmt: skip


def test_core_and_slide_of_a_cavity_run_with_it(in_press: Built, log: Log, lead: Person, at: datetime) -> None:
    for kind in (Insert.Kind.CORE, Insert.Kind.SLIDE, Insert.Kind.LIFTER):
        in_press.inserts[kind] = inserts.add_insert(
            tool=in_press.tool, number=f"{kind} 1", kind=kind, steel="1.2344", by=lead, at=at,
            position=in_press.positions[1],
        )  # fmt: skip
    log(1, count=90)
    log(2, count=10, blocked=[1])
    assert [of_insert(in_press, kind) for kind in ("core", "slide", "lifter", "1", "2")] == [90, 90, 90, 90, 100]
    assert (of_position(in_press, 1), of_position(in_press, 2)) == (90, 100)


def test_blocked_cavity_makes_no_shots_and_an_unknown_one_is_refused(in_press: Built, log: Log) -> None:
    log(1, 0)
    log(2, 200, blocked=[3, 5, 3])
    assert ShotEntry.objects.latest("id").blocked == [3, 5]
    assert (of_insert(in_press, "3"), of_insert(in_press, "5"), of_insert(in_press, "4")) == (0, 0, 200)
    assert tool_total(in_press) == 200
    assert refused("shots.position_unknown", log, 3, 300, blocked=[9]).values["position"] == 9


def test_entry_takes_from_its_run_what_is_not_said(in_press: Built, log: Log, press: Press) -> None:
    entry = log(1, count=10)
    assert (entry.press, entry.run.order_number, entry.basis) == (press, "A-1", "count")
    assert log(2, count=10, colour="black", lot="L7").colour == "black"


def test_first_counter_reading_asks_from_where_it_counts(in_press: Built, log: Log) -> None:
    question = refused("shots.first_counter", log, 1, 800, answers={})
    assert choices(question) == {"baseline_only", "count_from_zero", "stood_at"}
    assert not ShotEntry.objects.exists()
    log(1, 800, answers={"shots.first_counter": "count_from_zero"})
    assert tool_total(in_press) == 800
    log(2, 900, answers={})
    assert tool_total(in_press) == 900


def test_first_counter_reading_counts_from_where_it_stood(in_press: Built, log: Log) -> None:
    refused("shots.offset_wanted", log, 1, 800, answers={"shots.first_counter": "stood_at"})
    refused("shots.offset_above_counter", log, 1, 800, answers={"shots.first_counter": "stood_at", "offset": 801})
    log(1, 800, answers={"shots.first_counter": "stood_at", "offset": "650"})
    assert tool_total(in_press) == 150


def test_counter_that_falls_is_a_question_and_never_negative_shots(in_press: Built, log: Log) -> None:
    log(1, 5000)
    log(2, 5200)
    question = refused("shots.counter_fell", log, 3, 80)
    assert choices(question) == {"new_job", "swapped", "set_by_hand", "rolled_over"}
    assert question.values["read"] == 5200
    assert tool_total(in_press) == 200
    entry = log(3, 80, answers={"shots.counter_fell": "new_job"})
    assert (entry.basis, entry.answers["shots.counter_fell"], tool_total(in_press)) == ("new job", "new_job", 280)


def test_swapped_counter_counts_on_from_where_the_new_one_stood(in_press: Built, log: Log) -> None:
    log(1, 5000)
    refused("shots.offset_wanted", log, 2, 150, answers={"shots.counter_fell": "swapped"})
    log(2, 150, answers={"shots.counter_fell": "swapped", "offset": 50, "read_before": 5060})
    log(3, 200)
    assert tool_total(in_press) == 60 + 100 + 50


def test_counter_set_upwards_by_hand_is_noticed_by_its_rate(in_press: Built, log: Log) -> None:
    log(1, 5000)
    log(2, 5300)
    question = refused("shots.rate_impossible", log, 3, 250_100)
    assert choices(question) == {"really_made", "set_by_hand", "swapped"}
    by_hand = {"shots.rate_impossible": "set_by_hand", "offset": 250_000}
    refused("shots.read_before_wanted", log, 3, 250_100, answers=by_hand)
    refused("shots.read_before_below_last", log, 3, 250_100, answers={**by_hand, "read_before": 5299})
    entry = log(3, 250_100, answers={**by_hand, "read_before": 5350})
    assert (entry.basis, entry.offset, entry.read_before) == ("set by hand", 250_000, 5350)
    log(4, 250_200)
    assert tool_total(in_press) == 300 + 50 + 100 + 100


def test_counter_set_downwards_by_hand_keeps_the_total(in_press: Built, log: Log) -> None:
    log(1, 5000)
    log(2, 130, answers={"shots.counter_fell": "set_by_hand", "offset": 100, "read_before": 5020})
    assert tool_total(in_press) == 20 + 30


def test_seven_digits_roll_over(in_press: Built, log: Log) -> None:
    log(1, 9_999_950)
    log(2, 60, answers={"shots.counter_fell": "rolled_over"})
    assert tool_total(in_press) == 110
    assert ShotEntry.objects.latest("id").read_before == 9_999_999


def test_roll_over_that_would_be_a_jump_is_still_questioned(in_press: Built, log: Log) -> None:
    log(1, 5000)
    refused("shots.rate_impossible", log, 2, 80, answers={"shots.counter_fell": "rolled_over"})


def test_machine_counter_of_six_digits_rolls_over_at_six(
    built: Built, press_tech: Person, at: datetime
) -> None:
    small = presses.add_press(plant=press_tech.plant, name="P6", counter_digits=6, by=press_tech, at=at)
    runs.start_run(tool=built.tool, press=small, by=press_tech, at=at)
    log = {"tool": built.tool, "by": press_tech, "source": "machine counter"}
    shots.log(**log, at=at + HOUR, counter=999_990, answers={"shots.first_counter": "baseline_only"})
    shots.log(**log, at=at + 2 * HOUR, counter=5, answers={"shots.counter_fell": "rolled_over"})
    assert tool_total(built) == 15


def test_job_counter_begins_again_with_each_order(
    in_press: Built, log: Log, press: Press, press_tech: Person, at: datetime
) -> None:
    refused("shots.first_counter", log, 1, 500, source="job counter", answers={})
    log(1, 100, source="job counter", answers={"shots.first_counter": "count_from_zero"})
    log(2, 400, source="job counter", answers={})
    runs.end_run(run=in_press.tool.runs.get(), by=press_tech, at=at + 3 * HOUR)
    runs.start_run(tool=in_press.tool, press=press, by=press_tech, at=at + 4 * HOUR, order_number="A-2")
    assert log(5, 70, source="job counter", answers={}).basis == "new job"
    log(6, 170, source="job counter", answers={})
    refused("shots.counter_fell", log, 7, 20, source="job counter", answers={})
    assert tool_total(in_press) == 400 + 170


def test_machine_counter_counts_for_the_tool_that_is_in_the_press(
    in_press: Built, log: Log, press: Press, lead: Person, press_tech: Person, at: datetime
) -> None:
    machine = {"source": "machine counter", "answers": {}}
    log(1, 1000, source="machine counter")
    log(2, 1300, **machine)
    other = build_tool(lead, at, cavities=2)
    runs.end_run(run=in_press.tool.runs.get(), by=press_tech, at=at + 2 * HOUR)
    runs.start_run(tool=other.tool, press=press, by=press_tech, at=at + 2 * HOUR)
    question = refused("shots.other_tool_since", log, 4, 1900, tool=other.tool, **machine)
    assert choices(question) == {"since_its_reading", "stood_at", "baseline_only"}
    since = {"source": "machine counter", "answers": {"shots.other_tool_since": "since_its_reading"}}
    log(4, 1900, tool=other.tool, **since)
    log(5, 2000, tool=other.tool, **machine)
    runs.end_run(run=other.tool.runs.get(), by=press_tech, at=at + 5 * HOUR)
    runs.start_run(tool=in_press.tool, press=press, by=press_tech, at=at + 5 * HOUR)
    refused("shots.other_tool_since", log, 6, 2100, **machine)
    log(6, 2100, **since)
    assert (tool_total(other), tool_total(in_press)) == (700, 300 + 100)


def test_machine_counter_after_another_tool_that_was_not_read_names_no_reading(
    in_press: Built, log: Log, press: Press, lead: Person, press_tech: Person, at: datetime
) -> None:
    log(1, 1000, source="machine counter")
    other = build_tool(lead, at)
    runs.end_run(run=in_press.tool.runs.get(), by=press_tech, at=at + 2 * HOUR)
    first = runs.start_run(tool=other.tool, press=press, by=press_tech, at=at + 2 * HOUR)
    runs.end_run(run=first, by=press_tech, at=at + 3 * HOUR)
    runs.start_run(tool=in_press.tool, press=press, by=press_tech, at=at + 3 * HOUR)
    question = refused("shots.other_tool_since", log, 4, 1500, source="machine counter", answers={})
    assert choices(question) == {"stood_at", "baseline_only"}
    stood = {"shots.other_tool_since": "stood_at", "offset": 1400}
    log(4, 1500, source="machine counter", answers=stood)
    assert tool_total(in_press) == 100


def test_shots_counted_two_ways_are_asked_and_not_counted_twice(in_press: Built, log: Log) -> None:
    log(1, 1000)
    log(2, count=200)
    question = refused("shots.counted_otherwise", log, 3, 1300)
    assert choices(question) == {"the_same", "on_top"}
    log(3, 1300, answers={"shots.counted_otherwise": "the_same"})
    assert tool_total(in_press) == 300
    log(4, count=50)
    log(5, 1400, answers={"shots.counted_otherwise": "on_top"})
    assert tool_total(in_press) == 300 + 50 + 100


def test_late_count_between_two_readings_is_asked(in_press: Built, log: Log) -> None:
    log(1, 1000)
    log(4, 1300)
    question = refused("shots.counted_otherwise", log, 2, count=100)
    assert (choices(question), question.values["counter"]) == ({"on_top"}, 1300)
    log(2, count=100, answers={"shots.counted_otherwise": "on_top"})
    log(0.5, count=20)
    assert tool_total(in_press) == 300 + 100 + 20


def test_rate_that_no_press_can_run_is_asked(in_press: Built, log: Log) -> None:
    log(1, count=300)
    question = refused("shots.rate_impossible", log, 2, count=500)
    assert (choices(question), question.field) == ({"really_made"}, "count")
    log(2, count=360)
    log(3, count=500, answers={"shots.rate_impossible": "really_made"})
    assert tool_total(in_press) == 300 + 360 + 500


def test_reading_in_the_future_is_refused(in_press: Built, press_tech: Person) -> None:
    from django.utils import timezone

    ahead = timezone.now() + HOUR
    question = refused(
        "shots.in_future", shots.log, tool=in_press.tool, by=press_tech, at=ahead, source="by hand", count=5
    )
    assert not question.question
    assert question.values["at"] == ahead


def test_tool_that_is_not_in_a_press_is_asked(
    built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    asked = {"tool": built.tool, "by": press_tech, "at": at + HOUR, "source": "by hand", "count": 5}
    question = refused("shots.not_in_press", shots.log, **asked)
    assert choices(question) == {"yes_it_ran"}
    refused("shots.not_in_press", shots.log, **asked, press=press)
    entry = shots.log(**asked, answers={"shots.not_in_press": "yes_it_ran"})
    assert (entry.run, entry.press, tool_total(built)) == (None, None, 5)
    machine = {**asked, "count": None, "counter": 5, "source": "machine counter"}
    refused("shots.press_wanted", shots.log, **machine, answers={"shots.not_in_press": "yes_it_ran"})


def test_last_count_after_the_tool_was_pulled_belongs_to_that_run(
    in_press: Built, log: Log, press: Press, press_tech: Person, at: datetime
) -> None:
    run = runs.end_run(run=in_press.tool.runs.get(), by=press_tech, at=at + HOUR)
    question = refused("shots.not_in_press", log, 1.5, count=5)
    assert question.values["ended_at"] == at + HOUR
    assert log(1.5, count=5, answers={"shots.not_in_press": "yes_it_ran"}).run == run


def test_tool_in_another_press_than_named_is_asked(in_press: Built, log: Log, press_tech: Person, at: datetime) -> None:
    other = presses.add_press(plant=press_tech.plant, name="P2", by=press_tech, at=at)
    question = refused("shots.not_in_press", log, 1, count=5, press=other)
    assert (question.values["press"], question.values["named"]) == ("P1", "P2")
    assert log(1, count=5, press=other, answers={"shots.not_in_press": "yes_it_ran"}).press == other


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({}, "shots.one_number"),
        ({"counter": 5, "count": 5}, "shots.one_number"),
        ({"count": -1}, "shots.negative"),
        ({"counter": -1}, "shots.negative"),
    ],
)
def test_numbers_that_say_nothing_are_refused(in_press: Built, log: Log, given: dict[str, int], code: str) -> None:
    assert not refused(code, log, 1, **given).question


def test_disposed_tool_takes_no_shots(built: Built, lead: Person, at: datetime) -> None:
    from shop.tooling.services import tools

    tools.set_status(tool=built.tool, status="disposed", why="worn out", by=lead, at=at)
    refused("tool.disposed", shots.log, tool=built.tool, by=lead, at=at + HOUR, source="by hand", count=1)


def test_same_ref_enters_once_and_other_content_is_a_question(in_press: Built, log: Log) -> None:
    ref = uuid4()
    first = log(1, count=50, ref=ref)
    assert log(1, count=50, ref=ref) == first
    assert tool_total(in_press) == 50
    assert refused("ref.other_content", log, 1, count=60, ref=ref).question
    assert (ShotEntry.objects.count(), tool_total(in_press)) == (1, 50)


def test_appending_takes_the_same_queries_however_long_the_history(
    in_press: Built, log: Log, django_assert_num_queries: Any, press_tech: Person, at: datetime
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    log(1, 1000)
    with CaptureQueriesContext(connection) as early:
        log(2, 1010)
    for number in range(20):
        log(3 + number, 1020 + number)
    with django_assert_num_queries(len(early)):
        log(30, 1100)
    assert len(early) < 30
    before = worked(in_press)
    working_out.rebuild(in_press.tool)
    assert worked(in_press) == before
