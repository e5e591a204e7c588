"""Measure: the list, the sheet, the verdict at once, and refusals that keep the sheet."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.boards.measure_sheet import Place, measure_sheet
from shop.people.models import Person
from shop.quality.models import Inspection, Reading, Verdict
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def recently() -> datetime:
    return timezone.now() - timedelta(days=10)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, recently: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, recently, cavities=2)
    for face in made.built.faces.values():
        factories.satin(face, lead, recently)
    return made


@pytest.fixture
def signed_in(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def address(shop: Shop) -> str:
    return reverse("measure-tool", args=[shop.tool.pk])


def first_place(shop: Shop) -> Place:
    return measure_sheet(shop.tool, Inspection.Kind.ROUTINE, timezone.now(), {shop.face.pk}).places[0]


def filled(shop: Shop, *values: str, **more: Any) -> dict[str, Any]:
    key = first_place(shop).key
    typed = {f"v-{key}-{number}": value for number, value in enumerate(values)}
    return {"gauge_gloss": shop.gloss.pk, f"angle-{key}": "60", "ref": str(uuid.uuid4()), **typed, **more}


def sent_and_seen(client: Client, target: str, form: dict[str, Any]) -> str:
    """Send the form and return the page that it leads to."""
    sent = client.post(target, form)
    assert sent.status_code == 303
    return client.get(sent.headers["Location"]).content.decode()


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_and_quality_measures(client: Client, shop: Shop, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    assert client.get(reverse("measure")).status_code == 200
    assert client.get(address(shop)).status_code == 200
    sent = client.post(address(shop), filled(shop, "3.0"))
    assert sent.status_code == (303 if role in ("quality", "owner") else 403)


def test_decimal_comma_and_several_values_give_one_verdict_at_once(signed_in: Client, shop: Shop) -> None:
    seen = sent_and_seen(signed_in, address(shop), filled(shop, "3,0", "3,2"))
    assert [reading.value for reading in Reading.objects.order_by("id")] == [Decimal("3.0"), Decimal("3.2")]
    verdict = Verdict.objects.get()
    assert (verdict.outcome, verdict.count) == ("yes", 2)
    assert "conforms" in seen
    assert "finish-bar" in seen


def test_failed_face_says_value_limit_and_suspect_parts(signed_in: Client, shop: Shop) -> None:
    shop.shoot(5, 700)
    sent = sent_and_seen(signed_in, address(shop), filled(shop, "4.6"))
    assert "gloss 4.6\u00a0GU is above 4.0\u00a0GU" in sent
    assert "Suspect parts" in sent
    assert "700\u00a0shots" in sent


def test_double_tap_enters_once(signed_in: Client, shop: Shop) -> None:
    sent = filled(shop, "3.0")
    assert [signed_in.post(address(shop), sent).status_code for _ in range(2)] == [303, 303]
    assert Inspection.objects.count() == 1


def test_missing_gauge_keeps_the_sheet_and_marks_the_value(signed_in: Client, shop: Shop) -> None:
    kept = signed_in.post(address(shop), filled(shop, "3,1", gauge_gloss="", note="bright lamp"))
    words = kept.content.decode()
    assert kept.status_code == 422
    assert 'value="3,1"' in words
    assert "bright lamp" in words
    assert 'class="fault"' in words
    assert Reading.objects.count() == 0


def test_words_for_a_value_are_kept(signed_in: Client, shop: Shop) -> None:
    kept = signed_in.post(address(shop), filled(shop, "shiny", "3.1"))
    assert kept.status_code == 422
    assert 'value="shiny"' in kept.content.decode()
    assert 'value="3.1"' in kept.content.decode()
    assert Inspection.objects.count() == 0


def test_empty_sheet_is_not_kept(signed_in: Client, shop: Shop) -> None:
    assert signed_in.post(address(shop), filled(shop)).status_code == 422
    assert Inspection.objects.count() == 0


def test_angle_that_the_spec_does_not_name_is_asked_at_once(signed_in: Client, shop: Shop) -> None:
    sent = filled(shop, "3.0") | {f"angle-{first_place(shop).key}": "20"}
    asked = signed_in.post(address(shop), sent)
    assert asked.status_code == 422
    assert 'value="reading.angle_not_in_spec=keep_unjudged"' in asked.content.decode()
    kept = sent_and_seen(signed_in, address(shop), {**sent, "answer": "reading.angle_not_in_spec=keep_unjudged"})
    assert "Kept without a verdict" in kept
    assert Verdict.objects.count() == 0


def test_comparison_with_the_plaque_is_a_verdict_of_its_own(signed_in: Client, shop: Shop, recently: datetime) -> None:
    built = factories.build_tool(shop.lead, recently)
    factories.by_plaque(built.face, shop.lead, recently)
    place = measure_sheet(built.tool, Inspection.Kind.ROUTINE, timezone.now()).places[0]
    target = reverse("measure-tool", args=[built.tool.pk])
    assert "clearly duller" in signed_in.get(target).content.decode()
    sent = sent_and_seen(signed_in, target, {f"v-{place.key}-0": "2", "ref": str(uuid.uuid4())})
    assert Verdict.objects.get().outcome == "no"
    assert "clearly glossier" in sent


def test_reading_is_put_right_with_a_reason(signed_in: Client, shop: Shop) -> None:
    signed_in.post(address(shop), filled(shop, "4.6"))
    target = reverse("measure-correct", args=[Reading.objects.get().pk])
    assert signed_in.get(target).status_code == 200
    assert signed_in.post(target, {"value": "3,6", "why": ""}).status_code == 422
    assert signed_in.post(target, {"value": "3,6", "why": "digits swapped"}).status_code == 303
    assert Verdict.objects.in_force().get().outcome == "yes"


def test_overdue_gauge_is_shown_as_such(signed_in: Client, shop: Shop) -> None:
    from shop.quality.services import gauges

    gauges.calibrate(
        gauge=shop.gloss, due_on=(timezone.now() - timedelta(days=2)).date(), expanded_a=Decimal("0.2"),
        by=shop.inspector, at=timezone.now() - timedelta(days=9),
    )  # fmt: skip
    assert "OVERDUE since" in signed_in.get(address(shop)).content.decode()


def test_sheet_draws_what_is_asked_for_and_folds_the_other_inserts(signed_in: Client, shop: Shop) -> None:
    address = reverse("measure-tool", args=[shop.tool.pk])
    sent = signed_in.get(address, {"face": shop.face.pk})
    (asked,) = sent.context["asked_maps"]
    assert shop.face in asked.faces
    assert all(shop.face not in drawn.faces for drawn in sent.context["other_maps"])
