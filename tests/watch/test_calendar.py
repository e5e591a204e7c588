"""The calendar of a tool: planned runs date its faces, and a gap in the press is named as the window."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shop import loop
from shop.press.services import runs
from shop.watch.calendar import calendars_of
from shop.watch.models import Standing
from tests.measuring import Shop
from tests.watch.conftest import wear

DAY = timedelta(days=1)


def plan(shop: Shop, number: str, shots: int, first: float, last: float) -> None:
    loop.run_planned(
        tool=shop.tool, shots=shots, starts_at=shop.day(first), ends_at=shop.day(last), order_number=number,
        by=shop.press_tech, at=shop.day(8),
    )  # fmt: skip


def standing(shop: Shop) -> Standing:
    return Standing.objects.get(face=shop.face)


def test_more_shots_that_are_planned_bring_the_date_nearer(satin_shop: Shop) -> None:
    shop = satin_shop
    wear(shop, [2.5, 2.58, 2.7, 2.78, 2.9])
    loop.brought_up_to_date([shop.face.pk], at=shop.day(8))
    at_the_recent_rate = standing(shop).due_on
    plan(shop, "B-1", 200_000, 10, 30)
    assert at_the_recent_rate is not None
    due = standing(shop).due_on
    assert due is not None
    assert shop.day(10).date() < due < at_the_recent_rate


def test_gap_before_the_date_is_the_natural_window(satin_shop: Shop) -> None:
    shop = satin_shop
    wear(shop, [2.5, 2.58, 2.7, 2.78, 2.9])
    loop.brought_up_to_date([shop.face.pk], at=shop.day(8))
    plan(shop, "B-1", 10_000, 9, 20)
    plan(shop, "B-2", 200_000, 26, 60)
    stands = standing(shop)
    assert stands.due_on is not None
    assert stands.due_on > shop.day(26).date()
    assert (stands.window_from, stands.window_to) == (shop.day(20).date(), shop.day(26).date())


def test_window_that_leaves_no_time_to_prepare_is_named_as_too_soon(satin_shop: Shop) -> None:
    shop = satin_shop
    wear(shop, [2.5, 2.58, 2.7, 2.78, 2.9])
    loop.brought_up_to_date([shop.face.pk], at=shop.day(8))
    runs.end_run(run=shop.tool.runs.get(), by=shop.press_tech, at=shop.day(7))
    plan(shop, "B-1", 200_000, 13, 60)
    calendar = calendars_of([shop.tool], shop.day(8))[shop.tool.pk]
    window = calendar.window_before(standing(shop).due_on, lead_days=30)
    assert window is not None
    assert window.why.code == "window.too_soon"


def test_of_an_order_that_runs_only_what_is_left_is_ahead(satin_shop: Shop) -> None:
    shop = satin_shop
    run = shop.tool.runs.get()
    runs.end_run(run=run, by=shop.press_tech, at=shop.day(1))
    runs.start_run(tool=shop.tool, press=shop.press, order_number="B-1", by=shop.press_tech, at=shop.day(8.1))
    plan(shop, "B-1", 10_000, 8, 18)
    shop.shoot(9, 4_000)
    calendar = calendars_of([shop.tool], shop.day(9.5))[shop.tool.pk]
    assert float(calendar.coming.shots_by(30.0).min()) == pytest.approx(6_000, rel=0.6)
    assert float(calendar.coming.shots_by(8.5)[0]) == pytest.approx(6_000)


def test_cancelled_run_makes_no_shots(satin_shop: Shop) -> None:
    shop = satin_shop
    plan(shop, "B-1", 10_000, 9, 20)
    loop.planned_run_cancelled(run=shop.tool.planned_runs.get(), why="moved", by=shop.press_tech, at=shop.day(8.5))
    calendar = calendars_of([shop.tool], shop.day(8.6))[shop.tool.pk]
    assert float(calendar.coming.shots_by(20.0)[-1]) == 0


def test_tool_that_runs_unplanned_is_not_free_before_its_order_is_done(satin_shop: Shop) -> None:
    shop = satin_shop
    run = shop.tool.runs.get()
    runs.end_run(run=run, by=shop.press_tech, at=shop.day(1))
    runs.start_run(
        tool=shop.tool, press=shop.press, order_number="A-9", order_shots=20_000, by=shop.press_tech, at=shop.day(1.1)
    )
    for day in range(2, 30):
        shop.shoot(day, 500)
    loop.run_planned(
        tool=shop.tool, shots=10_000, starts_at=shop.day(50), ends_at=shop.day(60), order_number="B-1",
        by=shop.press_tech, at=shop.day(30),
    )  # fmt: skip
    calendar = calendars_of([shop.tool], shop.day(30))[shop.tool.pk]
    # 6,000 are left of it, at 500 a day: twelve days, then the gap until the planned run.
    assert [(gap.first, gap.last) for gap in calendar.windows(shop.day(50).date())] == [
        (shop.day(42).date(), shop.day(50).date())
    ]
