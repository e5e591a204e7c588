"""What a plant brings is taken whole, once, or not at all."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shop.bring.answer import Brought
from shop.press.models import InsertShots, ShotEntry, WorkedShots
from shop.quality.models import Inspection, Reading, Verdict
from shop.refusal import Refused
from shop.tooling.models import Face, FinishLife, Fitting, Limit, Tool
from shop.watch.models import Standing, Trend
from tests.bring.shop_files import READINGS, SHOTS, TOOLS

FIRST_FACE = "1;C1;1.2343;top;polished;grade;B-2"
Brings = Callable[..., Brought]
pytestmark = pytest.mark.django_db


def test_tools_become_inserts_faces_and_specs(brings: Brings) -> None:
    brought = brings("tools", TOOLS)
    assert (brought.taken, brought.bad) == (2, [])
    assert Tool.objects.get().title == "Lid"
    assert Fitting.objects.now().count() == Face.objects.count() == FinishLife.objects.running().count() == 2
    assert {str(limit.upper) for limit in Limit.objects.all()} == {"0.1500"}
    assert set(Face.objects.values_list("spots__name", flat=True)) == {"gate", "far"}


def test_shots_are_worked_out_for_tool_and_inserts(brings: Brings) -> None:
    brings("tools", TOOLS)
    assert brings("shots", SHOTS, answers={"shots.rate_impossible": "really_made"}).taken == 2
    assert list(WorkedShots.objects.order_by("at").values_list("total", flat=True)) == [4000, 9000]
    assert InsertShots.objects.totals(Face.objects.values_list("insert", flat=True)) == dict.fromkeys(
        Face.objects.values_list("insert", flat=True), 9000
    )


def test_readings_of_one_time_are_one_inspection_with_verdicts_and_trends(brings: Brings) -> None:
    brings("tools", TOOLS)
    brought = brings("readings", READINGS)
    assert brought.taken == Reading.objects.count() == Verdict.objects.count() == 2
    assert Inspection.objects.count() == 1
    assert Trend.objects.count() == Standing.objects.count() == 2


@pytest.mark.parametrize("kind", ["tools", "shots", "readings"])
def test_the_same_file_twice_changes_nothing(brings: Brings, kind: str) -> None:
    files = {"tools": TOOLS, "shots": SHOTS, "readings": READINGS}
    brings("tools", TOOLS)
    if kind != "tools":
        assert brings(kind, files[kind]).taken == 2
    before = ShotEntry.objects.count(), Reading.objects.count(), Face.objects.count()
    again = brings(kind, files[kind])
    assert (again.taken, again.known, again.bad) == (0, 2, [])
    assert (ShotEntry.objects.count(), Reading.objects.count(), Face.objects.count()) == before


@pytest.mark.parametrize(
    ("kind", "old", "new", "column"),
    [
        ("tools", FIRST_FACE, FIRST_FACE.replace("B-2", "B-3"), "face"),
        ("shots", "5000", "5001", "at"),
        ("readings", "0.112", "0.113", "value"),
    ],
)  # fmt: skip
def test_a_row_that_says_something_else_the_second_time_is_reported(
    brings: Brings, kind: str, old: str, new: str, column: str
) -> None:
    files = {"tools": TOOLS, "shots": SHOTS, "readings": READINGS}
    brings("tools", TOOLS)
    brings(kind, files[kind])
    again = brings(kind, files[kind].replace(old, new))
    assert again.taken == 0
    assert [(bad.column, bad.reason.code) for bad in again.bad] == [(column, "bring.other_content")]


def test_every_bad_row_is_named_by_line_column_value_and_reason_and_nothing_is_taken(brings: Brings) -> None:
    brings("tools", TOOLS)
    text = SHOTS + "T-9,2024-03-04 22:00,100,P1,ABS\nT-1,yesterday,1x,P1,ABS\n"
    brought = brings("shots", text)
    assert {(bad.line, bad.column, bad.value) for bad in brought.bad} == {
        (4, "tool", "T-9"),
        (5, "at", "yesterday"),
        (5, "shots", "1x"),
    }
    assert all(bad.reason.template for bad in brought.bad)
    assert brought.refused
    assert not ShotEntry.objects.exists()


def test_good_rows_are_taken_where_that_was_asked_for(brings: Brings) -> None:
    brings("tools", TOOLS)
    brought = brings("shots", SHOTS + "T-9,2024-03-04 22:00,100,P1,ABS\n", good_rows=True)
    assert (brought.taken, len(brought.bad), ShotEntry.objects.count()) == (2, 1, 2)


def test_a_counter_that_falls_is_a_question_in_a_file_too(brings: Brings) -> None:
    brings("tools", TOOLS)
    text = "tool,at,counter,source,answer\n"
    text += "T-1,2024-03-02 22:00,900,mould counter,shots.first_counter=count_from_zero\n"
    text += "T-1,2024-03-03 22:00,40,mould counter,{answer}\n"
    brought = brings("shots", text.format(answer=""))
    assert [(bad.line, bad.column, bad.reason.code) for bad in brought.bad] == [(3, "counter", "shots.counter_fell")]
    brings("shots", text.format(answer="shots.counter_fell=new_job"))
    assert WorkedShots.objects.get(entry__counter=40).total == 940


def test_a_late_row_finds_its_place(brings: Brings) -> None:
    brings("tools", TOOLS)
    brings("shots", SHOTS)
    brings("shots", "tool,at,shots,press\nT-1,2024-03-02 12:00,500,P1\n")
    assert list(WorkedShots.objects.order_by("at").values_list("total", flat=True)) == [500, 4500, 9500]


def test_unknown_columns_are_named_with_the_known_ones(brings: Brings) -> None:
    with pytest.raises(Refused, match="Unknown columns: weather") as refused:
        brings("shots", "tool,at,shots,weather\nT-1,2024-03-02,1,rain\n")
    assert "blocked" in refused.value.values["known"]


def test_a_name_that_is_new_is_asked_about(brings: Brings) -> None:
    brings("tools", TOOLS)
    brought = brings("shots", SHOTS, new_names=False)
    assert {(bad.column, bad.reason.code) for bad in brought.bad} == {
        ("press", "bring.not_known"),
        ("resin", "bring.not_known"),
    }


def test_what_a_service_refuses_is_the_fault_of_its_row(brings: Brings) -> None:
    brought = brings(
        "tools",
        TOOLS.replace(
            "B-2;Ra;replica;0,15;um;2024-03-01 08:00;gate", "B-9;Ra;replica;0,15;um;2024-03-01 08:00;gate", 1
        ),
    )
    assert [bad.line for bad in brought.bad] == [2]
    assert not Tool.objects.exists()
