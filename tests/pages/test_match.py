"""Faces that must match: the groups of a tool on their page, on the tool's and on the inspection's."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.people.models import Person
from shop.quality.models import MatchGroup, MatchVerdict
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    began = timezone.now() - timedelta(days=10)
    made: Shop = open_shop(lead, press_tech, inspector, began, cavities=3)
    for face in made.built.faces.values():
        factories.satin(face, lead, began)
    return made


@pytest.fixture
def signed_in(client: Client, engineer: Person) -> Client:
    client.force_login(engineer)
    return client


def at(shop: Shop) -> str:
    return reverse("tool-match", args=[shop.tool.pk])


def form(shop: Shop, **given: Any) -> dict[str, Any]:
    faces = [face.pk for face in shop.built.faces.values()]
    asked = {
        "do": "define", "name": "three buttons", "parameter": "gloss", "where": "part", "geometry_deg": "60",
        "tolerance": "0,5", "face": faces,
    }  # fmt: skip
    return {**asked, **given}


def measured(shop: Shop, *values: str) -> Any:
    faces = list(shop.built.faces.values())
    return shop.take(2, *(shop.draft(value, face=face) for face, value in zip(faces, values, strict=False)))


def test_group_is_defined_with_a_decimal_comma_and_shown_on_the_tool(signed_in: Client, shop: Shop) -> None:
    assert "Say which faces must match" in signed_in.get(reverse("tool", args=[shop.tool.pk])).content.decode()
    sent = signed_in.post(at(shop), form(shop))
    assert sent.status_code == 303
    assert "three buttons" in signed_in.get(at(shop)).content.decode()
    tool = signed_in.get(reverse("tool", args=[shop.tool.pk])).content.decode()
    assert "within 0.5\u00a0GU" in tool
    assert "Not judged yet" in tool


def test_off_match_names_the_faces_and_says_what_it_may_be(signed_in: Client, shop: Shop) -> None:
    signed_in.post(at(shop), form(shop))
    inspection = measured(shop, "3.0", "3.9")
    assert MatchVerdict.objects.get().outcome == "no"
    for address in (reverse("measure-inspection", args=[inspection.pk]), reverse("tool", args=[shop.tool.pk])):
        seen = signed_in.get(address).content.decode()
        assert "off match" in seen
        assert "2 show 2 reads 0.9\u00a0GU above 1 show 1" in seen
        assert "One face alone is that face; all moved is process" in seen
        assert "3 show 3" in seen


@pytest.mark.parametrize(
    "wrong",
    [{"tolerance": "half"}, {"tolerance": ""}, {"face": []}, {"name": ""}, {"geometry_deg": ""}, {"parameter": "x"}],
)
def test_group_that_cannot_be_keeps_the_form(signed_in: Client, shop: Shop, wrong: dict[str, Any]) -> None:
    kept = signed_in.post(at(shop), form(shop, **{"name": "three buttons", **wrong}))
    assert kept.status_code == 422
    assert wrong.get("name", "three buttons") in kept.content.decode()
    assert not MatchGroup.objects.exists()


def test_group_is_ended_with_a_reason(signed_in: Client, shop: Shop) -> None:
    signed_in.post(at(shop), form(shop))
    group = MatchGroup.objects.get()
    assert signed_in.post(at(shop), {"do": "end", "group": group.pk, "why": ""}).status_code == 422
    assert signed_in.post(at(shop), {"do": "end", "group": group.pk, "why": "one part now"}).status_code == 303
    group.refresh_from_db()
    assert isinstance(group.ended_at, datetime)
    assert "ended" in signed_in.get(at(shop)).content.decode()
    assert "three buttons" not in signed_in.get(reverse("tool", args=[shop.tool.pk])).content.decode()


def test_who_does_not_specify_reads_the_groups_only(client: Client, shop: Shop, viewer: Person) -> None:
    client.force_login(viewer)
    assert "A new group" not in client.get(at(shop)).content.decode()
    assert client.post(at(shop), form(shop)).status_code == 403


def test_faces_of_another_tool_are_not_taken(signed_in: Client, shop: Shop) -> None:
    other = factories.build_tool(shop.lead, shop.start)
    assert signed_in.post(at(shop), form(shop, face=[shop.face.pk, other.face.pk])).status_code == 422
    assert not MatchGroup.objects.exists()
