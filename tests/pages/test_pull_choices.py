"""When to pull: everybody sees the priced choices; the lead books one after seeing what will be booked."""

from __future__ import annotations

import re
from datetime import timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.bench.models import WorkOrder
from shop.people.models import Person
from tests.boards.wearing_tools import wearing_tool
from tests.factories import build_tool
from tests.measuring import Shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    return wearing_tool(lead, press_tech, inspector, timezone.now(), (0.03, 0.028, 0.004))


def page(client: Client, shop: Shop, **asked: str) -> str:
    answer = client.get(reverse("when-to-pull", args=[shop.tool.pk]), asked)
    assert answer.status_code == 200
    words: str = answer.content.decode()
    return words


def cheapest_key(words: str) -> str:
    return re.findall(r'class="button main" href="\?book=([^"]+)"', words)[0]


@pytest.mark.parametrize("role", ["polisher", "press", "quality", "engineer", "viewer"])
def test_others_see_the_choices_and_decide_nothing(client: Client, shop: Shop, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    words = page(client, shop)
    assert "Cheapest: pull it on" in words
    assert "Where the figures come from" in words
    assert "?book=" not in words
    today = timezone.localdate()
    assert "Book this visit?" not in page(client, shop, book=f"{today.isoformat()}-lightest")
    form = {f"work-{shop.face.pk}": "gloss blast", "due_on": today.isoformat(), "ref": str(uuid4())}
    assert client.post(reverse("when-to-pull", args=[shop.tool.pk]), form).status_code == 403
    before = WorkOrder.objects.filter(due_on__isnull=False)
    assert not before.exists()


def test_page_answers_at_its_head_and_marks_one_choice(client: Client, shop: Shop, lead: Person) -> None:
    client.force_login(lead)
    words = page(client, shop)
    assert words.count('class="is-cheapest"') == 1
    assert len(re.findall(r'<li id="choice-[A-H]"', words)) >= 3
    assert words.count('class="drawing priced-windows"') == 2
    assert "The values of the curve" in words
    assert "Barlow and Proschan" in words
    assert "seed, no source" in words


def test_lead_sees_what_will_be_booked_and_books_it(client: Client, shop: Shop, lead: Person) -> None:
    client.force_login(lead)
    words = page(client, shop, book=cheapest_key(page(client, shop)))
    assert "Book this visit?" in words
    form = dict(re.findall(r'<input type="hidden" name="(work-\d+)" value="([^"]+)">', words))
    assert form
    due = re.findall(r'name="due_on" type="date" value="([^"]+)"', words)[0]
    ref = re.findall(r'name="ref" value="([^"]+)"', words)[0]
    address = reverse("when-to-pull", args=[shop.tool.pk])
    answer = client.post(address, {**form, "due_on": due, "ref": ref})
    assert answer.status_code == 303
    order = WorkOrder.objects.get(due_on=due)
    assert answer["Location"] == reverse("work-order", args=[order.pk])
    assert {f"work-{line.face_id}": line.work for line in order.lines.open()}.items() >= form.items()
    assert order.state == "accepted"
    assert client.post(address, {**form, "due_on": due, "ref": ref}).status_code == 303
    assert WorkOrder.objects.filter(tool=shop.tool).count() == 1
    assert "Booked already:" in page(client, shop)


def test_day_that_has_passed_keeps_the_form(client: Client, shop: Shop, lead: Person) -> None:
    client.force_login(lead)
    past = (timezone.localdate() - timedelta(days=3)).isoformat()
    form = {f"work-{shop.face.pk}": "gloss blast", "due_on": past, "ref": str(uuid4())}
    answer = client.post(reverse("when-to-pull", args=[shop.tool.pk]), form)
    words = answer.content.decode()
    assert answer.status_code == 422
    assert "has passed" in words
    assert f'name="work-{shop.face.pk}" value="gloss blast"' in words
    assert past in words


@pytest.mark.parametrize("form", [{"due_on": "soon"}, {"due_on": ""}, {"work-x": "gloss blast"}, {"work-7": "gilding"}])
def test_nonsense_books_nothing(client: Client, shop: Shop, lead: Person, form: dict[str, str]) -> None:
    client.force_login(lead)
    due = {"due_on": timezone.localdate().isoformat(), "ref": str(uuid4())}
    answer = client.post(reverse("when-to-pull", args=[shop.tool.pk]), {**due, **form})
    assert answer.status_code == 422
    assert not WorkOrder.objects.filter(due_on__isnull=False).exists()


def test_tool_page_leads_here(client: Client, shop: Shop, lead: Person) -> None:
    client.force_login(lead)
    words = client.get(reverse("tool", args=[shop.tool.pk])).content.decode()
    assert reverse("when-to-pull", args=[shop.tool.pk]) in words


def test_choice_that_is_gone_says_so(client: Client, shop: Shop, lead: Person) -> None:
    client.force_login(lead)
    assert "not among them any more" in page(client, shop, book="2020-01-01-lightest")


def test_tool_without_readings_says_what_it_wants(client: Client, lead: Person) -> None:
    tool = build_tool(lead, timezone.now() - timedelta(days=2)).tool
    client.force_login(lead)
    words = client.get(reverse("when-to-pull", args=[tool.pk])).content.decode()
    assert "measure them, and their wear is seen" in words
    assert "priced-windows" not in words


def test_tool_of_another_plant_is_not_there(client: Client, shop: Shop, person_of: Any, lead: Person) -> None:
    other = type(lead.plant).objects.create(name="Altmühl")
    client.force_login(person_of("lead", plant=other))
    assert client.get(reverse("when-to-pull", args=[shop.tool.pk])).status_code == 404
