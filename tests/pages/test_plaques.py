"""Plaques: the list with states, one plaque's acts, and what was judged by one that is not good."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shop.boards.plaques import plaque_card, plaque_list
from shop.people.models import Person
from shop.tooling.models import Plaque, PlaqueCheck
from shop.tooling.services import plaques
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, timezone.now() - timedelta(days=10), cavities=1)
    factories.by_plaque(made.face, lead, made.start, factories.plaque(lead, number="PQ-GRAIN", copy="master"))
    return made


@pytest.fixture
def grain(shop: Shop) -> Plaque:
    return Plaque.objects.get(number="PQ-GRAIN")


@pytest.fixture
def signed_in(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def send(client: Client, one: Plaque, do: str, **fields: Any) -> Any:
    return client.post(reverse("plaque", args=[one.pk]), {"do": do, "ref": str(uuid.uuid4()), **fields})


def seen(client: Client, one: Plaque) -> str:
    return client.get(reverse("plaque", args=[one.pk])).content.decode()


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_and_only_quality_keeps_plaques(
    client: Client, grain: Plaque, person_of: Any, role: str
) -> None:
    client.force_login(person_of(role))
    assert client.get(reverse("plaques")).status_code == 200
    page = seen(client, grain)
    keeps = role in ("quality", "owner")
    assert ("Withdraw it" in page) == keeps
    assert send(client, grain, "sign", **{"sign-name": "A. Sample"}).status_code == (303 if keeps else 403)


def test_plaque_is_entered_once_by_a_double_tap(signed_in: Client, inspector: Person) -> None:
    form = {"number": "PQ-9", "code": "A 27", "copy": "master", "recheck_days": "90", "ref": str(uuid.uuid4())}
    for _tap in range(2):
        assert signed_in.post(reverse("plaques"), form).status_code == 303
    assert Plaque.objects.get().recheck_days == 90
    assert "check due" in signed_in.get(reverse("plaques")).content.decode()


def test_form_with_a_fault_keeps_what_was_typed(signed_in: Client, inspector: Person) -> None:
    sent = signed_in.post(reverse("plaques"), {"number": "PQ-9", "copy": "master", "recheck_days": "often"})
    assert sent.status_code == 422
    assert "PQ-9" in sent.content.decode()
    assert not Plaque.objects.exists()


def test_page_names_specs_limits_and_copies(signed_in: Client, grain: Plaque, shop: Shop) -> None:
    light = factories.plaque(shop.lead, number="PQ-LIGHT")
    assert send(signed_in, grain, "limit", **{"limit-light": light.pk, "limit-dark": ""}).status_code == 303
    assert send(signed_in, grain, "copy", **{"copy-number": "PQ-CELL"}).status_code == 303
    page = seen(signed_in, grain)
    for words in (shop.tool.number, "PQ-LIGHT", "PQ-CELL", "light limit"):
        assert words in page


def test_withdrawal_lists_what_was_judged_since_it_was_last_good(
    signed_in: Client, grain: Plaque, shop: Shop, at: datetime
) -> None:
    plaques.check(plaque=grain, passed=True, by=shop.inspector, at=shop.day(2))
    for days, grade in ((1, 0), (3, 1), (4, 2)):
        shop.take(days, shop.draft(grade, parameter="look gloss"))
    assert "Judged by it" not in seen(signed_in, grain)
    assert send(signed_in, grain, "withdraw", **{"withdraw-why": "scratched"}).status_code == 303
    card = plaque_card(Plaque.objects.get(pk=grain.pk), timezone.now())
    assert [int(one.reading.value) for one in card.doubted] == [2, 1]
    assert [one.verdict.outcome for one in card.doubted if one.verdict] == ["no", "yes"]
    page = seen(signed_in, grain)
    for words in ("withdrawn", "scratched", "slightly glossier", "clearly glossier", "off spec"):
        assert words in page
    assert "Withdraw it" not in page


def test_withdrawal_without_a_reason_keeps_the_plaque(signed_in: Client, grain: Plaque) -> None:
    sent = send(signed_in, grain, "withdraw", **{"withdraw-why": " "})
    assert sent.status_code == 422
    assert Plaque.objects.get(pk=grain.pk).withdrawn_at is None


def test_failed_check_wants_its_reason_and_then_says_what_is_in_doubt(signed_in: Client, grain: Plaque) -> None:
    sent = send(signed_in, grain, "check", **{"check-outcome": "failed", "check-gloss": "2,4"})
    assert sent.status_code == 422
    assert "2,4" in sent.content.decode()
    sent = send(signed_in, grain, "check", **{"check-outcome": "failed", "check-note": "faded"})
    assert sent.status_code == 303
    assert not PlaqueCheck.objects.get().passed
    assert "failed its check" in seen(signed_in, grain)


def test_plaque_of_another_plant_is_not_there(client: Client, grain: Plaque, person_of: Any) -> None:
    from shop.people.models import Plant

    stranger = person_of("quality", plant=Plant.objects.create(name="Elsewhere"))
    client.force_login(stranger)
    assert client.get(reverse("plaque", args=[grain.pk])).status_code == 404


def test_list_has_a_fixed_number_of_queries(shop: Shop, grain: Plaque) -> None:
    def queries() -> int:
        with CaptureQueriesContext(
            connection,
        ) as caught:
            assert plaque_list(shop.lead.plant, timezone.now())
        return len(caught)

    before = queries()
    for _n in range(5):
        copy = plaques.make_copy(master=grain, number=f"C-{_n}", recheck_days=9, by=shop.inspector, at=timezone.now())
        plaques.check(plaque=copy, passed=True, by=shop.inspector, at=timezone.now())
    assert queries() == before
