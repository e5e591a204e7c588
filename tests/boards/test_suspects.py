"""Suspect parts reach back to the last good reading and no further."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest

from shop.boards import measured, suspects
from shop.people import wording
from shop.people.models import Person
from shop.quality.models import Verdict
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, at, cavities=2)
    for face in made.built.faces.values():
        factories.satin(face, lead, at)
    return made


def failed(shop: Shop, days: float, value: Any = "4.6") -> Verdict:
    verdict = shop.read(days, value, geometry_deg=60)
    assert verdict is not None
    assert verdict.outcome == "no"
    return verdict


def test_parts_since_the_last_good_reading_are_suspect_by_lot_and_cavity(shop: Shop) -> None:
    shop.shoot(1, 500)
    shop.read(1.5, "3.0", geometry_deg=60)
    shop.shoot(2, 700)
    shop.shoot(3, 300, lot="L2")
    found = suspects.of_verdict(failed(shop, 3.5), shop.day(4))
    assert found.parts == 1000
    assert [(lot.lot, lot.position, lot.parts) for lot in found.lots] == [("L1", 1, 700), ("L2", 1, 300)]
    assert found.since == shop.day(1.5)


def test_parts_of_the_whole_life_are_suspect_where_nothing_good_is_known(shop: Shop) -> None:
    shop.shoot(1, 500)
    found = suspects.of_verdict(failed(shop, 1.5), shop.day(2))
    assert found.since is None
    assert found.parts == 500
    assert "no good reading" in wording.say(found.because)


def test_good_reading_at_another_spot_clears_nothing(shop: Shop) -> None:
    shop.shoot(1, 500)
    shop.read(1.5, "3.0", geometry_deg=60, spot=shop.spot("end of fill"))
    assert suspects.of_verdict(failed(shop, 2), shop.day(2)).parts == 500


def test_parts_made_after_the_failed_reading_are_suspect_too(shop: Shop) -> None:
    verdict = failed(shop, 1)
    shop.shoot(2, 200)
    assert suspects.of_verdict(verdict, shop.day(3)).parts == 200


def test_verdict_is_said_with_value_limit_and_guard(shop: Shop) -> None:
    found = measured.measured(failed(shop, 1).inspection, shop.day(1))
    assert wording.say(found.found[0].words) == "gloss 4.6\u00a0GU is above 4.0\u00a0GU (guard 3.83\u00a0GU)."
    assert "Hold the suspect parts" in wording.say(found.found[0].step)
    assert found.worst == "no"
