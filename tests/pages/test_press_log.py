"""Press log: who may, the answer at once, two taps and a number, and forms that lose nothing."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.paper.models import StoredFile
from shop.people.models import Person
from shop.press.models import Damage, Run, ShotEntry
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db
PNG = bytes.fromhex("89504e470d0a1a0a0000000d4948445200000001000000010806000000")


@pytest.fixture
def recently() -> datetime:
    """Ten days ago, since pages work at the clock's time."""
    return timezone.now() - timedelta(days=10)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, recently: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, recently, cavities=2)
    for face in made.built.faces.values():
        factories.satin(face, lead, recently)
    return made


@pytest.fixture
def signed_in(client: Client, press_tech: Person) -> Client:
    client.force_login(press_tech)
    return client


def counted(number: str, **more: Any) -> dict[str, Any]:
    return {"number": number, "source": "by hand", "blocked": "", "ref": str(uuid.uuid4()), **more}


def page(shop: Shop) -> str:
    return reverse("press-log-tool", args=[shop.tool.pk])


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_and_only_some_log_shots(client: Client, shop: Shop, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    assert client.get(reverse("press-log")).status_code == 200
    assert client.get(page(shop)).status_code == 200
    sent = client.post(page(shop), counted("10"))
    assert sent.status_code == (303 if role in ("lead", "press", "owner") else 403)


def test_tool_is_found_by_number_and_by_the_address_of_its_code(signed_in: Client, shop: Shop) -> None:
    for scanned in (shop.tool.number.lower(), "https://tablet.example" + reverse("tool", args=[shop.tool.pk])):
        assert signed_in.get(reverse("press-log"), {"tool": scanned}).headers["Location"] == page(shop)


def test_unknown_number_is_kept_and_answered(signed_in: Client, shop: Shop) -> None:
    answer = signed_in.get(reverse("press-log"), {"tool": "T-9999"})
    assert answer.status_code == 422
    assert "No tool “T-9999”" in answer.content.decode()
    assert 'value="T-9999"' in answer.content.decode()


def test_fit_to_run_answers_for_the_order_that_is_asked(signed_in: Client, shop: Shop) -> None:
    whole = signed_in.get(page(shop), {"order": "5000"}).content.decode()
    assert 'class="fit-answer"' in whole
    part = signed_in.get(page(shop), {"order": "5000"}, headers={"HX-Request": "true"}).content.decode()
    assert part.strip().startswith('<div id="fitness"')
    assert "<html" not in part


def test_number_and_one_tap_log_shots_with_the_blocked_cavity(signed_in: Client, shop: Shop) -> None:
    assert signed_in.post(page(shop), counted("1 250", blocked=["", "2"])).status_code == 303
    entry = ShotEntry.objects.get(tool=shop.tool)
    assert (entry.shots, entry.blocked, entry.run) == (1250, [2], Run.objects.get(tool=shop.tool))


def test_double_tap_enters_once(signed_in: Client, shop: Shop) -> None:
    sent = counted("1250")
    assert [signed_in.post(page(shop), sent).status_code for _ in range(2)] == [303, 303]
    assert ShotEntry.objects.count() == 1


def test_question_keeps_what_was_typed_and_the_answer_lets_it_through(signed_in: Client, shop: Shop) -> None:
    sent = counted("98765", source="mould counter", blocked=["", "2"])
    asked = signed_in.post(page(shop), sent)
    words = asked.content.decode()
    assert asked.status_code == 422
    assert 'value="98765"' in words
    assert 'name="blocked" value="2" checked' in words
    assert 'value="shots.first_counter=baseline_only"' in words
    assert f'value="{sent["ref"]}"' in words
    again = signed_in.post(page(shop), {**sent, "answer": "shots.first_counter=baseline_only"})
    assert again.status_code == 303
    assert ShotEntry.objects.get().counter == 98765


def test_counter_that_fell_asks_for_the_numbers_it_needs(signed_in: Client, shop: Shop) -> None:
    answer = {"answer": "shots.first_counter=baseline_only"}
    signed_in.post(page(shop), counted("500", source="job counter", **answer))
    sent = counted("100", source="job counter")
    fell = signed_in.post(page(shop), sent).content.decode()
    assert "it fell" in fell
    assert 'name="answer.offset"' in fell
    taken = signed_in.post(page(shop), {**sent, "answer": "shots.counter_fell=new_job", "answer.offset": "0"})
    assert taken.status_code == 303
    assert ShotEntry.objects.get(counter=100).basis == "new job"


def test_words_for_a_number_are_kept_and_marked(signed_in: Client, shop: Shop) -> None:
    answer = signed_in.post(page(shop), counted("a lot"))
    assert answer.status_code == 422
    assert 'value="a lot"' in answer.content.decode()
    assert ShotEntry.objects.count() == 0


def test_entry_is_put_right_and_the_old_one_stays(signed_in: Client, shop: Shop) -> None:
    signed_in.post(page(shop), counted("1250"))
    old = ShotEntry.objects.get()
    address = reverse("press-log-correct", args=[old.pk])
    assert signed_in.post(address, {"number": "1520", "why": "", "blocked": ""}).status_code == 422
    assert signed_in.post(address, {"number": "1520", "why": "digits swapped", "blocked": ""}).status_code == 303
    assert ShotEntry.objects.in_force().get().shots == 1520
    assert ShotEntry.objects.count() == 2


def test_entry_is_taken_away_once_and_the_total_is_said(signed_in: Client, shop: Shop) -> None:
    shop.shoot(1, 300)
    twice = shop.shoot(2, 200)
    address = reverse("press-log-void", args=[twice.pk])
    assert address in signed_in.get(reverse("press-log-correct", args=[twice.pk])).content.decode()
    form = {"void_why": "entered twice", "ref": str(uuid.uuid4())}
    assert [signed_in.post(address, form).status_code for _tap in range(2)] == [303, 303]
    assert ShotEntry.objects.get(void=True).why == "entered twice"
    assert "Taken away; it stays on the record" in (said := signed_in.get(page(shop)).content.decode())
    assert "The tool stands at 300 shots" in said.replace("\xa0", " ")
    assert signed_in.get(reverse("press-log-correct", args=[twice.pk])).status_code == 404


def test_entry_is_not_taken_away_without_a_reason_or_twice(signed_in: Client, shop: Shop) -> None:
    entry = shop.shoot(1, 300)
    address = reverse("press-log-void", args=[entry.pk])
    kept = signed_in.post(address, {"void_why": ""})
    assert kept.status_code == 422
    assert kept.content.decode().count('role="alert"') == 1
    assert not ShotEntry.objects.filter(void=True).exists()
    signed_in.post(address, {"void_why": "entered twice"})
    again = signed_in.post(address, {"void_why": "really"})
    assert again.status_code == 422
    assert "put right or taken away before" in again.content.decode()


def test_correction_sent_twice_is_taken_once(signed_in: Client, shop: Shop) -> None:
    entry = shop.shoot(1, 1250)
    form = {"number": "1520", "why": "digits swapped", "blocked": "", "ref": str(uuid.uuid4())}
    address = reverse("press-log-correct", args=[entry.pk])
    assert [signed_in.post(address, form).status_code for _tap in range(2)] == [303, 303]
    assert ShotEntry.objects.count() == 2


def test_run_is_ended_and_begun_again(signed_in: Client, shop: Shop) -> None:
    run = Run.objects.get(tool=shop.tool)
    assert signed_in.post(reverse("press-log-end-run", args=[run.pk]), {"place": "rack"}).status_code == 303
    start = reverse("press-log-run", args=[shop.tool.pk])
    kept = signed_in.post(start, {"press": "", "order_number": "B-7"})
    assert kept.status_code == 422
    assert 'value="B-7"' in kept.content.decode()
    begun = signed_in.post(start, {"press": shop.press.pk, "order_number": "B-7", "order_shots": "5 000"})
    assert begun.status_code == 303
    assert Run.objects.running().get(tool=shop.tool).order_shots == 5000


def test_damage_is_reported_with_a_photo_and_stops_the_tool(signed_in: Client, shop: Shop) -> None:
    from django.core.files.uploadedfile import SimpleUploadedFile

    photo = SimpleUploadedFile("scratch.png", PNG, content_type="image/png")
    sent = {
        "kind": "scratch", "face": shop.face.pk, "stops_run": "yes", "note": "at the ejector", "photo": photo,
        "ref": str(uuid.uuid4()),
    }  # fmt: skip
    assert signed_in.post(reverse("damage", args=[shop.tool.pk]), sent).status_code == 303
    damage = Damage.objects.get()
    assert (damage.face, damage.stops_run, damage.photo) == (shop.face, True, StoredFile.objects.get())
    assert "fitness-no" in signed_in.get(page(shop)).content.decode()


def test_damage_of_no_kind_keeps_the_note(signed_in: Client, shop: Shop) -> None:
    kept = signed_in.post(reverse("damage", args=[shop.tool.pk]), {"note": "at the ejector", "face": shop.face.pk})
    assert kept.status_code == 422
    assert "at the ejector" in kept.content.decode()


def test_tool_of_another_plant_is_not_found(client: Client, shop: Shop, person_of: Any) -> None:
    from shop.people.models import Plant

    client.force_login(person_of("press", plant=Plant.objects.create(name="Elsewhere")))
    assert client.get(page(shop)).status_code == 404
