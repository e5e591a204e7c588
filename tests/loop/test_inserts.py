"""Inserts that are moved: their shots are made where they sat, also when it is entered afterwards."""

from __future__ import annotations

from datetime import datetime, timedelta

from shop import loop
from shop.people.models import Person
from shop.press.models import InsertShots
from tests.measuring import open_shop


def totals(*inserts: object) -> list[int]:
    made = InsertShots.objects.totals([insert.pk for insert in inserts])  # type: ignore[attr-defined]
    return [made.get(insert.pk, 0) for insert in inserts]  # type: ignore[attr-defined]


def test_insert_moved_in_hindsight_gives_its_shots_to_what_sat_there(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=1, spares=1)
    first, spare = shop.built.inserts["1"], shop.built.inserts["2"]
    shop.shoot(1, 100)
    shop.shoot(3, 50)
    assert totals(first, spare) == [150, 0]
    loop.insert_moved(insert=spare, position=shop.built.positions[1], by=lead, at=at + timedelta(days=2))
    assert totals(first, spare) == [100, 50]


def test_insert_taken_out_in_hindsight_makes_no_shots_since(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=2)
    first, second = shop.built.inserts["1"], shop.built.inserts["2"]
    shop.shoot(1, 100)
    shop.shoot(3, 50)
    loop.insert_taken_out(insert=first, by=lead, at=at + timedelta(days=2))
    assert totals(first, second) == [100, 150]
