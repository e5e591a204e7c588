"""Entering an outside house."""

from __future__ import annotations

from datetime import datetime

from shop.bench.models import OutsideHouse
from shop.bench.services.houses import add_house
from shop.people.models import Person
from tests.tooling.refusing import refused, trail


def test_house_is_entered_once_under_its_name(lead: Person, at: datetime) -> None:
    house = add_house(plant=lead.plant, name=" Ätzwerk ", kind="texture house", lead_time_days=30, by=lead, at=at)
    assert (house.name, house.kind, house.lead_time_days) == ("Ätzwerk", "texture house", 30)
    assert trail(house) == [("name", "", "Ätzwerk", "entered")]
    refused("house.name_taken", add_house, plant=lead.plant, name="Ätzwerk", kind="plater", by=lead, at=at)
    assert OutsideHouse.objects.count() == 1
