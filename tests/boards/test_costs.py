"""What a plant reckons with, and what bad parts come to."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from shop.bench.models import Costs, PartCost
from shop.boards import costs
from shop.people import wording
from shop.people.models import Person, Plant
from tests.factories import build_tool

pytestmark = pytest.mark.django_db


def test_part_costs_are_the_tools_own_else_the_plants_mean(
    lead: Person, at: datetime, django_assert_num_queries: Any
) -> None:
    dear, plain = (build_tool(lead, at).tool for _ in range(2))
    Costs.objects.create(plant=lead.plant, currency="CHF", bad_part=Decimal("0.80"))
    PartCost.objects.create(tool=dear, amount=Decimal("12.50"))
    with django_assert_num_queries(2):
        currency, by_tool = costs.part_costs(lead.plant, [dear.pk, plain.pk])
    assert currency == "CHF"
    assert by_tool == {dear.pk: Decimal("12.50"), plain.pk: Decimal("0.80")}


def test_plant_that_set_nothing_reckons_with_the_seeds(plant: Plant) -> None:
    currency, by_tool = costs.part_costs(plant, [7])
    assert (currency, by_tool) == ("EUR", {7: Decimal("1.50")})
    assert Costs.objects.count() == 0


def test_waiting_costs_a_part_for_each_shot_beyond_the_limit() -> None:
    assert costs.waiting_cost(120.5, Decimal("1.50")) == Decimal("180.75")
    assert costs.waiting_cost(None, Decimal("1.50")) is None


@pytest.mark.parametrize(
    ("amount", "words"),
    [
        ("1.5", "1.50\u00a0EUR"),
        ("9.994", "9.99\u00a0EUR"),
        ("12.49", "12\u00a0EUR"),
        ("3400", "3\u202f400\u00a0EUR"),
        ("0", "0\u00a0EUR"),
        ("-250", "\u2212250\u00a0EUR"),
    ],
)
def test_money_is_whole_from_ten_on(amount: str, words: str) -> None:
    assert costs.money(Decimal(amount), "EUR") == words


def test_money_has_the_readers_decimal_sign(person_of: Any) -> None:
    with wording.reading_as(person_of("lead", decimal_sign="comma")):
        assert costs.money(Decimal("1.5"), "EUR") == "1,50\u00a0EUR"
    assert costs.money(None, "EUR") == "–"
