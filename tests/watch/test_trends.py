"""Trends refitted from readings, and how a face stands by them."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop.drift.crossing import crossing
from shop.drift.trend import fit_line
from shop.people.models import Person
from shop.quality.services import inspections
from shop.tooling.models import Face
from shop.tooling.services import faces, inserts, specs
from shop.tooling.services.spec_checks import LimitDraft
from shop.watch import forecast
from shop.watch.models import Standing, Trend
from shop.watch.services import trends
from tests.factories import by_plaque, resin, satin, specify
from tests.measuring import Shop, open_shop
from tests.watch.conftest import Look, standing, wear

RISING = [2.50, 2.58, 2.71, 2.79, 2.90]


def bring(shop: Shop, days: float, **given: Any) -> None:
    trends.bring_up_to_date([shop.face], at=shop.day(days), **given)


def only(shop: Shop) -> Trend:
    bring(shop, 30)
    return Trend.objects.get()


def test_trend_is_the_least_squares_line_over_the_shots_of_the_life(satin_shop: Shop) -> None:
    wear(satin_shop, RISING)
    trend = only(satin_shop)
    line = fit_line([5000, 10000, 15000, 20000, 25000], RISING)
    assert (trend.count, trend.last_life_shots, trend.life_shots, trend.unit) == (5, 25000, 25000, "GU")
    assert (trend.intercept, trend.slope) == (pytest.approx(line.intercept), pytest.approx(line.slope))
    assert (trend.residual_sd, trend.se_slope) == (pytest.approx(line.residual_sd), pytest.approx(line.se_slope))
    assert (trend.lower, trend.upper, trend.towards) == (2, 4, "upper")
    up = crossing(line, 4, "up")
    for left, chance in ((trend.left_10, 0.1), (trend.left_50, 0.5), (trend.left_90, 0.9)):
        assert left is not None
        assert left == pytest.approx((up.shots_at(chance) or 0) - 25000, abs=1)
    assert trend.left_10 < trend.left_50 < trend.left_90
    assert trend.chance_now == pytest.approx(up.probability_by(25000))
    assert trend.last_uncertainty == pytest.approx(0.104083, abs=1e-6)


def test_shots_left_shrink_by_the_shots_that_are_made(satin_shop: Shop) -> None:
    wear(satin_shop, RISING)
    before = only(satin_shop)
    satin_shop.shoot(6, 7000)
    after = only(satin_shop)
    assert after.pk == before.pk
    assert before.left_50 is not None
    assert after.left_50 == before.left_50 - 7000
    assert after.life_shots == 32000


def test_two_readings_are_counted_and_forecast_nothing(satin_shop: Shop) -> None:
    wear(satin_shop, RISING[:2])
    trend = only(satin_shop)
    assert (trend.count, trend.last_value, trend.slope, trend.left_10) == (2, 2.58, None, None)
    assert (trend.towards, trend.chance_now) == ("", None)
    assert forecast.chance_of_reaching(trend, 10**6) is None
    assert standing(satin_shop).state == Standing.State.SOUND


def test_three_readings_at_the_same_shots_make_no_line(satin_shop: Shop) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.take(1.1, *(satin_shop.draft(value) for value in ("3.0", "3.1", "3.2")))
    assert (only(satin_shop).count, only(satin_shop).slope) == (3, None)


def test_lower_limit_is_watched_as_well(satin_shop: Shop) -> None:
    wear(satin_shop, [3.0, 2.9, 2.82, 2.70, 2.61])
    trend = only(satin_shop)
    assert trend.towards == "lower"
    assert trend.left_50 is not None


def test_face_that_does_not_change_is_never_there(satin_shop: Shop) -> None:
    wear(satin_shop, [3.0, 3.0, 3.0, 3.0])
    trend = only(satin_shop)
    assert (trend.left_10, trend.left_50, trend.left_90, trend.chance_now) == (None, None, None, 0)
    assert standing(satin_shop).due_on is None
    assert standing(satin_shop).state == Standing.State.SOUND


def test_spots_places_and_angles_have_trends_of_their_own(satin_shop: Shop) -> None:
    shop = satin_shop
    glass = resin("PA66 GF30")
    shop.shoot(1, 100)
    answers = {"reading.angle_not_in_spec": "keep_unjudged"}
    shop.take(1.1, shop.draft("3.0"), shop.draft("3.0", spot=shop.spot("end of fill")), shop.draft("1", parameter="Ra"))
    shop.take(1.2, shop.draft("3.0"), shop.draft("1", parameter="Ra"), resin=glass)
    shop.take(1.3, shop.draft("9.0", geometry_deg=85), answers=answers)
    bring(shop, 2)
    kinds = {(one.parameter, one.spot.name if one.spot else "", one.resin, one.count) for one in Trend.objects.all()}
    assert kinds == {
        ("gloss", "gate", glass, 2), ("gloss", "end of fill", None, 1), ("Ra", "gate", None, 2),
    }  # fmt: skip


def test_two_angles_in_one_spec_are_two_trends(shop: Shop) -> None:
    named = ((4, 60), (30, 85))
    limits = [LimitDraft("gloss", "part", None, Decimal(upper), "GU", geometry_deg=deg) for upper, deg in named]
    specify(shop.face, shop.lead, shop.start, limits, how_made="blasted")
    shop.shoot(1, 100)
    shop.take(1.1, shop.draft("3.0", geometry_deg=60), shop.draft("12", geometry_deg=85))
    bring(shop, 2)
    assert {(one.geometry_deg, one.upper, one.last_value) for one in Trend.objects.all()} == {(60, 4, 3), (85, 30, 12)}


def test_late_reading_and_correction_refit_the_line(satin_shop: Shop) -> None:
    shop = satin_shop
    wear(shop, RISING)
    shop.take(2.5, shop.draft("3.9"))
    wild = only(shop)
    assert wild.count == 6
    reading = shop.face.readings.get(value=Decimal("3.9"))
    inspections.correct(reading=reading, value=Decimal("2.6"), why="misread", by=shop.inspector, at=shop.day(8))
    assert (only(shop).count, only(shop).residual_sd) == (6, pytest.approx(0.02, abs=0.02))
    left = shop.face.readings.in_force().get(why="misread")
    inspections.withdraw(reading=left, why="another part", by=shop.inspector, at=shop.day(8))
    assert only(shop).count == 5


def test_trend_goes_when_its_last_reading_is_taken_back(satin_shop: Shop) -> None:
    shop = satin_shop
    shop.shoot(1, 100)
    reading = shop.reading(shop.take(1.1, shop.draft("3.0")))
    assert only(shop).count == 1
    assert standing(shop).worst is not None
    inspections.withdraw(reading=reading, why="another part", by=shop.inspector, at=shop.day(8))
    bring(shop, 9)
    assert not Trend.objects.exists()
    assert standing(shop).worst is None


def test_late_shots_find_their_place_under_the_readings(satin_shop: Shop) -> None:
    shop = satin_shop
    wear(shop, RISING)
    shop.shoot(2.5, 1000)
    bring(shop, 30)
    trend = Trend.objects.get()
    assert (trend.last_life_shots, trend.life_shots) == (26000, 26000)


def test_new_life_begins_a_new_trend_with_its_steel_check_and_keeps_the_old(shop: Shop) -> None:
    ra = [LimitDraft("Ra", "steel", None, Decimal("0.8"), "um")]
    specify(shop.face, shop.lead, shop.start, ra)
    for day, value in enumerate((0.40, 0.46, 0.50), start=1):
        shop.shoot(day, 5000)
        shop.read(day + 0.1, value, parameter="Ra")
    bring(shop, 4)
    faces.end_life(face=shop.face, ended_by="WO-1", by=shop.lead, at=shop.day(5))
    shop.read(6, "0.9", kind="steel check", parameter="Ra")
    shop.read(7, "0.2", kind="steel check", parameter="Ra")
    faces.begin_life(face=shop.face, began_by="WO-1", by=shop.lead, at=shop.day(7.5))
    shop.shoot(8, 1000)
    bring(shop, 8)
    old, new = Trend.objects.order_by("life__number")
    assert (old.count, old.life.number) == (3, 1)
    assert (new.count, new.last_value, new.last_life_shots, new.life_shots) == (1, 0.2, 0, 1000)
    assert standing(shop).life_shots == 1000


def test_look_of_a_grained_face_has_a_trend_too(shop: Shop) -> None:
    by_plaque(shop.face, shop.lead, shop.start)
    for day, grade in enumerate((0, 0, 1, 1), start=1):
        shop.shoot(day, 5000)
        shop.read(day + 0.1, grade, parameter="look gloss")
    trend = only(shop)
    assert (trend.unit, trend.count, trend.towards, trend.upper) == ("grade", 4, "upper", 1)
    assert trend.left_50 is not None


def test_concession_moves_the_limit_that_is_watched(satin_shop: Shop) -> None:
    wear(satin_shop, RISING)
    before = only(satin_shop)
    specs.grant_concession(
        face=satin_shop.face, number="C-1", parameter="gloss", reason="last order", upper=Decimal(6),
        until_on=satin_shop.day(90).date(), by=satin_shop.lead, at=satin_shop.day(30),
    )  # fmt: skip
    after = only(satin_shop)
    assert (before.upper, after.upper) == (4, 6)
    assert after.left_50 > before.left_50  # type: ignore[operator]
    assert standing(satin_shop).on_concession


def test_insert_that_moves_takes_its_trend_along(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=2, spares=1)
    satin(shop.face, lead, at)
    wear(shop, RISING[:3])
    bring(shop, 4)
    before = Trend.objects.get()
    inserts.fit(insert=shop.built.inserts["1"], position=shop.built.positions[2], by=lead, at=shop.day(4), why="moved")
    inserts.fit(insert=shop.built.inserts["3"], position=shop.built.positions[1], by=lead, at=shop.day(4), why="spare")
    wear(shop, RISING[3:], from_day=5)
    after = only(shop)
    assert (after.pk, after.count, after.life_shots) == (before.pk, 5, 25000)


def test_standing_says_what_is_left_the_rate_the_date_and_the_steel(satin_shop: Shop) -> None:
    wear(satin_shop, RISING)
    faces.take_steel(face=satin_shop.face, depth_um=30, work="WO-0", by=satin_shop.lead, at=satin_shop.day(5))
    bring(satin_shop, 6)
    trend, stands = Trend.objects.get(), standing(satin_shop)
    assert stands.shots_per_day == pytest.approx(25000 / 28)
    assert (stands.left_10, stands.left_50, stands.worst) == (trend.left_10, trend.left_50, trend)
    assert (stands.state, stands.steel_left_um, stands.life_shots) == (Standing.State.WEARING, 370, 25000)
    days = trend.left_10 / stands.shots_per_day  # type: ignore[operator]
    assert stands.due_on is not None
    # The rate is not known well, so the date comes sooner than the shots at its mean.
    assert days / 3 < (stands.due_on - satin_shop.day(6).date()).days < days
    assert stands.even_on is not None
    assert stands.due_on < stands.even_on


def test_face_awaiting_parts_stands_so_whatever_was_read(satin_shop: Shop, look: Look) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "6.0")
    bring(satin_shop, 2, awaiting={satin_shop.face.pk})
    assert standing(satin_shop).state == Standing.State.AWAITING_PARTS
    bring(satin_shop, 3)
    assert standing(satin_shop).state == Standing.State.OFF_SPEC


def test_good_reading_at_another_spot_does_not_bring_a_failed_spot_back(satin_shop: Shop) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "6.0")
    satin_shop.read(1.2, "3.0", spot=satin_shop.spot("end of fill"))
    bring(satin_shop, 2)
    assert standing(satin_shop).state == Standing.State.OFF_SPEC
    worst = standing(satin_shop).worst
    assert worst is not None
    assert worst.spot == satin_shop.gate
    satin_shop.read(2.1, "3.0")
    bring(satin_shop, 3)
    assert standing(satin_shop).state == Standing.State.SOUND


def test_yesterdays_news_does_not_turn_the_clock_back(satin_shop: Shop) -> None:
    wear(satin_shop, RISING)
    bring(satin_shop, 10)
    bring(satin_shop, 2)
    assert standing(satin_shop).worked_out_at == satin_shop.day(10)
    assert standing(satin_shop).life_shots == 25000


def test_chance_of_lasting_an_order_looks_at_both_limits(satin_shop: Shop) -> None:
    wear(satin_shop, RISING)
    trend = only(satin_shop)
    line = forecast.line_of(trend)
    assert line is not None
    chance = forecast.chance_of_reaching(trend, 60000)
    assert chance == pytest.approx(
        max(crossing(line, 4, "up").probability_by(85000), crossing(line, 2, "down").probability_by(85000))
    )
    assert forecast.shots_left(trend, 0.1) == trend.left_10


def test_bringing_up_to_date_takes_a_fixed_number_of_queries(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=8)
    every = list(shop.built.faces.values())
    for face in every:
        satin(face, lead, at)
    for day, value in enumerate(RISING, start=1):
        shop.shoot(day, 5000)
        shop.take(day + 0.1, *(shop.draft(value, face=face, spot=shop.spot("gate", face)) for face in every))
    counted = []
    for some in (every[:1], every, every):
        with CaptureQueriesContext(connection) as queries:
            trends.bring_up_to_date(Face.objects.filter(pk__in=[face.pk for face in some]), at=shop.day(7))
        counted.append(len(queries))
    assert Trend.objects.count() == Standing.objects.count() == 8
    assert max(counted) <= 48
    assert counted[2] <= counted[0] + 2
