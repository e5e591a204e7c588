"""Costs: everybody sees what is reckoned with and where it is from; the lead sets it."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.bench.models import Costs, OutsidePrice, PartCost
from shop.bench.services.houses import add_house
from shop.people.models import Person
from tests.factories import build_tool

pytestmark = pytest.mark.django_db
FIGURES = {
    "currency": "EUR", "bench_hour": "72,50", "press_hour": "110", "change_hours": "4", "strip_hours": "1.5",
    "steel_um": "6", "bad_part": "0.80",
}  # fmt: skip


def page(client: Client, **posted: str) -> tuple[int, str]:
    address = reverse("costs")
    answer = client.post(address, posted) if posted else client.get(address)
    if answer.status_code == 303:
        answer = client.get(answer["Location"])
    return answer.status_code, answer.content.decode()


@pytest.mark.parametrize("role", ["polisher", "press", "quality", "engineer", "viewer"])
def test_others_see_the_figures_and_cannot_set_them(client: Client, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    status, words = page(client)
    assert status == 200
    assert "Seeds, no source." in words
    assert "65.00" in words
    assert "<button class=\"main\"" not in words
    assert page(client, do="plant", **FIGURES)[0] == 403
    assert not Costs.objects.exists()


@pytest.mark.parametrize("role", ["lead", "owner"])
def test_lead_sets_the_plants_figures(client: Client, person_of: Any, role: str) -> None:
    client.force_login(person_of(role, "Vera Lind"))
    status, words = page(client, do="plant", why="year of 2024", **FIGURES)
    assert status == 200
    assert "last set by Vera Lind" in words
    assert "Seeds, no source." not in words
    costs = Costs.objects.get()
    assert (costs.bench_hour, costs.change_hours) == (Decimal("72.50"), Decimal(4))


def test_figure_that_is_none_keeps_what_was_typed(client: Client, lead: Person) -> None:
    client.force_login(lead)
    status, words = page(client, do="plant", **{**FIGURES, "press_hour": "a lot", "steel_um": "7"})
    assert status == 422
    assert "a lot" in words
    assert 'value="7"' in words
    status, words = page(client, do="plant", **{**FIGURES, "bad_part": "-2"})
    assert status == 422
    assert "is not a cost" in words
    assert not Costs.objects.exists()


def test_lead_sets_what_a_bad_part_of_a_tool_costs(client: Client, lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool
    client.force_login(lead)
    assert "is set" in page(client, do="tool", tool=str(tool.pk), amount="12,40")[1]
    assert PartCost.objects.get().amount == Decimal("12.40")
    assert "12\u00a0EUR" in page(client)[1]
    assert "the plant&#x27;s mean again" in page(client, do="tool", tool=str(tool.pk), amount="")[1]
    assert not PartCost.objects.exists()


def test_tool_of_another_plant_is_not_offered(client: Client, lead: Person, at: datetime, person_of: Any) -> None:
    tool = build_tool(lead, at).tool
    other = type(lead.plant).objects.create(name="Altmühl")
    client.force_login(person_of("lead", plant=other))
    assert page(client, do="tool", tool=str(tool.pk), amount="3")[0] == 422
    assert not PartCost.objects.exists()


def test_lead_sets_what_a_house_asks(client: Client, lead: Person, at: datetime) -> None:
    house = add_house(plant=lead.plant, name="Ätzwerk", kind="texture house", by=lead, at=at)
    client.force_login(lead)
    form = {"do": "house", "house": str(house.pk), "work": "full refinish", "a_visit": "300", "days": "18"}
    words = page(client, **form, a_face="850")[1]
    assert "850\u00a0EUR" in words
    price = OutsidePrice.objects.get()
    assert (price.a_visit, price.a_face, price.days) == (Decimal(300), Decimal(850), 18)
    page(client, **form, a_face="")
    assert not OutsidePrice.objects.exists()


def test_page_takes_the_same_queries_however_many_prices(client: Client, lead: Person, at: datetime) -> None:
    client.force_login(lead)
    counts = []
    for number in (1, 9):
        for _each in range(number):
            tool = build_tool(lead, at).tool
            PartCost.objects.create(tool=tool, amount=Decimal(2))
            house = add_house(plant=lead.plant, name=f"House {tool.pk}", kind="plater", by=lead, at=at)
            OutsidePrice.objects.create(house=house, work="full refinish", a_face=Decimal(5))
        with CaptureQueriesContext(connection) as seen:
            page(client)
        counts.append(len(seen))
    assert counts[0] == counts[1]
