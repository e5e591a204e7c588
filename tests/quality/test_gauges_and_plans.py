"""Gauges, calibrations and the inspection plan."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shop.ledger.models import Change
from shop.quality.models import Calibration, Gauge, PlanItem
from shop.quality.services import gauges, plans
from shop.refusal import Refused
from tests.measuring import Shop


def test_gauge_takes_its_state_from_its_latest_calibration(shop: Shop) -> None:
    due_on = shop.day(400).date()
    gauges.calibrate(
        gauge=shop.gloss, due_on=due_on, expanded_a=Decimal("0.3"), passed=False, by=shop.inspector, at=shop.day(40)
    )
    known = Gauge.objects.with_due_date(shop.day(41)).get(pk=shop.gloss.pk)
    before = Gauge.objects.with_due_date(shop.day(39)).get(pk=shop.gloss.pk)
    assert (known.passed, known.due_on) == (False, due_on)
    assert before.passed


@pytest.mark.parametrize(
    ("field", "value", "code"),
    [
        ("due_on", -1, "calibration.due_before_done"),
        ("expanded_a", Decimal(-1), "calibration.uncertainty_impossible"),
        ("coverage_k", Decimal(0), "calibration.uncertainty_impossible"),
    ],
)  # fmt: skip
def test_calibration_that_cannot_be_is_refused(shop: Shop, field: str, value: object, code: str) -> None:
    given = {"due_on": shop.day(100).date(), "expanded_a": Decimal("0.1"), "coverage_k": Decimal(2)}
    given[field] = shop.day(-1).date() if field == "due_on" else value
    with pytest.raises(Refused) as caught:
        gauges.calibrate(gauge=shop.gloss, by=shop.inspector, at=shop.day(1), **given)  # type: ignore[arg-type]
    assert caught.value.code == code
    assert Calibration.objects.filter(gauge=shop.gloss).count() == 1


def test_gauge_number_is_taken_once_and_its_resolution_is_above_zero(shop: Shop) -> None:
    for number, resolution, code in (
        ("G-1", "0.1", "gauge.number_taken"),
        ("G-2", "0", "gauge.resolution_not_positive"),
    ):
        with pytest.raises(Refused) as caught:
            gauges.add_gauge(
                plant=shop.lead.plant, number=number, kind="glossmeter", resolution=Decimal(resolution), by=shop.lead,
                at=shop.start,
            )  # fmt: skip
        assert caught.value.code == code


def test_retired_gauge_is_out_of_use_once(shop: Shop) -> None:
    gauges.retire_gauge(gauge=shop.gloss, by=shop.lead, at=shop.day(1), why="dropped")
    assert shop.gloss not in Gauge.objects.in_use(shop.lead.plant)
    assert Change.objects.filter(room="quality.gauge", field="retired_at", why="dropped").exists()
    with pytest.raises(Refused) as caught:
        gauges.retire_gauge(gauge=shop.gloss, by=shop.lead, at=shop.day(2))
    assert caught.value.code == "gauge.retired_already"


def test_planning_again_ends_the_item_before(shop: Shop) -> None:
    first = plan(shop, every_shots=5000)
    second = plan(shop, every_days=30)
    first.refresh_from_db()
    assert first.ended_at == shop.day(1)
    assert list(PlanItem.objects.in_force()) == [second]
    plans.end(item=second, by=shop.lead, at=shop.day(2))
    assert not PlanItem.objects.in_force().exists()


def plan(shop: Shop, **given: object) -> PlanItem:
    defaults = {"face": shop.face, "parameter": "gloss", "where": "part", "by": shop.lead, "at": shop.day(1)}
    return plans.plan(**{**defaults, **given})  # type: ignore[arg-type]


def test_plan_that_says_no_when_or_no_where_is_refused(shop: Shop) -> None:
    from tests.factories import build_tool

    other = build_tool(shop.lead, shop.start).face
    for given, code in (
        ({}, "plan.how_often"),
        ({"every_days": 7, "where": "steel"}, "reading.gloss_is_read_on_the_part"),
        ({"every_days": 7, "spot": shop.spot("gate", other)}, "plan.spot_elsewhere"),
    ):
        with pytest.raises(Refused) as caught:
            plan(shop, **given)
        assert caught.value.code == code
