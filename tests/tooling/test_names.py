"""Entering what tools are named after."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

import pytest

from shop.people.models import Person, Plant
from shop.tooling.models import Customer, Plaque, Resin
from shop.tooling.services import names
from tests.tooling.refusing import refused, trail


def test_customer_is_entered_with_the_rule_for_its_parts(lead: Person, at: datetime) -> None:
    customer = names.add_customer(name=" Lampen Süd ", acceptance="simple", buy_off=True, by=lead, at=at)
    assert (customer.name, customer.acceptance, customer.buy_off) == ("Lampen Süd", "simple", True)
    assert trail(customer) == [("name", "", "Lampen Süd", "entered")]


@pytest.mark.parametrize(("name", "family"), [("PA6-GF30", "PA6"), ("ABS natural", "ABS"), ("PP", "PP")])
def test_resin_is_of_the_family_that_its_name_begins_with(lead: Person, at: datetime, name: str, family: str) -> None:
    resin = names.resin_named(name, by=lead, at=at)
    assert (resin.family, resin.severity) == (family, 1)
    assert trail(resin) == [("name", "", name, "entered")]


def test_resin_that_wears_nothing_is_refused(lead: Person, at: datetime) -> None:
    refused("resin.severity_not_positive", names.add_resin, name="PP", severity=Decimal(0), by=lead, at=at)
    assert not Resin.objects.exists()


def test_plaques_number_is_taken_once_in_each_plant(lead: Person, at: datetime) -> None:
    plaque = names.add_plaque(plant=lead.plant, number="PQ-1", code="A 27", by=lead, at=at)
    refused("plaque.name_taken", names.add_plaque, plant=lead.plant, number=" PQ-1", by=lead, at=at)
    names.add_plaque(plant=Plant.objects.create(name="Elsewhere"), number="PQ-1", by=lead, at=at)
    assert trail(plaque) == [("number", "", "PQ-1", "entered")]
    assert Plaque.objects.count() == 2


def test_a_name_that_is_there_is_found_and_not_entered_again(lead: Person, at: datetime) -> None:
    customer = names.add_customer(name="Own", by=lead, at=at)
    assert names.customer_named("Own", by=lead, at=at) == customer
    resin = names.add_resin(name="ABS", by=lead, at=at)
    assert names.resin_named("ABS", by=lead, at=at) == resin
    plaque = names.add_plaque(plant=lead.plant, number="PQ-1", by=lead, at=at)
    assert names.plaque_numbered("PQ-1", plant=lead.plant, by=lead, at=at) == plaque
    assert (Customer.objects.count(), Resin.objects.count(), Plaque.objects.count()) == (1, 1, 1)


def test_a_name_that_is_empty_or_taken_is_refused(lead: Person, at: datetime) -> None:
    names.add_customer(name="Own", by=lead, at=at)
    refused("customer.name_taken", names.add_customer, name="Own ", by=lead, at=at)
    refused("customer.name_wanted", names.add_customer, name=" ", by=lead, at=at)
    refused("resin.name_wanted", names.add_resin, name="", by=lead, at=at)
