"""Signing in: the only open page, and a form that outlives a sign-in."""

from __future__ import annotations

import html
import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.people.models import Person
from tests.conftest import PASSWORD
from tests.factories import build_tool

pytestmark = pytest.mark.django_db
LANDS_ON = {
    "lead": "/pull-list/",
    "owner": "/pull-list/",
    "polisher": "/vice/",
    "press": "/press-log/",
    "quality": "/measure/",
    "engineer": "/finishes/",
    "viewer": "/tools/",
}


def kept_in(page: str) -> str:
    found = re.search(r'name="kept" value="([^"]*)"', page)
    assert found
    return html.unescape(found[1])


def sign_in(client: Client, who: Person, **more: str) -> Any:
    return client.post(reverse("sign-in"), {"username": who.username, "password": PASSWORD, **more})


@pytest.mark.parametrize(("role", "home"), LANDS_ON.items())
def test_each_role_lands_on_the_page_it_lives_on(client: Client, person_of: Any, role: str, home: str) -> None:
    assert sign_in(client, person_of(role))["Location"] == "/"
    assert client.get("/")["Location"] == home


def test_name_is_taken_in_any_case_and_a_wrong_password_keeps_the_name(client: Client, lead: Person) -> None:
    refused = client.post(reverse("sign-in"), {"username": lead.username, "password": "wrong"})
    assert refused.status_code == 422
    assert f'value="{lead.username}"' in refused.content.decode()
    assert client.post(reverse("sign-in"), {"username": lead.username.upper(), "password": PASSWORD}).status_code == 302


def test_somebody_who_left_cannot_sign_in(client: Client, lead: Person) -> None:
    lead.is_active = False
    lead.save(update_fields=["is_active"])
    assert sign_in(client, lead).status_code == 422


def test_reader_who_is_not_signed_in_is_sent_to_the_sign_in_and_back(client: Client, lead: Person) -> None:
    sent = client.get("/tools/?state=due")
    assert sent["Location"] == "/sign-in/?next=/tools/%3Fstate%3Ddue"
    assert sign_in(client, lead, next="/tools/?state=due")["Location"] == "/tools/?state=due"


@pytest.mark.parametrize("elsewhere", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"])
def test_sign_in_leads_nowhere_but_here(client: Client, lead: Person, elsewhere: str) -> None:
    assert sign_in(client, lead, next=elsewhere)["Location"] == "/"


def test_form_sent_after_the_sign_in_ended_is_offered_again_and_enters_once(
    client: Client, lead: Person, at: Any
) -> None:
    tool = build_tool(lead, at).tool
    address = reverse("tool-move", args=[tool.pk])
    page = client.post(address, {"place": "at customer", "why": "Trial <there>"})
    assert page.status_code == 403
    tool.refresh_from_db()
    assert tool.place == "rack"

    offered = sign_in(client, lead, kept=kept_in(page.content.decode())).content.decode()
    assert f'action="{address}"' in offered
    assert 'name="place" value="at customer"' in offered
    assert 'name="why" value="Trial &lt;there&gt;"' in offered
    assert client.post(address, {"place": "at customer", "why": "Trial <there>"}).status_code == 303
    tool.refresh_from_db()
    assert tool.place == "at customer"


def test_wrong_password_does_not_lose_the_kept_form(client: Client, lead: Person) -> None:
    kept = kept_in(client.post("/tools/", {"note": "3,4"}).content.decode())
    again = client.post(reverse("sign-in"), {"username": lead.username, "password": "wrong", "kept": kept})
    assert kept_in(again.content.decode()) == kept


def test_kept_form_that_was_altered_is_dropped(client: Client, lead: Person) -> None:
    kept = kept_in(client.post("/tools/", {"note": "3,4"}).content.decode())
    altered = sign_in(client, lead, kept=kept[:-3] + "abc")
    assert altered.status_code == 302


def test_passwords_are_never_kept(client: Client) -> None:
    from shop.pages import kept as keeping

    page = client.post("/tools/", {"password": "secret words", "note": "3,4"})
    request = page.wsgi_request
    form = keeping.unpack(kept_in(page.content.decode()), request)
    assert form is not None
    assert form.fields == (("note", "3,4"),)


def test_form_with_an_old_token_is_offered_again(lead: Person, at: Any) -> None:
    tool = build_tool(lead, at).tool
    client = Client(enforce_csrf_checks=True)
    client.force_login(lead)
    page = client.post(
        reverse("tool-move", args=[tool.pk]), {"place": "bench"}, headers={"origin": "http://testserver"}
    )
    assert page.status_code == 403
    words = page.content.decode()
    assert "nothing has been entered yet" in words
    assert 'name="place" value="bench"' in words
    tool.refresh_from_db()
    assert tool.place == "rack"


def test_form_from_another_site_is_not_offered_again(lead: Person, at: Any) -> None:
    tool = build_tool(lead, at).tool
    client = Client(enforce_csrf_checks=True)
    client.force_login(lead)
    page = client.post(
        reverse("tool-move", args=[tool.pk]), {"place": "bench"}, headers={"origin": "http://elsewhere.example"}
    )
    assert page.status_code == 403
    assert 'value="bench"' not in page.content.decode()


def test_sign_out_ends_the_session(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert client.post(reverse("sign-out")).status_code == 302
    assert client.get("/tools/").status_code == 302


def test_ground_is_kept_in_a_cookie_and_shown(client: Client, lead: Person) -> None:
    client.force_login(lead)
    assert client.post(reverse("ground"), {"ground": "steel", "back": "/tools/"})["Location"] == "/tools/"
    assert 'data-ground="steel"' in client.get("/tools/").content.decode()
    client.post(reverse("ground"), {"ground": "", "back": "/tools/"})
    assert "data-ground" not in client.get("/tools/").content.decode()


def test_page_speaks_the_language_of_whoever_reads(client: Client, person_of: Any) -> None:
    client.force_login(person_of("viewer", language="de"))
    page = client.get("/tools/", headers={"accept-language": "es"})
    assert '<html lang="de"' in page.content.decode()
    assert page["Content-Language"] == "de"


def test_pages_allow_no_inline_script_or_style(client: Client, lead: Person) -> None:
    client.force_login(lead)
    page = client.get("/tools/")
    policy = page["Content-Security-Policy"]
    assert "unsafe-inline" not in policy
    assert "default-src 'none'" in policy
    words = page.content.decode()
    assert not re.search(r"<script(?![^>]*src=)", words)
    assert " style=" not in words
