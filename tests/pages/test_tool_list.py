"""Tool list: by its address, in a fixed number of queries, and of one mind with Fit to run."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from shop import loop
from shop.boards.fit_to_run import Answer, fit_to_run
from shop.boards.tool_list import tool_rows, tools_of
from shop.people.models import Person, Plant
from shop.tooling.services import inserts, tools
from tests.factories import build_tool, satin
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db
MOST_QUERIES = 10


@pytest.fixture
def recently() -> datetime:
    """Ten days ago, since pages work at the clock's time."""
    return timezone.now() - timedelta(days=10)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, recently: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, recently, cavities=2, title="Bezel")
    for face in made.built.faces.values():
        satin(face, lead, recently)
    return made


def may_run(plant: Plant, shop: Shop) -> Answer:
    row = next(row for row in tool_rows(tools_of(plant), plant) if row.tool.pk == shop.tool.pk)
    shop.tool.refresh_from_db()
    assert row.may_run == fit_to_run(shop.tool, None, timezone.now()).answer
    return row.may_run


def numbers(client: Client, address: str) -> list[str]:
    page = client.get(address)
    assert page.status_code == 200
    return [row.tool.number for row in page.context["rows"]]


def test_list_says_where_each_tool_is_and_what_it_has_run(client: Client, viewer: Person, shop: Shop) -> None:
    shop.shoot(1, 12_000)
    client.force_login(viewer)
    words = client.get("/tools/").content.decode()
    assert shop.tool.number in words
    assert "in press" in words
    assert "12\u202f000" in words


def test_list_is_of_one_mind_with_fit_to_run(plant: Plant, shop: Shop, lead: Person, press_tech: Person) -> None:
    now = timezone.now()
    shop.shoot(1, 1000)
    assert may_run(plant, shop) == Answer.YES
    inserts.take_out(insert=shop.built.inserts["2"], by=lead, at=now - timedelta(days=1))
    assert may_run(plant, shop) == Answer.CONDITIONS
    loop.damage_called(tool=shop.tool, kind="dent", face=shop.face, stops_run=True, by=press_tech, at=now)
    assert may_run(plant, shop) == Answer.NO


def test_face_off_spec_is_the_worst_and_stops_the_tool(plant: Plant, shop: Shop, inspector: Person) -> None:
    shop.shoot(1, 1000)
    loop.reading_taken(tool=shop.tool, kind="routine", drafts=[shop.draft(9.0)], by=inspector, at=shop.day(2))
    row = tool_rows(tools_of(plant), plant)[0]
    assert row.worst is not None
    assert row.worst.standing.state == "off spec"
    assert row.worst.bar is not None
    assert row.worst.bar.is_out
    assert "out of its band" in row.worst.bar.text
    assert may_run(plant, shop) == Answer.NO


def test_tool_in_repair_does_not_run(plant: Plant, shop: Shop, lead: Person) -> None:
    tools.set_status(tool=shop.tool, status="repair", by=lead, at=timezone.now())
    assert may_run(plant, shop) == Answer.NO


def test_address_filters_the_list(client: Client, viewer: Person, shop: Shop, lead: Person, recently: datetime) -> None:
    other = build_tool(lead, recently, title="Pump casing").tool
    client.force_login(viewer)
    assert numbers(client, "/tools/?place=in+press") == [shop.tool.number]
    assert numbers(client, "/tools/?text=pump") == [other.number]
    assert numbers(client, "/tools/?text=nothing+like+it") == []
    assert numbers(client, f"/tools/?customer={other.customer_id}") == [other.number]
    assert len(numbers(client, "/tools/?place=nowhere")) == 2  # a word that is no choice filters nothing


def test_disposed_tools_are_listed_only_when_asked_for(
    client: Client, viewer: Person, lead: Person, recently: datetime
) -> None:
    gone = build_tool(lead, recently).tool
    tools.set_status(tool=gone, status="disposed", by=lead, at=recently, why="Scrapped")
    client.force_login(viewer)
    assert numbers(client, "/tools/") == []
    assert numbers(client, "/tools/?status=disposed") == [gone.number]


def test_tools_of_another_plant_are_not_seen(client: Client, person_of: Any, shop: Shop) -> None:
    stranger = person_of("viewer", plant=Plant.objects.create(name="Elsewhere"))
    client.force_login(stranger)
    assert numbers(client, "/tools/") == []
    assert client.get(f"/tools/{shop.tool.pk}/").status_code == 404


def test_list_takes_a_fixed_number_of_queries(
    client: Client, viewer: Person, lead: Person, recently: datetime, django_assert_max_num_queries: Any
) -> None:
    for _ in range(3):
        satin(build_tool(lead, recently, cavities=4).face, lead, recently)
    client.force_login(viewer)
    with django_assert_max_num_queries(MOST_QUERIES) as few:
        client.get("/tools/")
    for _ in range(6):
        satin(build_tool(lead, recently, cavities=4).face, lead, recently)
    with django_assert_max_num_queries(MOST_QUERIES) as many:
        client.get("/tools/")
    assert len(many) == len(few)


def test_htmx_gets_the_rows_alone(client: Client, viewer: Person, shop: Shop) -> None:
    client.force_login(viewer)
    words = client.get("/tools/", headers={"HX-Request": "true"}).content.decode()
    assert shop.tool.number in words
    assert "<html" not in words


def test_plant_without_tools_says_what_belongs_here(client: Client, viewer: Person) -> None:
    client.force_login(viewer)
    assert "Here stands every tool" in client.get("/tools/").content.decode()


def test_worst_face_beyond_its_limit_is_said_to_be(client: Client, viewer: Person, shop: Shop) -> None:
    shop.shoot(1, 1000)
    drafts = [shop.draft("4.6", geometry_deg=60)]
    loop.reading_taken(tool=shop.tool, kind="routine", drafts=drafts, by=shop.inspector, at=shop.day(2))
    client.force_login(viewer)
    words = client.get("/tools/").content.decode()
    assert "beyond its limit" in words
    assert "may have reached its limit" not in words


def test_further_choices_stand_open_while_one_of_them_narrows_the_list(client: Client, viewer: Person) -> None:
    client.force_login(viewer)
    assert '<details class="more-choices" open>' in client.get("/tools/?place=rack").content.decode()
    assert '<details class="more-choices">' in client.get("/tools/?text=T-1").content.decode()


def test_empty_plant_is_offered_no_choices_among_nothing(client: Client, lead: Person) -> None:
    client.force_login(lead)
    words = client.get("/tools/").content.decode()
    assert 'class="nothing"' in words
    assert 'class="filter"' not in words
    assert 'class="filter"' in client.get("/tools/?state=due").content.decode()
