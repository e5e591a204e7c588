"""Bench: the orders by their place, the filters in the address, and who reads it."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client

from shop.bench.states import State
from shop.people.models import Person, Plant
from tests.bench.orders import Hands
from tests.benching import order_in, stoned_tool

pytestmark = pytest.mark.django_db
BENCH = "/bench/"


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


def words_of(client: Client, **asked: Any) -> str:
    shown = client.get(BENCH, asked)
    assert shown.status_code == 200
    return str(shown.content.decode())


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_the_bench(client: Client, hands: Hands, person_of: Any, role: str) -> None:
    order = order_in(State.RAISED, [stoned_tool(hands.lead).face], hands)
    client.force_login(person_of(role))
    words = words_of(client)
    assert order.number in words
    assert "scratch or drag was reported" in words


def test_bench_is_read_only(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert client.post(BENCH, {"do": "accept"}).status_code in (200, 405)


def test_orders_are_found_by_tool_number_and_hand(client: Client, hands: Hands, lead: Person) -> None:
    raised = order_in(State.RAISED, [stoned_tool(lead).face], hands)
    planned = order_in(State.PLANNED, [stoned_tool(lead).face], hands)
    sent = order_in(State.SENT_OUT, [stoned_tool(lead).face], hands)
    client.force_login(lead)
    for asked, found in (
        ({"tool": raised.tool.number.lower()}, {raised}),
        ({"tool": planned.number}, {planned}),
        ({"polisher": hands.polisher.pk}, {planned, sent}),
        ({"house": sent.outside_house_id}, {sent}),
        ({"polisher": "", "house": "", "tool": ""}, {raised, planned, sent}),
    ):
        words = words_of(client, **asked)
        assert {order for order in (raised, planned, sent) if order.number in words} == found, asked
    assert "No order fits these choices." in words_of(client, tool="T-9999")
    assert 'value="T-9999"' in words_of(client, tool="T-9999")


def test_nonsense_in_the_address_is_no_error(client: Client, hands: Hands, lead: Person) -> None:
    order_in(State.RAISED, [stoned_tool(lead).face], hands)
    client.force_login(lead)
    words_of(client, polisher="x", house="1; drop", show="?")


def test_ended_orders_are_shown_on_demand(client: Client, hands: Hands, lead: Person) -> None:
    turned_down = order_in(State.TURNED_DOWN, [stoned_tool(lead).face], hands)
    client.force_login(lead)
    assert turned_down.number not in words_of(client)
    assert turned_down.number in words_of(client, show="ended")


def test_empty_bench_says_what_belongs_there(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert "Work orders stand here." in words_of(client)
    assert "Orders that are released" in words_of(client, show="ended")


def test_orders_of_another_plant_are_not_on_the_bench(client: Client, hands: Hands, person_of: Any) -> None:
    order = order_in(State.RAISED, [stoned_tool(hands.lead).face], hands)
    client.force_login(person_of("lead", plant=Plant.objects.create(name="Elsewhere")))
    assert order.number not in words_of(client)
