"""Pull list: every role reads it, its address is a saved view, and its queries stay under ten."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shop import loop
from shop.people.models import Person
from tests import factories

pytestmark = pytest.mark.django_db


def damaged_tool(lead: Person, at: datetime, cavities: int) -> factories.Built:
    built = factories.build_tool(lead, at, cavities=cavities)
    for face in built.faces.values():
        factories.satin(face, lead, at)
        loop.damage_called(tool=built.tool, face=face, kind="rust", by=lead, at=at + timedelta(hours=1))
    loop.swept(lead.plant, at + timedelta(hours=2))
    return built


@pytest.fixture
def recently() -> datetime:
    return timezone.now() - timedelta(days=2)


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_the_list(client: Client, lead: Person, recently: Any, person_of: Any, role: str) -> None:
    built = damaged_tool(lead, recently, 2)
    client.force_login(person_of(role))
    words = client.get(reverse("pull-list")).content.decode()
    assert built.tool.number in words
    assert "rust" in words


def test_list_takes_the_same_few_queries_however_large_the_plant(client: Client, lead: Person, recently: Any) -> None:
    client.force_login(lead)
    counts = []
    for cavities in (2, 20):
        damaged_tool(lead, recently, cavities)
        with CaptureQueriesContext(connection) as seen:
            assert client.get(reverse("pull-list")).status_code == 200
        counts.append(len(seen))
    assert counts[0] == counts[1]
    assert counts[1] < 15


def test_address_is_a_saved_view(client: Client, lead: Person, recently: Any) -> None:
    first, second = damaged_tool(lead, recently, 1), damaged_tool(lead, recently, 1)
    client.force_login(lead)
    words = client.get(reverse("pull-list"), {"tool": first.tool.number}).content.decode()
    assert first.tool.number in words
    assert second.tool.number not in words
    assert "No face fits" in client.get(reverse("pull-list"), {"state": "off spec"}).content.decode()


def test_empty_list_says_what_belongs_there(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert "Nothing asks for work yet" in client.get(reverse("pull-list")).content.decode()


def test_long_list_is_paged_and_keeps_its_view(client: Client, lead: Person, recently: Any) -> None:
    damaged_tool(lead, recently, 42)
    client.force_login(lead)
    words = client.get(reverse("pull-list"), {"by": "tool"}).content.decode()
    assert "?by=tool&amp;page=2" in words
    assert client.get(reverse("pull-list"), {"by": "tool", "page": "2"}).status_code == 200


@pytest.mark.parametrize("nonsense", [{"within": "soon"}, {"customer": "x"}, {"page": "last"}, {"state": "purple"}])
def test_nonsense_in_the_address_does_no_harm(client: Client, lead: Person, nonsense: dict[str, str]) -> None:
    client.force_login(lead)
    assert client.get(reverse("pull-list"), nonsense).status_code == 200


def test_empty_plant_is_offered_no_choices_among_nothing(client: Client, lead: Person) -> None:
    client.force_login(lead)
    words = client.get("/pull-list/").content.decode()
    assert 'class="nothing"' in words
    assert 'class="filter"' not in words
    assert 'class="filter"' in client.get("/pull-list/?state=due").content.decode()
