"""The trend of a face as a picture with its values: what is in it, and what it costs to look."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop import loop
from shop.boards.trend_picture import TrendSheet, text_of, trend_sheet
from shop.people.models import Person
from shop.press.models import InsertShots
from shop.quality.models import Reading
from shop.tooling.models import FinishLife
from shop.watch.models import Question, Trend
from tests.factories import satin
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    start = timezone.now() - timedelta(days=30)
    made: Shop = open_shop(lead, press_tech, inspector, start, cavities=1)
    satin(made.face, lead, start)
    measured(made, inspector, (2.3, 2.45, 2.5))
    return made


def measured(shop: Shop, inspector: Person, values: tuple[float, ...], first: int = 1) -> None:
    for day, value in enumerate(values, start=first):
        shop.shoot(day, 5000)
        loop.reading_taken(
            tool=shop.tool, kind="routine", drafts=[shop.draft(value)], by=inspector, at=shop.day(day + 0.5)
        )


def looked(shop: Shop, reader: Person, at: datetime | None = None) -> TrendSheet:
    trend = Trend.objects.of_running_lives().select_related("pool", "life").get(face=shop.face)
    shots = InsertShots.objects.total_before("face__insert", "began_at")
    lives: list[Any] = list(FinishLife.objects.filter(face=shop.face).annotate(begin_shots=shots))
    return trend_sheet(shop.face, trend, lives, reader, at or shop.day(10))


def test_each_reading_stands_in_the_picture_and_newest_first_in_the_table(shop: Shop, lead: Person) -> None:
    sheet = looked(shop, lead)
    assert [point.value for point in sheet.picture.points] == [2.3, 2.45, 2.5]
    assert [row.shots for row in sheet.readings] == [15_000, 10_000, 5_000]
    assert sheet.readings[0].value == "2.5\u00a0GU"
    assert all(" ± " in point.words for point in sheet.picture.points)
    assert sheet.more == 0


def test_limits_lives_and_today_are_in_the_picture(shop: Shop, lead: Person) -> None:
    picture = looked(shop, lead).picture
    assert picture.upper is not None
    assert picture.guard > 0
    assert picture.now == 15_000
    assert [life.name for life in picture.lives] == ["new tool"]


def test_forecast_fan_begins_today_and_widens(shop: Shop, lead: Person) -> None:
    fan = looked(shop, lead).picture.fan
    assert fan[0].shots == 15_000
    assert all(one.low <= one.middle <= one.high for one in fan)
    assert fan[-1].high - fan[-1].low > fan[0].high - fan[0].low


def test_reading_that_is_asked_about_is_marked_until_it_is_answered(shop: Shop, lead: Person) -> None:
    far = Reading.objects.order_by("at").last()
    assert far is not None
    asked = Question.objects.create(
        kind=Question.Kind.OUTLIER, tool=shop.tool, face=shop.face, inspection=far.inspection, reading=far,
        parameter=far.parameter, where=far.where, geometry_deg=far.geometry_deg, code="outlier.above",
        asked_at=shop.day(5),
    )  # fmt: skip
    assert [point.asked for point in looked(shop, lead).picture.points] == [False, False, True]
    asked.answer, asked.answered_at, asked.answered_by = Question.Answer.RIGHT, timezone.now(), lead
    asked.save(update_fields=["answer", "answered_at", "answered_by"])
    assert not any(point.asked for point in looked(shop, lead).picture.points)


def test_looking_takes_the_same_queries_whatever_was_read(shop: Shop, lead: Person, inspector: Person) -> None:
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as seen:
            looked(shop, lead)
        return len(seen)

    few = queries()
    measured(shop, inspector, (2.5, 2.6, 2.6, 2.7), first=4)
    assert queries() == few


def test_flat_trend_is_called_flat_in_words(shop: Shop) -> None:
    trend = Trend.objects.get(face=shop.face)
    trend.shape = "flat"
    assert "it is flat" in text_of(trend)
