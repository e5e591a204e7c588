"""My page: a person's own language, units and decimal sign, and their password."""

from __future__ import annotations

import html
import re

import pytest
from django.test import Client
from django.urls import reverse

from shop.ledger.models import Change
from shop.people.models import Person
from tests.conftest import PASSWORD

pytestmark = pytest.mark.django_db
NEW = "a felt, a paste, a loupe"


@pytest.fixture
def signed_in(client: Client, polisher: Person) -> Client:
    client.force_login(polisher)
    return client


def change(client: Client, **typed: str) -> int:
    form = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW, **typed}
    return client.post(reverse("me-password"), form).status_code


def test_own_name_in_the_top_line_leads_to_the_page(signed_in: Client) -> None:
    words = signed_in.get(reverse("tool-list")).content.decode()
    assert re.search(r'<a class="who-name" href="/me/"[^>]*>Ivo Brandt', words)


def test_page_starts_from_what_the_person_reads(signed_in: Client, polisher: Person) -> None:
    Person.objects.filter(pk=polisher.pk).update(units="inch", language="es")
    words = signed_in.get(reverse("me")).content.decode()
    assert re.findall(r'name="(\w+)" value="(\w+)" checked', words) == [
        ("language", "es"), ("units", "inch"), ("decimal_sign", "plant"),
    ]  # fmt: skip


def test_person_chooses_language_units_and_decimals_and_the_trail_keeps_it(
    signed_in: Client, polisher: Person
) -> None:
    chosen = {"language": "de", "units": "inch", "decimal_sign": "comma"}
    assert signed_in.post(reverse("me"), chosen).status_code == 303
    polisher.refresh_from_db()
    assert (polisher.language, polisher.unit_system, polisher.decimal_comma) == ("de", "inch", True)
    trail = Change.objects.filter(room="people.person", row_id=polisher.pk).values_list("field", "new", "by")
    assert set(trail) == {(field, value, polisher.pk) for field, value in chosen.items()}
    assert signed_in.get(reverse("me"))["Content-Language"] == "de"


def test_person_goes_back_to_what_the_plant_reads(signed_in: Client, polisher: Person) -> None:
    Person.objects.filter(pk=polisher.pk).update(units="inch", decimal_sign="comma")
    signed_in.post(reverse("me"), {"language": "en", "units": "plant", "decimal_sign": "plant"})
    polisher.refresh_from_db()
    assert (polisher.units, polisher.decimal_sign) == ("", "")


def test_what_is_not_offered_is_not_taken_and_the_role_is_not_chosen(signed_in: Client, polisher: Person) -> None:
    form = {"language": "tlh", "units": "inch", "decimal_sign": "comma", "role": "owner"}
    assert signed_in.post(reverse("me"), form).status_code == 422
    assert signed_in.post(reverse("me"), form | {"language": "de"}).status_code == 303
    polisher.refresh_from_db()
    assert (polisher.role, polisher.language) == ("polisher", "de")


def test_password_changes_and_this_device_stays_signed_in(client: Client, polisher: Person) -> None:
    elsewhere = Client()
    for device in (client, elsewhere):
        device.post(reverse("sign-in"), {"username": polisher.username, "password": PASSWORD})
    assert change(client) == 303
    assert client.get(reverse("me")).status_code == 200
    assert elsewhere.get(reverse("me")).status_code == 302
    polisher.refresh_from_db()
    assert polisher.check_password(NEW)
    assert Change.objects.get(row_id=polisher.pk, field="password").new == "changed"


@pytest.mark.parametrize(
    "typed",
    [
        {"old_password": "guessed"},
        {"new_password2": "something else"},
        {"new_password1": "stone 9", "new_password2": "stone 9"},
    ],
)
def test_password_stays_where_the_form_is_wrong_and_is_never_shown_again(
    signed_in: Client, polisher: Person, typed: dict[str, str]
) -> None:
    form = {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW, **typed}
    kept = signed_in.post(reverse("me-password"), form)
    assert kept.status_code == 422
    words = html.unescape(kept.content.decode())
    assert "The password is as it was." in words
    assert not any(value in words for value in form.values())
    polisher.refresh_from_db()
    assert polisher.check_password(PASSWORD)


def test_password_is_not_kept_through_a_sign_in(client: Client) -> None:
    asked = client.post(reverse("me-password"), {"old_password": PASSWORD, "new_password1": NEW, "new_password2": NEW})
    packed = html.unescape(re.search(r'name="kept" value="([^"]*)"', asked.content.decode())[1])  # type: ignore[index]
    from shop.pages import kept

    form = kept.unpack(packed, asked.wsgi_request)
    assert form is not None
    assert form.fields == ()
