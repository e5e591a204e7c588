"""One wear path: shots weighted by resin, readings of two resins and two gauges brought beside each other."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

import numpy as np
import pytest

from shop.people.models import Person
from shop.quality.services import gauges
from shop.quality.services.offsets import compare
from shop.tooling.models import Face, Resin
from shop.watch.models import LearnedSeverity, LevelOffset, Trend
from shop.watch.path import points_of
from shop.watch.services import levels, trends
from tests.factories import resin, satin
from tests.measuring import YEAR, Shop, open_shop


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """Three satin faces in one tool."""
    shop = open_shop(lead, press_tech, inspector, at, cavities=3)
    for face in shop.built.faces.values():
        satin(face, lead, at)
    return shop


def only(shop: Shop) -> Trend:
    trends.bring_up_to_date(Face.objects.all(), at=shop.day(30))
    return Trend.objects.get(face=shop.face)


def test_shots_of_a_filled_resin_count_by_its_severity(shop: Shop) -> None:
    glass = resin("PA66 GF30")
    Resin.objects.filter(pk=glass.pk).update(severity=Decimal("2.50"))
    shop.shoot(1, 1000)
    shop.read(1.1, "3.0")
    shop.shoot(2, 1000, resin=glass)
    shop.read(2.1, "3.1")
    trend = only(shop)
    assert points_of(trend)["wear"].tolist() == [1000, 3500]
    assert (trend.life_shots, trend.life_wear, trend.severity) == (2000, 3500, 2.5)


def test_what_faces_have_shown_of_a_resin_stands_before_what_was_typed(shop: Shop) -> None:
    glass = resin("PA66 GF30")
    LearnedSeverity.objects.create(
        plant=shop.tool.plant, resin=glass, severity=3.0, low=2.5, high=3.6, faces=4, learned_at=shop.start
    )
    shop.shoot(1, 1000, resin=glass)
    shop.read(1.1, "3.0")
    assert points_of(only(shop))["wear"].tolist() == [3000]


def test_resin_whose_level_is_not_known_waits_and_one_that_is_known_is_brought_across(shop: Shop) -> None:
    matt, shiny = resin("ABS matt"), resin("ABS shiny")
    shop.shoot(1, 1000)
    shop.take(1.1, shop.draft("3.0"), resin=matt)
    shop.take(1.2, shop.draft("3.6"), resin=shiny)
    assert points_of(only(shop))["value"].tolist() == [3.6]
    for one, offset in ((matt, -0.25), (shiny, 0.25)):
        LevelOffset.objects.create(
            plant=shop.tool.plant, parameter="gloss", where="part", geometry_deg=60, resin=one, offset=offset, se=0.05,
            faces=3, learned_at=shop.start,
        )  # fmt: skip
    assert points_of(only(shop))["value"].tolist() == pytest.approx([3.5, 3.6])


def test_change_of_gauge_is_bridged_by_what_pairs_have_shown(shop: Shop) -> None:
    other = gauges.add_gauge(
        plant=shop.tool.plant,
        number="G-2",
        kind="glossmeter",
        resolution=Decimal("0.1"),
        by=shop.inspector,
        at=shop.start,
    )
    gauges.calibrate(
        gauge=other, due_on=(shop.start + YEAR).date(), expanded_a=Decimal("0.2"), by=shop.inspector, at=shop.start
    )
    pairs = [(Decimal(a), Decimal(b)) for a, b in (("3.2", "3.0"), ("3.4", "3.2"), ("2.9", "2.7"), ("3.1", "2.9"))]
    compare(
        ours=other, theirs=shop.gloss, parameter="gloss", geometry_deg=60, pairs=pairs, by=shop.inspector,
        at=shop.start,
    )  # fmt: skip
    shop.shoot(1, 1000)
    shop.read(1.1, "3.0")
    shop.read(1.2, "3.3", gauge=other)
    # The new gauge reads 0.2 above the old one, so the old reading stands at 3.2 beside it.
    assert points_of(only(shop))["value"].tolist() == pytest.approx([3.2, 3.3])


def test_levels_of_resins_are_learned_from_faces_that_ran_both(shop: Shop) -> None:
    matt, shiny = resin("ABS matt"), resin("ABS shiny")
    rng = np.random.default_rng(2)
    faces = list(shop.built.faces.values())
    for day in range(1, 13):
        shop.shoot(day, 2000)
        ran, level = ((matt, 0.0), (shiny, 0.5))[day % 2]
        drafts = [
            shop.draft(
                f"{2.5 + level + 1e-5 * 2000 * day + rng.normal(0, 0.02):.3f}", face=face, spot=shop.spot("gate", face)
            )
            for face in faces
        ]
        shop.take(day + 0.1, *drafts, resin=ran)
    moved = levels.learn_levels(shop.tool.plant, at=shop.day(20))
    assert moved == {face.pk for face in faces}
    learned = {one.resin: one.offset for one in LevelOffset.objects.filter(resin__isnull=False)}
    assert learned[shiny] - learned[matt] == pytest.approx(0.5, abs=0.05)
    trend = only(shop)
    assert trend.count == 12
    assert trend.residual_sd == pytest.approx(0.02, abs=0.02)
    assert trend.slope == pytest.approx(1e-5, rel=0.2)
