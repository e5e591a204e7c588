"""A gauge that was found unfit: how far the doubt reaches, one decision on each reading, and what follows from it."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from shop import loop
from shop.quality import doubt, due
from shop.quality.models import Calibration, Reading, TileCheck, UnfitDecision, UnfitFinding, Verdict
from shop.quality.services import gauges, plans, unfit
from shop.refusal import Refused
from shop.watch.models import Standing, Trend
from tests.factories import satin
from tests.measuring import Shop, open_shop
from tests.quality.test_constraints import breaks, copy_of


def found(shop: Shop, day: float, **given: Any) -> UnfitFinding:
    at = shop.day(day)
    return unfit.find_unfit(**{"gauge": shop.gloss, "why": "dropped", "by": shop.inspector, "at": at, **given})


def decided(
    shop: Shop, finding: UnfitFinding, reading: Reading, decision: str, day: float, **given: Any
) -> UnfitDecision:
    return unfit.decide(
        **{"finding": finding, "reading": reading, "decision": decision, "reason": "holds by far", "by": shop.inspector,
           "at": shop.day(day), **given}
    )  # fmt: skip


def refusal(service: Any, *args: Any, **given: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        service(*args, **given)
    return refused.value


def calibrated(shop: Shop, day: float, *, passed: bool) -> Calibration:
    return gauges.calibrate(
        gauge=shop.gloss, due_on=shop.day(day + 365).date(), expanded_a=Decimal("0.2"), passed=passed,
        by=shop.inspector, at=shop.day(day),
    )  # fmt: skip


def tile(shop: Shop, day: float, outcome: str) -> TileCheck:
    return TileCheck.objects.create(
        gauge=shop.gloss, tile="T1", unit="GU", value=Decimal("92.9"), tile_value=Decimal("93.4"),
        tile_expanded=Decimal("0.3"), limit=Decimal("0.5"), outcome=outcome, by=shop.inspector, at=shop.day(day),
    )  # fmt: skip


def listed(finding: UnfitFinding) -> list[Decimal]:
    rows = doubt.readings_of(finding, doubt.spans([finding])[finding.pk])
    return [reading.value.normalize() for reading in rows.order_by("at", "id")]


# How far it reaches


def test_doubt_reaches_back_to_the_last_good_check_and_no_further(satin_shop: Shop) -> None:
    shop = satin_shop
    for day, value in ((1, "3.1"), (3, "3.2"), (5, "3.3")):
        shop.read(day, value)
    tile(shop, 2, "good")
    tile(shop, 4, "look again")
    finding = found(shop, 6)
    assert finding.last_good_at == shop.day(2)
    assert listed(finding) == [Decimal("3.2"), Decimal("3.3")]


def test_doubt_without_any_good_check_reaches_every_reading(shop: Shop) -> None:
    gauge = gauges.add_gauge(
        plant=shop.lead.plant, number="G-9", kind="glossmeter", resolution=Decimal("0.1"), by=shop.inspector,
        at=shop.start,
    )  # fmt: skip
    satin(shop.face, shop.lead, shop.start)
    shop.read(1, "3.0", gauge=gauge)
    shop.read(2, "3.1")
    finding = found(shop, 3, gauge=gauge)
    assert finding.last_good_at is None
    assert listed(finding) == [Decimal(3)]


def test_what_an_unfit_gauge_reads_on_is_in_doubt_until_it_is_seen_to_be_right(satin_shop: Shop) -> None:
    shop = satin_shop
    finding = found(shop, 1)
    shop.read(2, "3.1")
    shop.read(4, "3.2")
    assert listed(finding) == [Decimal("3.1"), Decimal("3.2")]
    calibrated(shop, 3, passed=True)
    assert listed(finding) == [Decimal("3.1")]


def test_reading_that_was_put_right_before_is_listed_as_it_stands(satin_shop: Shop) -> None:
    from shop.quality.services import inspections

    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    inspections.correct(reading=reading, value=Decimal("3.4"), why="misread", by=shop.inspector, at=shop.day(2))
    assert listed(found(shop, 3)) == [Decimal("3.4")]


def test_failed_calibration_and_unfit_tile_open_a_finding_and_good_ones_none(satin_shop: Shop) -> None:
    shop = satin_shop
    failed = calibrated(shop, 3, passed=False)
    finding = UnfitFinding.objects.filter(calibration=failed).first() or unfit.after_calibration(
        calibration=failed, by=shop.inspector
    )
    assert finding is not None
    assert (finding.calibration, finding.last_good_at, finding.at) == (failed, shop.start, shop.day(3))
    off = tile(shop, 4, "unfit")
    by_tile = unfit.after_tile_check(tile_check=off, by=shop.inspector)
    assert by_tile is not None
    assert by_tile.tile_check == off
    assert unfit.after_calibration(calibration=calibrated(shop, 5, passed=True), by=shop.inspector) is None
    assert unfit.after_tile_check(tile_check=tile(shop, 6, "good"), by=shop.inspector) is None


def test_finding_wants_a_reason_and_a_check_that_speaks_against_the_gauge(satin_shop: Shop) -> None:
    shop = satin_shop
    assert refusal(found, shop, 1, why=" ").code == "unfit.why_wanted"
    good = Calibration.objects.get(gauge=shop.gloss)
    assert refusal(found, shop, 1, calibration=good).code == "unfit.check_says_otherwise"
    assert refusal(found, shop, 1, tile_check=tile(shop, 1, "look again")).code == "unfit.check_says_otherwise"
    other = Calibration.objects.get(gauge=shop.stylus)
    assert refusal(found, shop, 1, calibration=other).code == "unfit.check_says_otherwise"
    ahead = {"at": timezone.now() + timedelta(days=2)}
    assert refusal(found, shop, 1, **ahead).code == "inspection.in_future"
    assert not UnfitFinding.objects.exists()


def test_finding_sent_twice_is_one(satin_shop: Shop) -> None:
    ref = uuid.uuid4()
    assert found(satin_shop, 1, ref=ref) == found(satin_shop, 1, ref=ref)
    assert UnfitFinding.objects.count() == 1


# The decisions


def test_undecided_reading_puts_its_verdict_in_doubt_and_a_decision_settles_it(satin_shop: Shop) -> None:
    shop = satin_shop
    verdict = shop.read(1, "3.0")
    assert verdict is not None
    assert doubt.verdicts_in_doubt([verdict]) == {}
    finding = found(shop, 2)
    (one,) = doubt.verdicts_in_doubt([verdict])[verdict.pk]
    assert (one.finding, one.decision) == (finding, None)
    decided(shop, finding, one.reading, "stands", 3)
    assert doubt.verdicts_in_doubt([verdict]) == {}


def test_decision_wants_a_reason_and_a_reading_that_is_in_doubt(satin_shop: Shop) -> None:
    shop = satin_shop
    early = shop.reading(shop.take(1, shop.draft("3.0")))
    tile(shop, 2, "good")
    late = shop.reading(shop.take(3, shop.draft("3.1")))
    by_another = shop.reading(shop.take(3, shop.draft("0.4", parameter="Ra")))
    finding = found(shop, 4)
    assert refusal(decided, shop, finding, late, "stands", 5, reason=" ").code == "unfit.reason_wanted"
    for reading in (early, by_another):
        assert refusal(decided, shop, finding, reading, "stands", 5).code == "unfit.not_in_doubt"
    given = {"finding": finding, "decision": "stands", "reason": "x", "by": shop.inspector, "at": shop.day(5)}
    none = refusal(unfit.decide_many, readings=[], **given)
    assert none.code == "unfit.none_chosen"
    assert not UnfitDecision.objects.exists()


def test_decision_is_changed_by_one_that_says_why_and_both_stay(satin_shop: Shop) -> None:
    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    finding = found(shop, 2)
    first = decided(shop, finding, reading, "stands", 3)
    assert refusal(decided, shop, finding, reading, "measure again", 4).code == "unfit.change_wants_why"
    assert refusal(decided, shop, finding, reading, "stands", 4, why="sure").code == "unfit.same_again"
    second = decided(shop, finding, reading, "measure again", 4, why="the customer asks")
    assert (second.supersedes, second.why) == (first, "the customer asks")
    assert doubt.decisions_on([reading.pk]) == {reading.pk: second}


def test_withdrawn_reading_is_taken_back_and_stays_so(satin_shop: Shop) -> None:
    shop = satin_shop
    inspection = shop.take(1, shop.draft("3.0"), shop.draft("4.6"))
    good, bad = Reading.objects.filter(inspection=inspection).order_by("id")
    verdict = Verdict.objects.get()
    finding = found(shop, 2)
    decided(shop, finding, bad, "withdraw", 3)
    assert list(Reading.objects.in_force()) == [good]
    again = Verdict.objects.in_force().get()
    assert (again.supersedes, again.count, again.statistic) == (verdict, 1, Decimal("3.00000"))
    assert refusal(decided, shop, finding, bad, "stands", 4, why="after all").code == "unfit.withdrawn_stays"
    assert listed(finding) == [Decimal(3), Decimal("4.6")]


def test_reading_put_right_meanwhile_is_decided_as_it_stands_now(satin_shop: Shop) -> None:
    from shop.quality.services import inspections

    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    finding = found(shop, 2)
    now = inspections.correct(reading=reading, value=Decimal("3.4"), why="misread", by=shop.inspector, at=shop.day(3))
    assert refusal(decided, shop, finding, reading, "stands", 4).code == "unfit.put_right_since"
    decided(shop, finding, now, "stands", 4)


def test_later_finding_of_the_same_gauge_takes_over_what_was_decided(satin_shop: Shop) -> None:
    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    first = decided(shop, found(shop, 2), reading, "stands", 3)
    later = found(shop, 4)
    assert doubt.doubts([reading])[reading.pk].decision == first
    changed = decided(shop, later, reading, "withdraw", 5, why="off by more than was thought")
    assert changed.finding == first.finding


def test_withdrawn_reading_leaves_trend_and_standing(shop: Shop) -> None:
    satin(shop.face, shop.lead, shop.start)
    for day, value in enumerate(("2.6", "2.8", "3.0", "4.8"), start=1):
        shop.shoot(day, 1000)
        shop.take(day + 0.1, shop.draft(value))
    loop.brought_up_to_date([shop.face.pk], at=shop.day(5))
    assert (Trend.objects.get().count, Standing.objects.get(face=shop.face).state) == (4, "off spec")
    off = Reading.objects.latest("at")
    given = {"decision": "withdraw", "reason": "read 1.5 high", "by": shop.inspector, "at": shop.day(6)}
    loop.unfit_decided(finding=found(shop, 5), readings=[off], **given)
    assert (Trend.objects.get().count, Trend.objects.get().last_value) == (3, 3.0)
    assert Standing.objects.get(face=shop.face).state != "off spec"


def test_several_readings_are_decided_at_once_or_not_at_all(satin_shop: Shop) -> None:
    shop = satin_shop
    early = shop.reading(shop.take(1, shop.draft("3.0")))
    tile(shop, 2, "good")
    late = shop.reading(shop.take(3, shop.draft("3.1")))
    finding = found(shop, 4)
    ref = uuid.uuid4()
    given = {"finding": finding, "decision": "stands", "reason": "far inside", "by": shop.inspector, "at": shop.day(5)}
    assert refusal(unfit.decide_many, readings=[late, early], **given).code == "unfit.not_in_doubt"
    assert not UnfitDecision.objects.exists()
    once = unfit.decide_many(readings=[late], ref=ref, **given)
    assert unfit.decide_many(readings=[late], ref=ref, **given) == once


# Measure again


def test_what_is_measured_again_is_due_until_a_fit_gauge_has_read_it(satin_shop: Shop) -> None:
    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    finding = found(shop, 2)
    assert due.today(shop.lead.plant, shop.day(2.5)) == []
    decided(shop, finding, reading, "measure again", 3)
    (item,) = due.today(shop.lead.plant, shop.day(4))
    assert (item.face, item.spot, item.reason.code) == (shop.face, shop.gate, "due.again")
    assert (item.lower, item.upper) == (Decimal(2), Decimal(4))
    shop.take(5, shop.draft("3.1"))
    assert len(due.for_face(shop.face, shop.day(5.5))) == 1, "the unfit gauge itself does not settle it"
    calibrated(shop, 6, passed=True)
    shop.take(7, shop.draft("3.1", spot=shop.spot("end of fill")))
    assert len(due.for_face(shop.face, shop.day(7.5))) == 1, "another spot does not settle it"
    shop.take(8, shop.draft("3.1"))
    assert due.for_face(shop.face, shop.day(9)) == []


def test_what_is_planned_and_measured_again_is_due_once(satin_shop: Shop) -> None:
    shop = satin_shop
    plans.plan(
        face=shop.face, parameter="gloss", where="part", spot=shop.gate, every_days=1, by=shop.lead, at=shop.start
    )
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    shop.shoot(2, 100)
    decided(shop, found(shop, 2), reading, "measure again", 3)
    assert [item.reason.code for item in due.today(shop.lead.plant, shop.day(9))] == ["due.again"]


def test_what_was_to_be_measured_again_lapses_with_the_finish(satin_shop: Shop) -> None:
    from shop.tooling.services import faces

    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    decided(shop, found(shop, 2), reading, "measure again", 3)
    faces.end_life(face=shop.face, ended_by="full refinish", by=shop.lead, at=shop.day(4))
    faces.begin_life(face=shop.face, began_by="full refinish", by=shop.lead, at=shop.day(5))
    assert due.today(shop.lead.plant, shop.day(6)) == []


# The database


def test_finding_and_decision_that_must_not_be_are_refused(satin_shop: Shop) -> None:
    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    finding = found(shop, 2)
    decision = decided(shop, finding, reading, "stands", 3)
    breaks("finding_says_why", copy_of(finding, why=""))
    breaks("unfit_decision_has_reason", copy_of(decision, reason=""))
    breaks("unfit_decision_once", copy_of(decision))
    breaks("unfit_decision_says_why", copy_of(decision, supersedes_id=decision.pk, why=""))


@pytest.mark.parametrize("model", [UnfitFinding, UnfitDecision])
def test_findings_and_decisions_are_neither_altered_nor_deleted(satin_shop: Shop, model: Any) -> None:
    shop = satin_shop
    reading = shop.reading(shop.take(1, shop.draft("3.0")))
    decided(shop, found(shop, 2), reading, "stands", 3)
    for alter in (lambda rows: rows.update(at=shop.day(9)), lambda rows: rows._raw_delete("default")):
        with pytest.raises(IntegrityError), transaction.atomic():
            alter(model.objects.all())


def test_doubt_takes_a_fixed_number_of_queries(
    lead: Any, press_tech: Any, inspector: Any, at: datetime, django_assert_num_queries: Any
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=6)
    every = list(shop.built.faces.values())
    for face in every:
        satin(face, lead, at)
    shop.take(1, *(shop.draft("3.0", face=face) for face in every))
    verdicts = list(Verdict.objects.select_related("limit"))
    with django_assert_num_queries(1):
        assert doubt.verdicts_in_doubt(verdicts) == {}
    found(shop, 2)
    for some in (verdicts[:1], verdicts):
        with django_assert_num_queries(5):
            assert len(doubt.verdicts_in_doubt(some)) == len(some)
