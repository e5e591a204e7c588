"""A plant starts from files: its presses and its gauges come before its tools."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal

import pytest

from shop.bring.answer import Brought
from shop.bring.service import bring
from shop.ledger.models import Change
from shop.people.models import Person
from shop.press.models import Press
from shop.quality.models import Calibration, Gauge, Reading, Verdict
from shop.refusal import Refused
from tests.bring.shop_files import READINGS, SHOTS, TOOLS

PRESSES = "name;most shots per hour;counter digits\nP1;3600;6\nP2;;\n"
HEAD = "number,kind,serial,resolution,place,calibrated at,due on,expanded a,expanded b,coverage k,certificate,passed\n"
GAUGES = HEAD + (
    "G-1,stylus,S-9,0.001,bench,2024-01-10 09:00,2025-01-10,0.004,0.03,2,C-1,yes\n"
    "G-1,,,,,2023-01-12,12.01.2024,0.005,,,C-0,no\n"
    "G-2,glossmeter,,0.1,,,,,,,,\n"
)
Brings = Callable[..., Brought]


@pytest.fixture
def starts(lead: Person, later: datetime) -> Brings:
    """Bring a file into a plant that has nothing yet."""

    def starting(kind: str, text: str, **more: bool) -> Brought:
        return bring(kind, text.encode(), plant=lead.plant, by=lead, at=later, **more)

    return starting


def test_presses_come_with_their_speed_and_their_counters(starts: Brings, lead: Person) -> None:
    brought = starts("presses", PRESSES)
    assert (brought.taken, brought.bad) == (2, [])
    rows = Press.objects.values_list("name", "most_shots_per_hour", "counter_digits", "plant")
    assert list(rows) == [("P1", 3600, 6, lead.plant_id), ("P2", 720, 7, lead.plant_id)]
    assert set(Change.objects.filter(room="press.press").values_list("new", "by")) == {("P1", lead.pk), ("P2", lead.pk)}


def test_gauges_come_with_their_calibrations(starts: Brings) -> None:
    brought = starts("gauges", GAUGES)
    assert (brought.taken, brought.bad) == (3, [])
    assert list(Gauge.objects.values_list("number", "kind", "serial", "place")) == [
        ("G-1", "stylus", "S-9", "bench"),
        ("G-2", "glossmeter", "", ""),
    ]
    rows = Calibration.objects.order_by("at").values_list(
        "gauge__number", "at__date", "due_on", "expanded_a", "expanded_b", "coverage_k", "passed", "certificate"
    )
    assert [(number, str(at), str(due), *rest) for number, at, due, *rest in rows] == [
        ("G-1", "2023-01-11", "2024-01-12", Decimal("0.005"), 0, 2, False, "C-0"),
        ("G-1", "2024-01-10", "2025-01-10", Decimal("0.004"), Decimal("0.03"), 2, True, "C-1"),
    ]


@pytest.mark.parametrize(("kind", "text", "rows"), [("presses", PRESSES, 2), ("gauges", GAUGES, 3)])
def test_the_same_file_twice_changes_nothing(starts: Brings, kind: str, text: str, rows: int) -> None:
    starts(kind, text)
    before = Press.objects.count(), Gauge.objects.count(), Calibration.objects.count(), Change.objects.count()
    again = starts(kind, text)
    assert (again.taken, again.known, again.bad) == (0, rows, [])
    assert (Press.objects.count(), Gauge.objects.count(), Calibration.objects.count(), Change.objects.count()) == before


@pytest.mark.parametrize(
    ("kind", "text", "changed", "column", "code"),
    [
        ("presses", PRESSES, PRESSES.replace("3600", "900"), "name", "bring.other_content"),
        ("gauges", GAUGES, GAUGES.replace("0.004", "0.006"), "number", "bring.other_content"),
        ("gauges", GAUGES, HEAD + "G-2,stylus,,,,2024-01-10,2025-01-10,0.004,,,,\n", "kind", "bring.is_there"),
    ],
)
def test_a_row_that_says_otherwise_later_is_reported_and_changes_nothing(
    starts: Brings, kind: str, text: str, changed: str, column: str, code: str
) -> None:
    starts(kind, text)
    again = starts(kind, changed)
    assert (again.taken, [(bad.column, bad.reason.code) for bad in again.bad]) == (0, [(column, code)])


def test_next_years_calibration_is_a_row_more(starts: Brings) -> None:
    starts("gauges", GAUGES)
    brought = starts("gauges", GAUGES + "G-2,,,,,2024-02-01,2025-02-01,0.2,,,C-7,\n")
    assert (brought.taken, brought.known, brought.bad) == (1, 3, [])
    assert Calibration.objects.get(gauge__number="G-2").certificate == "C-7"


def test_a_press_entered_by_hand_is_known_where_the_file_agrees(starts: Brings, lead: Person, at: datetime) -> None:
    Press.objects.create(plant=lead.plant, name="P1", most_shots_per_hour=3600, counter_digits=6)
    brought = starts("presses", PRESSES)
    assert (brought.taken, brought.known, brought.bad) == (1, 1, [])
    differs = starts("presses", "name,counter digits\nP2,5\n")
    assert [(bad.column, bad.value, bad.reason.code) for bad in differs.bad] == [("name", "P2", "bring.other_content")]


@pytest.mark.parametrize(
    ("row", "column", "code"),
    [
        ("G-9,,,,,,,,,,,", "kind", "bring.empty"),
        ("G-9,caliper,,0.1,,,,,,,,", "kind", "bring.not_one_of"),
        ("G-9,stylus,,0,,,,,,,,", "resolution", "gauge.resolution_not_positive"),
        ("G-9,stylus,,0.1,,2024-01-10,,0.004,,,,", "due on", "bring.empty"),
        ("G-9,stylus,,0.1,,2024-01-10,2025-01-10,,,,,", "expanded a", "bring.empty"),
        ("G-9,stylus,,0.1,,2024-01-10,2023-01-10,0.004,,,,", "due on", "calibration.due_before_done"),
        ("G-9,stylus,,0.1,,2999-01-10,2999-02-10,0.004,,,,", "calibrated at", "calibration.in_future"),
        ("G-9,stylus,,0.1,,,2025-01-10,,,,,", "due on", "bring.not_calibrated"),
        ("G-1,,,,,2024-01-10 09:00,2025-01-10,0.004,,,,", "number", "bring.row_twice"),
    ],
)
def test_a_gauge_that_cannot_be_is_named_and_nothing_is_taken_but_by_wish(
    starts: Brings, row: str, column: str, code: str
) -> None:
    brought = starts("gauges", GAUGES + row + "\n")
    assert (5, column, code) in {(bad.line, bad.column, bad.reason.code) for bad in brought.bad}
    assert brought.refused
    assert not Gauge.objects.exists()
    assert starts("gauges", GAUGES + row + "\n", good_rows=True).taken == 3
    assert Gauge.objects.count() == 2


def test_unknown_columns_are_named(starts: Brings) -> None:
    with pytest.raises(Refused) as refused:
        starts("presses", "name,tonnage\nP1,80\n")
    assert refused.value.code == "bring.unknown_column"
    assert refused.value.values["unknown"] == "tonnage"


def test_a_plant_starts_from_files_alone(starts: Brings) -> None:
    files = {"presses": PRESSES, "gauges": GAUGES, "tools": TOOLS, "shots": SHOTS, "readings": READINGS}
    for kind, text in files.items():
        assert starts(kind, text, new_names=True).bad == [], kind
    assert Reading.objects.count() == Verdict.objects.count() == 2
