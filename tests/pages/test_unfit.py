"""Unfit gauges: saying so, the walk through what was read, deciding several at once, and the marks elsewhere."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.people.models import Person, Plant
from shop.quality.models import Reading, UnfitDecision, UnfitFinding
from shop.quality.services import unfit
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
    made.shoot(1, 100)
    made.take(2, *(made.draft(value, face=face) for face in made.built.faces.values() for value in ("3.0", "3.2")))
    return made


@pytest.fixture
def signed_in(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


@pytest.fixture
def finding(shop: Shop) -> UnfitFinding:
    return unfit.find_unfit(gauge=shop.gloss, why="dropped", by=shop.inspector, at=shop.day(3))


def at(finding: UnfitFinding) -> str:
    return reverse("unfit-finding", args=[finding.pk])


def form(decision: str, reason: str = "far inside", **more: Any) -> dict[str, Any]:
    return {"decision": decision, "reason": reason, "ref": str(uuid.uuid4()), **more}


def page(client: Client, address: str) -> str:
    shown = client.get(address)
    assert shown.status_code == 200
    return str(shown.content.decode())


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_everybody_reads_and_who_keeps_gauges_decides(
    client: Client, shop: Shop, finding: UnfitFinding, person_of: Any, role: str
) -> None:
    client.force_login(person_of(role))
    keeps = role in ("quality", "owner")
    assert client.get(reverse("unfit")).status_code == 200
    assert ('name="decision"' in page(client, at(finding))) == keeps
    readings = list(Reading.objects.values_list("pk", flat=True)[:1])
    assert client.post(at(finding), form("stands", reading=readings)).status_code == (303 if keeps else 403)
    door = reverse("gauge-unfit", args=[shop.stylus.pk])
    assert client.post(door, {"why": "dropped"}).status_code == (303 if keeps else 403)


def test_gauge_is_found_unfit_with_a_reason(signed_in: Client, shop: Shop) -> None:
    address = reverse("gauge-unfit", args=[shop.gloss.pk])
    assert shop.gloss.number in page(signed_in, address)
    kept = signed_in.post(address, {"why": "", "ref": str(uuid.uuid4())})
    assert kept.status_code == 422
    assert not UnfitFinding.objects.exists()
    ahead = (timezone.localtime() + timedelta(days=2)).strftime("%Y-%m-%dT%H:%M")
    late = signed_in.post(address, {"why": "fell off the plate", "at": ahead})
    assert late.status_code == 422
    assert "fell off the plate" in late.content.decode()
    sent = signed_in.post(address, {"why": "fell off the plate", "ref": str(uuid.uuid4())})
    seen = page(signed_in, sent.headers["Location"])
    assert "fell off the plate" in seen
    assert "0 / 4" in seen


def test_gauge_and_finding_of_another_plant_are_not_there(
    client: Client, shop: Shop, finding: UnfitFinding, person_of: Any
) -> None:
    elsewhere = Plant.objects.create(name="Elsewhere", time_zone="UTC")
    client.force_login(person_of("quality", plant=elsewhere))
    assert client.get(at(finding)).status_code == 404
    assert client.get(reverse("gauge-unfit", args=[shop.gloss.pk])).status_code == 404
    assert "dropped" not in page(client, reverse("unfit"))


def test_several_readings_are_decided_with_one_reason_and_progress_is_kept(
    signed_in: Client, finding: UnfitFinding
) -> None:
    one, two, three, _last = Reading.objects.order_by("id")
    sent = signed_in.post(at(finding), form("stands", reading=[one.pk, three.pk]))
    seen = page(signed_in, sent.headers["Location"])
    assert "2 readings are decided. 2 are still to decide." in seen
    assert "2 / 4" in seen
    assert "2 to decide" in page(signed_in, reverse("unfit"))
    assert list(UnfitDecision.objects.values_list("reason", flat=True)) == ["far inside"] * 2
    signed_in.post(at(finding), form("measure again", face=[two.face_id, three.face_id]))
    assert UnfitDecision.objects.filter(decision="measure again").count() == 2, "only what was undecided on the faces"
    assert "all decided" in page(signed_in, reverse("unfit"))


def test_nothing_ticked_and_no_reason_are_refused_and_what_was_typed_is_kept(
    signed_in: Client, finding: UnfitFinding
) -> None:
    none = signed_in.post(at(finding), form("stands", reason="far inside by 0.8"))
    assert none.status_code == 422
    assert "No reading is chosen." in none.content.decode()
    assert "far inside by 0.8" in none.content.decode()
    reading = Reading.objects.earliest("id")
    for sent in (form("stands", reason="", reading=reading.pk), form("", reading=reading.pk), form("x", reading=1)):
        assert signed_in.post(at(finding), sent).status_code == 422
    assert not UnfitDecision.objects.exists()


def test_what_was_ticked_is_still_ticked_after_a_refusal(signed_in: Client, finding: UnfitFinding) -> None:
    reading = Reading.objects.earliest("id")
    kept = signed_in.post(at(finding), form("stands", reason="", reading=reading.pk)).content.decode()
    assert f'name="reading" value="{reading.pk}" checked' in kept


def test_double_tap_decides_once(signed_in: Client, finding: UnfitFinding) -> None:
    sent = form("stands", reading=Reading.objects.earliest("id").pk)
    assert [signed_in.post(at(finding), sent).status_code for _ in range(2)] == [303, 303]
    assert UnfitDecision.objects.count() == 1


def test_decision_is_changed_with_why_and_withdrawn_ones_cannot_be_ticked(
    signed_in: Client, finding: UnfitFinding
) -> None:
    reading = Reading.objects.earliest("id")
    signed_in.post(at(finding), form("stands", reading=reading.pk))
    refused = signed_in.post(at(finding), form("withdraw", reading=reading.pk))
    assert refused.status_code == 422
    assert "Changing that wants a reason" in refused.content.decode()
    signed_in.post(at(finding), form("withdraw", reading=reading.pk, why="the lab says 1.2 off"))
    seen = page(signed_in, at(finding))
    assert "the lab says 1.2 off" in seen
    assert f'name="reading" value="{reading.pk}"' not in seen


def test_inspection_says_in_doubt_and_measure_today_asks_again(
    signed_in: Client, shop: Shop, finding: UnfitFinding
) -> None:
    reading = Reading.objects.earliest("id")
    inspection = reverse("measure-inspection", args=[reading.inspection_id])
    seen = page(signed_in, inspection)
    assert "in doubt" in seen
    assert f"gauge {shop.gloss.number} unfit" in seen
    signed_in.post(at(finding), form("measure again", face=reading.face_id))
    assert "measure again" in page(signed_in, inspection)
    assert "is measured again: gauge G-1" in page(signed_in, reverse("measure"))


def test_empty_list_says_what_belongs_there(signed_in: Client, shop: Shop) -> None:
    seen = page(signed_in, reverse("unfit"))
    assert "No gauge was found unfit so far." in seen
    assert reverse("gauge-unfit", args=[shop.gloss.pk]) in seen
