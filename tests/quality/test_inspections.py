"""Taking readings: what held at the time, what is refused, what is asked, how it is judged and put right."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop.people.models import Person
from shop.people.wording import next_step, say
from shop.quality.models import Gauge, Inspection, Reading, Verdict
from shop.quality.services import gauges, inspections
from shop.refusal import Refused
from shop.tooling.models import Face, FinishLife
from shop.tooling.services import faces, specs
from shop.tooling.services.spec_checks import LimitDraft
from tests.factories import by_plaque, plaque, polished, satin, specify
from tests.measuring import Shop, open_shop


def refused(shop: Shop, code: str, *drafts: Any, kind: str = "routine", days: float = 1, **given: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        shop.take(days, *drafts, kind=kind, **given)
    assert caught.value.code == code
    assert say(caught.value)
    assert next_step(caught.value)
    assert not Inspection.objects.exists()
    return caught.value


def test_gloss_verdict_names_rule_uncertainty_limits_and_chance(satin_shop: Shop) -> None:
    verdict = satin_shop.read(1, "2.8")
    assert verdict is not None
    assert (verdict.outcome, verdict.rule, verdict.acceptance) == ("yes", "mean", "guarded")
    assert (verdict.statistic, verdict.count, verdict.required) == (Decimal("2.8"), 1, Decimal("0.95"))
    assert (verdict.lower, verdict.upper, verdict.concession) == (2, 4, None)
    assert float(verdict.standard_uncertainty) == pytest.approx(0.104083, abs=1e-6)
    assert verdict.conformance is not None
    assert verdict.conformance > Decimal("0.99")
    assert (verdict.for_release, verdict.informative, verdict.by) == (False, False, satin_shop.inspector)


def test_several_values_at_one_spot_make_one_verdict_and_each_spot_its_own(satin_shop: Shop) -> None:
    end = satin_shop.spot("end of fill")
    taken = satin_shop.take(1, *(satin_shop.draft(one) for one in ("2.9", "3.1")), satin_shop.draft("4.5", spot=end))
    verdicts = {verdict.spot.name: verdict for verdict in taken.verdicts.all() if verdict.spot}
    assert (verdicts["gate"].count, verdicts["gate"].statistic) == (2, Decimal("3.0"))
    assert (verdicts["gate"].outcome, verdicts["end of fill"].outcome) == ("yes", "no")
    assert Reading.objects.count() == 3


def test_several_faces_at_once_keep_a_fixed_number_of_queries(
    lead: Person, press_tech: Person, inspector: Person, at: Any
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=8)
    every = list(shop.built.faces.values())
    for face in every:
        satin(face, lead, at)
    counted = []
    for day, some in enumerate((every[:1], every), start=1):
        drafts = [shop.draft("3.0", face=face, spot=shop.spot("gate", face)) for face in some]
        with CaptureQueriesContext(
            connection,
        ) as queries:
            shop.take(day, *drafts)
        counted.append(len(queries))
    assert counted[0] == counted[1] <= 24


def test_life_and_revision_are_those_of_the_time_of_the_reading(satin_shop: Shop) -> None:
    shop = satin_shop
    first_life = FinishLife.objects.get(face=shop.face)
    faces.end_life(face=shop.face, ended_by="WO-1 full refinish", by=shop.lead, at=shop.day(10))
    faces.begin_life(face=shop.face, began_by="WO-1 full refinish", by=shop.lead, at=shop.day(12))
    satin_again = LimitDraft("gloss", "part", Decimal(2), Decimal("2.5"), "GU", geometry_deg=60)
    specs.revise(
        face=shop.face, reason="customer wants it duller", how_made="blasted", scale="value", limits=[satin_again],
        drawing_edition="ISO 21920-3:2021", acceptance="guarded", by=shop.lead, at=shop.day(14),
    )  # fmt: skip
    late_entry, now = shop.read(5, "3.0"), shop.read(20, "3.0")
    assert late_entry is not None
    assert now is not None
    assert (late_entry.life, late_entry.spec.revision, late_entry.outcome) == (first_life, 1, "yes")
    assert now.life is not None
    assert (now.life.number, now.spec.revision, now.outcome) == (2, 2, "no")


def test_steel_check_is_read_between_two_lives_and_nothing_else_is(shop: Shop) -> None:
    polished(shop.face, shop.lead, shop.start)
    faces.end_life(face=shop.face, ended_by="WO-1 kiss polish", by=shop.lead, at=shop.day(10))
    refused(shop, "reading.between_lives", shop.draft("0.05", parameter="Ra", gauge=shop.optical), days=11)
    verdict = shop.read(11, "0.05", kind="steel check", parameter="Ra", gauge=shop.optical)
    assert verdict is not None
    assert (verdict.life, verdict.outcome, verdict.for_release) == (None, "yes", True)


def test_same_ref_twice_is_one_inspection_and_other_values_are_a_question(satin_shop: Shop) -> None:
    ref = uuid4()
    first = satin_shop.take(1, satin_shop.draft("3.0"), ref=ref)
    assert satin_shop.take(1, satin_shop.draft("3.0"), ref=ref) == first
    assert Reading.objects.count() == 1
    with pytest.raises(Refused) as caught:
        satin_shop.take(1, satin_shop.draft("3.1"), ref=ref)
    assert caught.value.code == "ref.other_content"


def test_microinches_are_taken_as_micrometres(shop: Shop) -> None:
    polished(shop.face, shop.lead, shop.start)
    shop.take(1, shop.draft("4", parameter="Ra", unit="uin", gauge=shop.optical))
    reading = Reading.objects.get()
    assert (reading.value, reading.unit) == (Decimal("0.1016"), "um")
    assert Verdict.objects.get().outcome == "not proven"


def test_fault_of_one_draft_among_many_says_which_and_keeps_nothing(satin_shop: Shop) -> None:
    good, bad = satin_shop.draft("3.0"), satin_shop.draft("-3.0")
    said = refused(satin_shop, "reading.impossible_value", good, good, bad)
    assert said.field == "drafts-2-value"
    assert said.values["spot"] == "gate"
    assert satin_shop.face.name in str(said.values["face"])
    assert said.values["value"].value == Decimal("-3.0")
    assert said.values["limit"].unit == "GU"


@pytest.mark.parametrize("typed", ["NaN", "Infinity", "-Infinity", "1e30"])
def test_value_that_is_no_value_is_refused(satin_shop: Shop, typed: str) -> None:
    code = "number.not_read" if typed != "1e30" else "reading.impossible_value"
    assert refused(satin_shop, code, satin_shop.draft(typed)).field == "drafts-0-value"


def test_reading_in_the_future_is_refused(satin_shop: Shop) -> None:
    ahead = (timezone.now() + timedelta(hours=1) - satin_shop.start) / timedelta(days=1)
    assert refused(satin_shop, "inspection.in_future", satin_shop.draft("3.0"), days=ahead).field == "at"


def test_inspection_without_a_reading_is_refused(satin_shop: Shop) -> None:
    refused(satin_shop, "inspection.empty")


def test_face_of_another_tool_and_spot_of_another_face_are_refused(satin_shop: Shop) -> None:
    other = open_shop_beside(satin_shop)
    refused(satin_shop, "reading.face_elsewhere", satin_shop.draft("3.0", face=other))
    stray = satin_shop.spot("gate", other)
    refused(satin_shop, "reading.spot_elsewhere", satin_shop.draft("3.0", spot=stray))


def open_shop_beside(shop: Shop) -> Face:
    from tests.factories import build_tool

    return build_tool(shop.lead, shop.start).face


def test_face_without_a_spec_is_refused(shop: Shop) -> None:
    refused(shop, "reading.no_spec", shop.draft("3.0"))


def test_gloss_on_steel_is_refused(satin_shop: Shop) -> None:
    refused(satin_shop, "reading.gloss_is_read_on_the_part", satin_shop.draft("3.0", where="steel"))


def test_unit_of_another_kind_is_refused(satin_shop: Shop) -> None:
    assert refused(satin_shop, "unit.wrong", satin_shop.draft("3.0", unit="um")).field == "drafts-0-unit"


def test_glossmeter_does_not_read_roughness_and_no_gauge_reads_nothing(shop: Shop) -> None:
    polished(shop.face, shop.lead, shop.start)
    refused(shop, "reading.wrong_gauge", shop.draft("0.05", parameter="Ra", gauge=shop.gloss))
    refused(shop, "reading.no_gauge", shop.draft("0.05", parameter="Ra", gauge=None))


def test_angle_that_the_spec_does_not_name_is_asked_and_kept_unjudged(satin_shop: Shop) -> None:
    said = refused(satin_shop, "reading.angle_not_in_spec", satin_shop.draft("12", geometry_deg=85))
    assert said.question
    assert [code for code, _words in said.choices] == ["keep_unjudged"]
    refused(satin_shop, said.code, satin_shop.draft("12", geometry_deg=85), answers={said.code: "certainly"})
    satin_shop.take(1, satin_shop.draft("12", geometry_deg=85), answers={said.code: "keep_unjudged"})
    reading = Reading.objects.get()
    assert (reading.conditions_agree, reading.geometry_deg) == (False, 85)
    assert not Verdict.objects.exists()
    assert reading.inspection.answers == {said.code: "keep_unjudged"}


def test_cut_off_other_than_the_editions_is_asked_and_kept_unjudged(shop: Shop) -> None:
    polished(shop.face, shop.lead, shop.start, "0.4")
    wrong = shop.draft("0.3", parameter="Ra", gauge=shop.optical, cutoff_mm=Decimal("0.25"))
    said = refused(shop, "reading.cutoff_not_in_spec", wrong)
    assert said.question
    assert said.values["limit"].value == Decimal("0.8")
    shop.take(1, wrong, answers={said.code: "keep_unjudged"})
    assert not Reading.objects.get().conditions_agree
    right = shop.draft("0.3", parameter="Ra", gauge=shop.optical, cutoff_mm=Decimal("0.8"))
    assert shop.take(2, right).verdicts.get().outcome == "yes"


def test_older_edition_chooses_the_cut_off_by_what_is_measured(shop: Shop) -> None:
    ra = [LimitDraft("Ra", "steel", None, Decimal("0.4"), "um")]
    specify(shop.face, shop.lead, shop.start, ra, drawing_edition="ISO 4288:1996")
    shop.take(1, shop.draft("0.05", parameter="Ra", cutoff_mm=Decimal("0.25")))
    assert Verdict.objects.get().outcome == "yes"


def test_parameter_without_a_limit_is_kept_without_a_verdict(satin_shop: Shop) -> None:
    satin_shop.take(1, satin_shop.draft("1.2", parameter="Ra"))
    assert Reading.objects.get().conditions_agree
    assert not Verdict.objects.exists()


def test_limit_of_a_spot_stands_before_that_of_every_spot(shop: Shop) -> None:
    limits = [
        LimitDraft("gloss", "part", Decimal(2), Decimal(4), "GU", geometry_deg=60),
        LimitDraft("gloss", "part", Decimal(2), Decimal(6), "GU", spot=shop.gate, geometry_deg=60),
    ]
    specify(shop.face, shop.lead, shop.start, limits, how_made="blasted")
    at_gate, at_end = shop.read(1, "5"), shop.read(2, "5", spot=shop.spot("end of fill"))
    assert at_gate is not None
    assert at_end is not None
    assert (at_gate.outcome, at_end.outcome) == ("yes", "no")


def test_stylus_on_a_mirror_is_asked_and_an_optical_gauge_is_not(shop: Shop) -> None:
    ra = [LimitDraft("Ra", "steel", None, Decimal("0.025"), "um")]
    specify(shop.face, shop.lead, shop.start, ra, scale="grade", code="A-1", how_made="polished")
    said = refused(shop, "reading.stylus_on_mirror", shop.draft("0.01", parameter="Ra"))
    assert said.question
    assert {code for code, _words in said.choices} == {"outside_optical", "witness_coupon"}
    shop.take(1, shop.draft("0.01", parameter="Ra", gauge=shop.optical))
    shop.take(2, shop.draft("0.01", parameter="Ra"), answers={said.code: "witness_coupon"})
    assert Reading.objects.count() == 2


def overdue_gauge(shop: Shop, *, passed: bool = True) -> Gauge:
    gauge = gauges.add_gauge(
        plant=shop.lead.plant, number="G-9", kind="glossmeter", resolution=Decimal("0.1"), by=shop.lead, at=shop.start
    )
    due = shop.day(5 if passed else 500).date()
    gauges.calibrate(
        gauge=gauge, due_on=due, expanded_a=Decimal("0.2"), passed=passed, by=shop.inspector, at=shop.start
    )
    return gauge


@pytest.mark.parametrize(("passed", "code"), [(True, "gauge.overdue"), (False, "gauge.failed")])
def test_gauge_out_of_date_is_refused_for_a_release_and_marked_otherwise(
    satin_shop: Shop, passed: bool, code: str
) -> None:
    gauge = overdue_gauge(satin_shop, passed=passed)
    for kind in ("steel check", "parts check"):
        refused(satin_shop, code, satin_shop.draft("3.0", gauge=gauge), kind=kind, days=6)
    verdict = satin_shop.read(6, "5.0", gauge=gauge)
    assert verdict is not None
    assert (verdict.outcome, verdict.informative) == ("no", True)
    assert Reading.objects.get().gauge_overdue
    assert not Verdict.objects.deciding().exists()


def test_gauge_due_today_is_still_good_today(satin_shop: Shop) -> None:
    verdict = satin_shop.read(5, "3.0", gauge=overdue_gauge(satin_shop), kind="parts check")
    assert verdict is not None
    assert not verdict.informative


def test_gauge_never_calibrated_decides_nothing(satin_shop: Shop) -> None:
    new = gauges.add_gauge(
        plant=satin_shop.lead.plant, number="G-8", kind="glossmeter", resolution=Decimal("0.1"), by=satin_shop.lead,
        at=satin_shop.start,
    )  # fmt: skip
    refused(satin_shop, "gauge.overdue", satin_shop.draft("3.0", gauge=new), kind="parts check")
    verdict = satin_shop.read(1, "3.0", gauge=new)
    assert verdict is not None
    assert verdict.informative


def test_comparison_with_the_plaque_closes_a_face_and_a_number_beside_it_informs(shop: Shop) -> None:
    sample = plaque(shop.lead)
    limits = [
        LimitDraft("look gloss", "part", Decimal(-1), Decimal(1), "grade"),
        LimitDraft("Ra", "steel", None, Decimal("0.5"), "um"),
    ]
    specify(
        shop.face, shop.lead, shop.start, limits, how_made="etched", scale="plaque", acceptance="plaque", plaque=sample
    )
    taken = shop.take(1, shop.draft(1, parameter="look gloss"), shop.draft("0.9", parameter="Ra"))
    look, ra = taken.verdicts.get(parameter="look gloss"), taken.verdicts.get(parameter="Ra")
    assert (look.outcome, look.rule, look.informative, look.standard_uncertainty) == ("yes", "worst", False, 0)
    assert (ra.outcome, ra.informative, ra.acceptance) == ("no", True, "plaque")
    assert taken.readings.get(parameter="look gloss").plaque == sample


def test_grade_off_the_scale_is_refused(shop: Shop) -> None:
    by_plaque(shop.face, shop.lead, shop.start)
    for typed in ("3", "0.5"):
        refused(shop, "reading.grade_off_scale", shop.draft(typed, parameter="look gloss"))


def test_expired_plaque_releases_nothing(shop: Shop) -> None:
    sample = plaque(shop.lead, expires_on=shop.day(5).date())
    by_plaque(shop.face, shop.lead, shop.start, sample)
    refused(shop, "plaque.expired", shop.draft(0, parameter="look gloss"), kind="parts check", days=6)
    verdict = shop.read(6, 0, parameter="look gloss")
    assert verdict is not None
    assert verdict.informative


def test_concession_in_force_widens_the_limit_and_is_named(satin_shop: Shop) -> None:
    shop = satin_shop
    before = shop.read(1, "4.6")
    granted = specs.grant_concession(
        face=shop.face, number="C-77", parameter="gloss", reason="until the next refinish", upper=Decimal(5),
        until_on=shop.day(20).date(), by=shop.lead, at=shop.day(2),
    )  # fmt: skip
    during, after = shop.read(3, "4.6"), shop.read(21, "4.6")
    assert before is not None
    assert during is not None
    assert after is not None
    assert (before.outcome, before.concession) == ("no", None)
    assert (during.outcome, during.concession, during.upper) == ("yes", granted, 5)
    assert (after.outcome, after.concession, after.upper) == ("no", None, 4)


def test_concession_by_count_of_shots_ends_with_the_count(satin_shop: Shop) -> None:
    shop = satin_shop
    shop.shoot(1, 1000)
    specs.grant_concession(
        face=shop.face, number="C-78", parameter="gloss", reason="last order", upper=Decimal(5),
        until_quantity=500, by=shop.lead, at=shop.day(2),
    )  # fmt: skip
    shop.shoot(3, 400)
    inside = shop.read(4, "4.6")
    shop.shoot(5, 400)
    outside = shop.read(6, "4.6")
    assert inside is not None
    assert outside is not None
    assert (inside.outcome, outside.outcome) == ("yes", "no")


def test_verdict_stays_when_spec_and_concession_change_afterwards(satin_shop: Shop) -> None:
    verdict = satin_shop.read(1, "4.6")
    assert verdict is not None
    specs.grant_concession(
        face=satin_shop.face, number="C-79", parameter="gloss", reason="trial", upper=Decimal(6),
        until_on=satin_shop.day(30).date(), by=satin_shop.lead, at=satin_shop.day(2),
    )  # fmt: skip
    verdict.refresh_from_db()
    assert (verdict.outcome, verdict.upper) == ("no", 4)


def test_correction_supersedes_reading_and_verdict_and_both_stay(satin_shop: Shop) -> None:
    shop = satin_shop
    taken = shop.take(1, shop.draft("4.9"), shop.draft("2.9"))
    wrong = taken.readings.order_by("id")[0]
    put_right = inspections.correct(
        reading=wrong, value=Decimal("2.9"), why="misread the display", by=shop.inspector, at=shop.day(2)
    )
    assert (put_right.at, put_right.supersedes, put_right.life) == (wrong.at, wrong, wrong.life)
    old, new = taken.verdicts.order_by("id")
    assert (old.statistic, new.statistic, new.supersedes) == (Decimal("3.9"), Decimal("2.9"), old)
    assert (old.outcome, new.outcome, new.count, new.why) == ("not proven", "yes", 2, "misread the display")
    assert list(Verdict.objects.deciding()) == [new]
    with pytest.raises(Refused) as caught:
        inspections.correct(reading=wrong, value=Decimal(3), why="again", by=shop.inspector, at=shop.day(2))
    assert caught.value.code == "reading.already_corrected"
    again = inspections.correct(reading=put_right, value=Decimal(3), why="again", by=shop.inspector, at=shop.day(2))
    assert Verdict.objects.deciding().get().statistic == Decimal("2.95")
    assert list(Reading.objects.in_force().filter(supersedes__isnull=False)) == [again]


def test_correction_wants_a_reason_and_a_possible_value(satin_shop: Shop) -> None:
    reading = satin_shop.reading(satin_shop.take(1, satin_shop.draft("3.0")))
    for value, why, code in ((Decimal(3), "  ", "reading.why_wanted"), (Decimal(-1), "x", "reading.impossible_value")):
        with pytest.raises(Refused) as caught:
            inspections.correct(reading=reading, value=value, why=why, by=satin_shop.inspector, at=satin_shop.day(2))
        assert caught.value.code == code
    assert Reading.objects.count() == 1


def test_reading_taken_back_leaves_the_verdict_of_the_others(satin_shop: Shop) -> None:
    shop = satin_shop
    taken = shop.take(1, shop.draft("3.9"), shop.draft("2.9"))
    for reading in taken.readings.order_by("id"):
        inspections.withdraw(reading=reading, why="wrong part", by=shop.inspector, at=shop.day(2))
        left = Verdict.objects.deciding().values_list("count", flat=True)
        assert list(left) in ([1], [])
    assert not Reading.objects.in_force().exists()
    assert not Verdict.objects.in_force().exists()
    assert Verdict.objects.filter(void=True).count() == 1
