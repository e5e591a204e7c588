"""Calls: what opens one, what joins it, what closes it, and what is left alone."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop.ledger.models import Change
from shop.people.models import Person, Plant
from shop.people.wording import say
from shop.press.services import damage
from shop.quality.services import plans
from shop.refusal import Saying
from shop.tooling.models import Face
from shop.tooling.services import faces, specs
from shop.tooling.services.spec_checks import LimitDraft
from shop.watch import reasons
from shop.watch.models import Call, Evidence, RefinishInterval, Standing
from shop.watch.services import calls, trends
from tests.factories import satin, specify
from tests.measuring import Shop, open_shop
from tests.watch.conftest import Look, standing, wear

RISING = [2.50, 2.58, 2.71, 2.79, 2.90]


def causes() -> list[str]:
    return sorted(Call.objects.open().values_list("cause", flat=True))


def said(call: Call) -> list[str]:
    return [say(reasons.saying(evidence)) for evidence in call.evidence.order_by("id")]


def why_closed(call: Call) -> str:
    call.refresh_from_db()
    because = reasons.because(call)
    assert because is not None
    return say(because)


def grant(shop: Shop, upper: str, days: float, until: float = 90) -> object:
    return specs.grant_concession(
        face=shop.face, number="C-41", parameter="gloss", reason="last order", upper=Decimal(upper),
        until_on=shop.day(until).date(), by=shop.lead, at=shop.day(days),
    )  # fmt: skip


def test_off_spec_is_called_once_with_the_numbers_and_the_verdict(satin_shop: Shop, look: Look) -> None:
    satin_shop.shoot(1, 100)
    verdict = satin_shop.read(1.1, "4.5")
    call = look(2).opened[0]
    assert (call.cause, call.face, call.tool) == ("off spec", satin_shop.face, satin_shop.tool)
    assert said(call) == [
        "gloss at gate reads 4.5\u00a0GU, above 4.0\u00a0GU (guard 3.83\u00a0GU): off spec since 5 Mar 2024."
    ]
    assert call.evidence.get().verdict == verdict
    again = look(3)
    assert (again.opened, again.joined, again.closed) == ([], [], [])
    assert Evidence.objects.count() == 1


def test_second_failing_reading_joins_the_open_call(satin_shop: Shop, look: Look) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "4.5")
    call = look(2).opened[0]
    satin_shop.read(2.1, "1.2", spot=satin_shop.spot("end of fill"))
    looked = look(3)
    assert (looked.opened, looked.joined) == ([], [call])
    assert "end of fill reads 1.2\u00a0GU, below 2.0\u00a0GU" in said(call)[1]
    assert causes() == ["off spec"]


def test_gauge_out_of_date_calls_nothing(satin_shop: Shop, look: Look) -> None:
    from shop.quality.services import gauges

    old = gauges.add_gauge(
        plant=satin_shop.lead.plant, number="G-9", kind="glossmeter", resolution=Decimal("0.1"), by=satin_shop.lead,
        at=satin_shop.start,
    )  # fmt: skip
    satin_shop.read(1, "6.0", gauge=old)
    assert look(2).opened == []


def test_not_proven_is_called_and_closes_when_it_is_proven(satin_shop: Shop, look: Look) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "3.95")
    call = look(2).opened[0]
    assert call.cause == "not proven"
    assert not call.wants_bench_work
    why = "too near to 4.0\u00a0GU to be proven (guard 3.83\u00a0GU): the chance that it conforms is 68\u00a0%."
    assert why in said(call)[0]
    satin_shop.read(2.1, "3.0")
    assert look(3).closed == [call]
    assert why_closed(call) == "gloss at gate read 3.0\u00a0GU on 6 Mar 2024 and conforms."


def test_too_few_values_for_the_rule_are_not_proven_in_those_words(shop: Shop, look: Look) -> None:
    ra = [LimitDraft("Ra", "steel", None, Decimal("0.8"), "um")]
    specify(shop.face, shop.lead, shop.start, ra, drawing_edition="ISO 4288:1996")
    shop.read(1, "0.7", parameter="Ra")
    call = look(2).opened[0]
    assert said(call) == [
        "Ra at gate reads 0.70\u00a0µm, the limit is 0.80\u00a0µm: the 16\u00a0% rule wants more values to prove it."
    ]


def test_off_spec_that_was_not_proven_before_decides_it(satin_shop: Shop, look: Look) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "3.95")
    unproven = look(2).opened[0]
    satin_shop.read(2.1, "4.6")
    looked = look(3)
    assert [call.cause for call in looked.opened] == ["off spec"]
    assert looked.closed == [unproven]
    assert why_closed(unproven) == "What was not proven has been decided."


def test_limit_raised_by_concession_while_called_off_spec_closes_the_call(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    verdict = shop.read(1.1, "4.5")
    call = look(2).opened[0]
    assert standing(shop).state == Standing.State.OFF_SPEC
    grant(shop, "5.5", 3)
    looked = look(3)
    assert looked.closed == [call]
    assert why_closed(call) == "Concession C-41 allows it."
    assert (standing(shop).state, standing(shop).on_concession) == (Standing.State.SOUND, True)
    assert verdict is not None
    verdict.refresh_from_db()
    assert (verdict.outcome, verdict.upper, verdict.concession) == ("no", 4, None)


def test_concession_that_is_not_wide_enough_leaves_the_call(satin_shop: Shop, look: Look) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "4.5")
    look(2)
    grant(satin_shop, "4.1", 3)
    assert look(3).closed == []
    assert standing(satin_shop).state == Standing.State.OFF_SPEC


def test_concession_that_ends_calls_what_passed_by_it(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    grant(shop, "6.0", 1, until=10)
    verdict = shop.read(2, "4.6")
    assert verdict is not None
    assert verdict.outcome == "yes"
    assert look(3).opened == []
    assert [call.cause for call in look(12).opened] == ["off spec"]
    assert standing(shop).state == Standing.State.OFF_SPEC


def test_spec_revised_wider_closes_the_call(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    shop.read(1.1, "4.5")
    call = look(2).opened[0]
    wider = LimitDraft("gloss", "part", Decimal(2), Decimal(6), "GU", geometry_deg=60)
    specify(shop.face, shop.lead, shop.day(3), [wider], how_made="blasted", reason="customer agreed")
    assert look(4).closed == [call]
    assert why_closed(call) == "The spec's limits are others now."


def shop_day(shop: Shop, days: float) -> date:
    return shop.day(days).date()


def forecast_shop(shop: Shop, lead_time_days: int) -> None:
    Plant.objects.filter(pk=shop.lead.plant_id).update(lead_time_days=lead_time_days)


def test_forecast_inside_the_lead_time_is_called_with_shots_rate_and_date(satin_shop: Shop, look: Look) -> None:
    wear(satin_shop, RISING)
    forecast_shop(satin_shop, 10)
    assert look(6).opened == []
    forecast_shop(satin_shop, 80)
    call = look(6).opened[0]
    assert call.cause == "forecast"
    stands = standing(satin_shop)
    assert stands.state == Standing.State.DUE
    sentence = said(call)[0]
    assert sentence.startswith("gloss at gate is heading for 4.0\u00a0GU: ")
    trend = stands.worst
    assert trend is not None
    for left in (trend.left_10, trend.left_50, trend.left_90):
        assert f"{left:,}".replace(",", "\u202f") + "\u00a0shots" in sentence
    assert stands.due_on is not None
    assert trend.left_10 is not None
    # The rate is what brings the shots left to the date that is named: at or above the mean, which is not sure.
    rate = round(trend.left_10 / (stands.due_on - shop_day(satin_shop, 6)).days)
    assert rate > 893
    assert f"At {rate:,}".replace(",", "\u202f") + "\u00a0shots a day" in sentence
    assert look(7).joined == []


def test_forecast_closes_after_a_refit_that_leaves_time(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    wear(shop, RISING)
    forecast_shop(shop, 60)
    call = look(6).opened[0]
    for day in range(7, 27):
        shop.shoot(day, 1000)
        shop.read(day + 0.1, "2.7")
    assert look(27).closed == [call]
    assert why_closed(call).startswith("By the latest readings")
    assert standing(shop).state == Standing.State.SOUND


def test_forecast_is_not_taken_back_because_the_tool_rests(satin_shop: Shop, look: Look) -> None:
    wear(satin_shop, RISING)
    forecast_shop(satin_shop, 80)
    call = look(6).opened[0]
    assert look(60).closed == []
    assert standing(satin_shop).shots_per_day == 0
    call.refresh_from_db()
    assert call.closed_at is None


def test_face_past_its_limit_by_the_line_is_called_off_spec_alone(satin_shop: Shop, look: Look) -> None:
    wear(satin_shop, [3.0, 3.5, 4.1, 4.6])
    assert [call.cause for call in look(5).opened] == ["off spec"]


def test_chance_now_calls_although_the_tool_does_not_run(satin_shop: Shop, look: Look) -> None:
    wear(satin_shop, [3.2, 3.45, 3.7])
    satin_shop.shoot(4, 9000)
    assert [call.cause for call in look(60).opened] == ["forecast"]
    assert "has reached 4.0\u00a0GU already with a chance of" in said(Call.objects.get())[0]


def test_interval_in_shots_is_called_whatever_it_reads(satin_shop: Shop, look: Look) -> None:
    interval = RefinishInterval.objects.create(face=satin_shop.face, shots=1000)
    satin_shop.shoot(1, 999)
    assert look(2).opened == []
    satin_shop.shoot(3, 1)
    call = look(4).opened[0]
    thousand = "1\u202f000\u00a0shots"
    assert said(call) == [f"{thousand} since the finish was made; it is to be made again every {thousand}."]
    assert standing(satin_shop).state == Standing.State.DUE
    RefinishInterval.objects.filter(pk=interval.pk).update(shots=2000)
    assert look(5).closed == [call]
    assert why_closed(call) == "1\u202f000\u00a0shots since the finish was made; the interval is 2\u202f000\u00a0shots."


def plan(shop: Shop) -> None:
    plans.plan(
        face=shop.face, parameter="gloss", where="part", every_shots=1000, every_days=10, by=shop.lead, at=shop.start
    )


def test_not_measured_is_called_when_late_and_closed_by_a_reading(satin_shop: Shop, look: Look) -> None:
    plan(satin_shop)
    satin_shop.shoot(1, 1400)
    assert look(2).opened == []
    satin_shop.shoot(3, 200)
    call = look(3).opened[0]
    assert call.cause == "not measured"
    assert "has not been measured since the finish was made, 1\u202f600\u00a0shots ago." in said(call)[0]
    satin_shop.read(3.5, "3.0")
    assert look(4).closed == [call]
    assert why_closed(call) == "Nothing that is planned here is late any more."


def test_face_awaiting_parts_three_weeks_is_not_called_at_all(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    plan(shop)
    RefinishInterval.objects.create(face=shop.face, shots=1)
    shop.shoot(1, 5000)
    shop.read(1.1, "4.6")
    shop.shoot(1.5, 2000)
    awaiting = {shop.face.pk}
    for days in (2, 9, 16, 23):
        looked = look(days, awaiting=awaiting)
        assert (looked.opened, looked.joined, looked.closed) == ([], [], [])
        assert standing(shop).state == Standing.State.AWAITING_PARTS
    assert sorted(call.cause for call in look(24).opened) == ["interval", "not measured", "off spec"]


def test_face_in_work_keeps_its_calls_and_gets_no_new_ones(satin_shop: Shop, look: Look) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    shop.read(1.1, "4.5")
    call = look(2).opened[0]
    faces.end_life(face=shop.face, ended_by="WO-1", by=shop.lead, at=shop.day(3))
    looked = look(4, in_work={shop.face.pk})
    assert (looked.opened, looked.closed) == ([], [])
    assert causes() == ["off spec"]
    faces.begin_life(face=shop.face, began_by="WO-1", by=shop.lead, at=shop.day(5))
    assert look(6).closed == [call]
    assert why_closed(call) == "The finish was made anew on 9 Mar 2024."


def report(shop: Shop, days: float, **given: object) -> Call:
    seen_by = {"tool": shop.tool, "kind": "scratch", "face": shop.face, "by": shop.press_tech, "at": shop.day(days)}
    seen = damage.report(**{**seen_by, **given})  # type: ignore[arg-type]
    return calls.call_damage(seen, by=shop.press_tech, at=shop.day(days))


def test_damage_is_called_at_once_and_a_second_report_joins_it(satin_shop: Shop, look: Look) -> None:
    call = report(satin_shop, 1)
    assert report(satin_shop, 2, kind="rust", note="overnight", stops_run=True) == call
    assert said(call) == [
        "scratch or drag was reported on 5 Mar 2024.",
        "rust was reported on 6 Mar 2024: overnight. Parts are bad, the tool should not run.",
    ]
    assert look(3).closed == []
    assert standing(satin_shop).state == Standing.State.DUE
    assert calls.call_damage(call.evidence.last().damage, by=satin_shop.lead, at=satin_shop.day(4)) == call  # type: ignore[union-attr,arg-type]
    assert Evidence.objects.count() == 2


def test_damage_to_the_tool_is_a_call_without_a_face(satin_shop: Shop) -> None:
    assert report(satin_shop, 1, face=None).face is None
    assert report(satin_shop, 1).face == satin_shop.face
    assert causes() == ["damage", "damage"]


def test_two_calls_on_one_face_stand_beside_each_other_and_close_by_themselves(satin_shop: Shop, look: Look) -> None:
    harmed = report(satin_shop, 1)
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "4.5")
    off_spec = look(2).opened[0]
    assert causes() == ["damage", "off spec"]
    satin_shop.read(2.1, "3.0")
    assert look(3).closed == [off_spec]
    harmed.refresh_from_db()
    assert harmed.closed_at is None
    assert standing(satin_shop).state == Standing.State.DUE


def test_closing_keeps_the_reason_of_another_room_and_leaves_its_trail(satin_shop: Shop) -> None:
    call = report(satin_shop, 1)
    because = Saying("call.released", "answered by {order}", {"order": "WO-7"})
    calls.close(call, because, at=satin_shop.day(2))
    assert why_closed(call) == "answered by WO-7"
    assert Change.objects.filter(room="watch.call", row_id=call.pk, field="closed_at").count() == 1
    calls.close(call, Saying("x", "another reason", {}), at=satin_shop.day(3))
    assert why_closed(call) == "answered by WO-7"
    assert report(satin_shop, 4) != call


def test_looking_takes_a_fixed_number_of_queries_however_many_faces(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=8)
    every = list(shop.built.faces.values())
    for face in every:
        satin(face, lead, at)
    for day, value in enumerate((3.0, 3.01, 3.0), start=1):
        shop.shoot(day, 500)
        shop.take(day + 0.1, *(shop.draft(value, face=face, spot=shop.spot("gate", face)) for face in every))
    counted = []
    for some in (every[:1], every):
        trends.bring_up_to_date(some, at=shop.day(4))
        with CaptureQueriesContext(connection) as queries:
            looked = calls.look(Face.objects.filter(pk__in=[one.pk for one in some]), by=lead, at=shop.day(4))
        counted.append(len(queries))
        assert looked.opened == []
    assert counted[0] == counted[1] <= 36


@pytest.mark.parametrize("code", sorted(reasons.TEMPLATES))
def test_every_sentence_names_only_what_it_is_given(code: str) -> None:
    from string import Formatter

    names = {name for _text, name, _spec, _conversion in Formatter().parse(reasons.TEMPLATES[code]) if name}
    assert names <= {
        "parameter", "spot", "value", "limit", "guard", "day", "chance", "rule", "left_10", "left_50", "left_90",
        "rate", "shots", "kind", "note", "since", "every", "number", "left", "lead", "gauge", "chart", "count",
        "offset",
    }  # fmt: skip
