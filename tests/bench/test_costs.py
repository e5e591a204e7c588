"""Setting what a plant reckons with."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from shop.bench.models import Costs, OutsideHouse, OutsidePrice, PartCost
from shop.bench.services.costs import set_costs, set_part_cost, set_price
from shop.people.models import Person
from shop.tooling.models import Tool
from tests.bench.orders import house as texture_house
from tests.factories import Built
from tests.tooling.refusing import refused, refused_by, trail


@pytest.fixture
def tool(built: Built) -> Tool:
    return built.tool


@pytest.fixture
def house(lead: Person) -> OutsideHouse:
    return texture_house(lead)


def test_costs_are_set_once_a_plant_and_what_is_not_given_stays_the_seed(lead: Person, at: datetime) -> None:
    costs = set_costs(plant=lead.plant, currency=" chf ", figures={"bench_hour": Decimal("95")}, by=lead, at=at)
    assert (costs.currency, costs.bench_hour, costs.press_hour) == ("CHF", Decimal(95), Decimal("90.00"))
    assert ("bench_hour", "", "95.00", "") in trail(costs)
    assert Costs.objects.count() == 1


def test_change_of_costs_leaves_its_trail(lead: Person, at: datetime) -> None:
    first = set_costs(plant=lead.plant, currency="EUR", figures={}, by=lead, at=at)
    before = len(trail(first))
    again = set_costs(
        plant=lead.plant, currency="EUR", figures={"bad_part": Decimal("2.25")}, by=lead, at=at, why="new resin"
    )
    assert again.pk == first.pk
    assert trail(first)[before:] == [("bad_part", "1.50", "2.25", "new resin")]
    assert Costs.objects.get().bad_part == Decimal("2.25")


@pytest.mark.parametrize("amount", ["-0.01", "1000000"])
def test_cost_below_nought_or_beyond_its_column_is_refused(lead: Person, at: datetime, amount: str) -> None:
    said = refused(
        "costs.out_of_range", set_costs,
        plant=lead.plant, currency="EUR", figures={"bench_hour": Decimal(amount)}, by=lead, at=at,
    )  # fmt: skip
    assert said.field == "bench_hour"
    assert not Costs.objects.exists()


@pytest.mark.parametrize("currency", ["", "EU", "euro", "12A"])
def test_currency_is_three_letters(lead: Person, at: datetime, currency: str) -> None:
    refused("costs.currency", set_costs, plant=lead.plant, currency=currency, figures={}, by=lead, at=at)


def test_costs_below_nought_are_refused_by_the_database_too(lead: Person) -> None:
    refused_by("costs_not_negative", lambda: Costs.objects.create(plant=lead.plant, steel_um=Decimal(-1)))


def test_part_cost_is_the_tools_own_until_it_is_taken_away(tool: Tool, lead: Person, at: datetime) -> None:
    set_part_cost(tool=tool, amount=Decimal("12.50"), by=lead, at=at)
    own = set_part_cost(tool=tool, amount=Decimal("14"), by=lead, at=at, why="second source")
    assert own is not None
    assert PartCost.objects.get().amount == Decimal(14)
    assert set_part_cost(tool=tool, amount=None, by=lead, at=at) is None
    assert not PartCost.objects.exists()
    said = [row for row in trail(tool) if row[0] == "part_cost"]
    assert said == [
        ("part_cost", "", "12.50", ""),
        ("part_cost", "12.50", "14", "second source"),
        ("part_cost", "14.00", "", ""),
    ]


def test_part_cost_below_nought_is_refused(tool: Tool, lead: Person, at: datetime) -> None:
    refused("costs.out_of_range", set_part_cost, tool=tool, amount=Decimal(-1), by=lead, at=at)
    refused_by("part_cost_not_negative", lambda: PartCost.objects.create(tool=tool, amount=Decimal(-1)))


def test_price_of_a_house_is_kept_once_a_work(house: OutsideHouse, lead: Person, at: datetime) -> None:
    price: Any = {"house": house, "work": "full refinish", "by": lead, "at": at}
    set_price(a_face=Decimal(850), a_visit=Decimal(300), days=15, **price)
    set_price(a_face=Decimal(900), a_visit=Decimal(300), **price)
    held = OutsidePrice.objects.get()
    assert (held.a_face, held.a_visit, held.days) == (Decimal(900), Decimal(300), None)
    assert trail(house) == [
        ("price of full refinish", "", "300.00 + 850.00, 15 d", ""),
        ("price of full refinish", "300.00 + 850.00, 15 d", "300.00 + 900.00", ""),
    ]
    assert set_price(a_face=None, **price) is None
    assert not OutsidePrice.objects.exists()


def test_price_that_cannot_be_one_is_refused(house: OutsideHouse, lead: Person, at: datetime) -> None:
    refused("price.unknown_work", set_price, house=house, work="gilding", a_face=Decimal(1), by=lead, at=at)
    price: Any = {"house": house, "work": "full refinish", "by": lead, "at": at}
    assert refused("costs.out_of_range", set_price, a_face=Decimal(-1), **price).field == "a_face"
    assert refused("costs.out_of_range", set_price, a_face=Decimal(1), a_visit=Decimal(-1), **price).field == "a_visit"
    refused_by(
        "outside_price_not_negative",
        lambda: OutsidePrice.objects.create(house=house, work="full refinish", a_face=Decimal(-1)),
    )
    OutsidePrice.objects.create(house=house, work="full refinish", a_face=Decimal(1))
    refused_by(
        "outside_price_once",
        lambda: OutsidePrice.objects.create(house=house, work="full refinish", a_face=Decimal(2)),
    )
