"""The sweep of a whole plant: groups are learned, and every trend is forecast as it is one by one."""

from __future__ import annotations

from datetime import datetime

import numpy as np
import pytest

from shop import loop
from shop.people.models import Person
from shop.tooling.models import Face
from shop.watch.models import Pool, Standing, Trend
from shop.watch.services import learning, sweeping, trends
from tests.factories import satin
from tests.measuring import Shop, open_shop

CAVITIES = 8
RATES = np.linspace(0.9e-5, 1.6e-5, CAVITIES)


@pytest.fixture
def worn_shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """Eight satin faces of one tool that wear to gloss at rates of their own; the last was measured twice only."""
    shop = open_shop(lead, press_tech, inspector, at, cavities=CAVITIES)
    faces = list(shop.built.faces.values())
    rng = np.random.default_rng(5)
    for face in faces:
        satin(face, lead, at)
    for day in range(1, 8):
        shop.shoot(day, 8000)
        shown = faces if day <= 2 else faces[:-1]
        drafts = [
            shop.draft(f"{2.4 + rate * 8000 * day + rng.normal(0, 0.02):.3f}", face=face, spot=shop.spot("gate", face))
            for face, rate in zip(shown, RATES, strict=False)
        ]
        shop.take(day + 0.1, *drafts)
    trends.bring_up_to_date(faces, at=shop.day(8))
    return shop


def test_face_with_two_readings_has_a_forecast_once_its_sisters_have_taught_the_group(worn_shop: Shop) -> None:
    last = Trend.objects.order_by("face").last()
    assert last is not None
    assert (last.count, last.left_50) == (2, None)
    loop.swept(worn_shop.tool.plant, worn_shop.day(8))
    last.refresh_from_db()
    pool = Pool.objects.get(side="upper")
    assert last.pool == pool
    assert pool.faces == CAVITIES
    assert last.left_50 is not None
    # At 1.6e-5 a shot from 2.53 to 4.0: about 92,000 shots, less the 40,000 since it was measured.
    assert 30_000 < last.left_50 < 90_000
    assert last.own_left_50 is None
    assert Standing.objects.get(face=last.face).left_50 == last.left_50


def test_faces_that_wear_up_are_not_pooled_towards_the_lower_limit(worn_shop: Shop) -> None:
    learning.learn_groups(worn_shop.tool.plant, at=worn_shop.day(8))
    assert list(Pool.objects.values_list("side", flat=True)) == ["upper"]


def test_sweep_says_of_every_trend_what_is_said_of_it_alone(worn_shop: Shop) -> None:
    plant = worn_shop.tool.plant
    learning.learn_groups(plant, at=worn_shop.day(8))
    assert sweeping.forecast_all(plant, at=worn_shop.day(8)) == CAVITIES
    swept = {one.pk: one for one in Trend.objects.all()}
    trends.bring_up_to_date(Face.objects.all(), at=worn_shop.day(8))
    for alone in Trend.objects.all():
        together = swept[alone.pk]
        assert (together.towards, together.pool_id) == (alone.towards, alone.pool_id)
        assert together.chance_now == pytest.approx(alone.chance_now, abs=0.005)
        assert together.rate == pytest.approx(alone.rate, rel=0.02)
        for name in ("left_10", "left_50", "left_90", "own_left_10", "own_left_50", "own_left_90"):
            one, other = getattr(together, name), getattr(alone, name)
            assert one == (other if other is None else pytest.approx(other, rel=0.02, abs=60)), name


def test_group_that_has_too_few_faces_is_not_learned_and_what_was_learned_before_goes(worn_shop: Shop) -> None:
    plant = worn_shop.tool.plant
    learning.learn_groups(plant, at=worn_shop.day(8))
    assert Pool.objects.count() == 1
    kept = Trend.objects.order_by("pk").values_list("pk", flat=True)[: learning.LEAST_FACES - 1]
    Trend.objects.exclude(pk__in=list(kept)).update(points=b"")
    learning.learn_groups(plant, at=worn_shop.day(9))
    assert Pool.objects.count() == 0


def test_group_is_learned_anew_in_its_own_row(worn_shop: Shop) -> None:
    plant = worn_shop.tool.plant
    learning.learn_groups(plant, at=worn_shop.day(8))
    before = Pool.objects.get()
    learning.learn_groups(plant, at=worn_shop.day(9))
    assert (Pool.objects.get().pk, Pool.objects.get().learned_at) == (before.pk, worn_shop.day(9))
