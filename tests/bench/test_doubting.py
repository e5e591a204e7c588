"""No signature rests on what an unfit gauge read before it is decided about."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop.bench.models import WorkOrder
from shop.bench.services import passing
from shop.bench.states import State
from shop.people.models import Person
from shop.quality.models import Gauge, Reading, UnfitFinding
from shop.quality.services import gauges, unfit
from shop.refusal import Refused
from tests.bench.orders import Hands, check, faces_of, order_at, state_of
from tests.factories import Built

HOUR = timedelta(hours=1)


def refusal(service: Any, **given: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        service(**given)
    return refused.value


def unfit_at(kind: str, by: Person, at: datetime) -> UnfitFinding:
    return unfit.find_unfit(gauge=Gauge.objects.get(number=f"G-{kind}"), why="dropped", by=by, at=at)


def decide(finding: UnfitFinding, reading: Reading, decision: str, by: Person, at: datetime) -> None:
    unfit.decide(finding=finding, reading=reading, decision=decision, reason="seen", by=by, at=at)


@pytest.fixture
def parts(built: Built, hands: Hands, at: datetime) -> WorkOrder:
    """An order of one face whose steel has passed."""
    return order_at(State.PARTS_CHECK, [built.face], hands, at)


def measured(order: WorkOrder, hands: Hands, at: datetime, value: str = "3.0") -> Reading:
    made = check(order.tool, "parts check", dict.fromkeys(faces_of(order), value), hands.inspector, at)
    found: Reading = made.readings.get()
    return found


def test_steel_does_not_pass_on_a_reading_in_doubt_until_it_is_said_to_stand(
    built: Built, hands: Hands, at: datetime
) -> None:
    order = order_at(State.STEEL_CHECK, [built.face], hands, at)
    reading = check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at + HOUR).readings.get()
    finding = unfit_at("stylus", hands.inspector, at + 2 * HOUR)
    signs = {"order": order, "passed": True, "by": hands.inspector, "at": at + 3 * HOUR}
    refused = refusal(passing.pass_steel, **signs)
    assert refused.code == "pass.in_doubt"
    assert "gauge G-stylus was found unfit" in refused.plain()
    decide(finding, reading, "measure again", hands.inspector, at + 2 * HOUR)
    again = refusal(passing.pass_steel, **signs)
    assert (again.code, "is to be measured again" in again.plain()) == ("pass.in_doubt", True)
    unfit.decide(
        finding=finding, reading=reading, decision="stands", reason="far inside", why="the lab says 0.01 off",
        by=hands.inspector, at=at + 2 * HOUR,
    )  # fmt: skip
    assert passing.pass_steel(**signs).passed


def test_steel_that_failed_may_be_sent_back_whatever_the_gauge(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.STEEL_CHECK, [built.face], hands, at)
    check(built.tool, "steel check", {built.face: "0.9"}, hands.inspector, at + HOUR)
    unfit_at("stylus", hands.inspector, at + 2 * HOUR)
    passing.pass_steel(order=order, passed=False, why="marks", by=hands.inspector, at=at + 3 * HOUR)
    assert state_of(order) == State.ON_THE_BENCH


def test_parts_do_not_pass_on_a_reading_in_doubt(parts: WorkOrder, hands: Hands, at: datetime) -> None:
    measured(parts, hands, at + HOUR)
    unfit_at("glossmeter", hands.inspector, at + 2 * HOUR)
    signs = {"order": parts, "passed": True, "by": hands.inspector, "at": at + 3 * HOUR}
    assert refusal(passing.pass_parts, **signs).code == "pass.in_doubt"


@pytest.mark.parametrize(("kind", "stage"), [("glossmeter", "part"), ("stylus", "steel")])
def test_release_waits_for_the_decision_on_what_was_signed(
    parts: WorkOrder, hands: Hands, at: datetime, kind: str, stage: str
) -> None:
    measured(parts, hands, at + HOUR)
    passing.pass_parts(order=parts, passed=True, by=hands.inspector, at=at + HOUR)
    finding = unfit_at(kind, hands.inspector, at + 2 * HOUR)
    release = {"order": parts, "by": hands.inspector, "at": at + 3 * HOUR}
    assert refusal(passing.release, **release).code == "pass.in_doubt"
    assert state_of(parts) == State.PARTS_CHECK
    decide(finding, Reading.objects.get(where=stage), "stands", hands.inspector, at + 2 * HOUR)
    passing.release(**release)
    assert state_of(parts) == State.RELEASED


def test_release_on_a_withdrawn_reading_is_refused_until_it_is_measured_again(
    parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    reading = measured(parts, hands, at + HOUR)
    passing.pass_parts(order=parts, passed=True, by=hands.inspector, at=at + HOUR)
    finding = unfit_at("glossmeter", hands.inspector, at + 2 * HOUR)
    decide(finding, reading, "withdraw", hands.inspector, at + 2 * HOUR)
    release = {"order": parts, "by": hands.inspector, "at": at + 5 * HOUR}
    refused = refusal(passing.release, **release)
    assert refused.code == "release.withdrawn"
    assert str(reading.face) in refused.plain()
    gauges.calibrate(
        gauge=finding.gauge, due_on=(at + timedelta(days=99)).date(), expanded_a=Decimal("0.1"), by=hands.inspector,
        at=at + 3 * HOUR,
    )  # fmt: skip
    measured(parts, hands, at + 4 * HOUR)
    passing.release(**release)
    assert state_of(parts) == State.RELEASED


def test_release_is_refused_where_it_was_read_off_spec_since_it_was_signed(
    parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    measured(parts, hands, at + HOUR)
    passing.pass_parts(order=parts, passed=True, by=hands.inspector, at=at + HOUR)
    measured(parts, hands, at + 2 * HOUR, "4.6")
    refused = refusal(passing.release, order=parts, by=hands.inspector, at=at + 3 * HOUR)
    assert refused.code == "release.off_spec"
    assert state_of(parts) == State.PARTS_CHECK
    measured(parts, hands, at + 4 * HOUR, "3.1")
    passing.release(order=parts, by=hands.inspector, at=at + 5 * HOUR)


def test_doubt_about_a_gauge_that_was_not_used_stops_nothing(parts: WorkOrder, hands: Hands, at: datetime) -> None:
    from tests.bench.orders import gauge

    other = gauge(hands.inspector, at, "optical")
    measured(parts, hands, at + HOUR)
    passing.pass_parts(order=parts, passed=True, by=hands.inspector, at=at + HOUR)
    unfit.find_unfit(gauge=other, why="dropped", by=hands.inspector, at=at + 2 * HOUR)
    passing.release(order=parts, by=hands.inspector, at=at + 3 * HOUR)
