"""Who may open what: one table of all pages and roles, and each is tried as each role."""

from __future__ import annotations

from typing import Any

import pytest
from django.test import Client
from django.urls import URLPattern, get_resolver, reverse

from shop.people.models import Role

pytestmark = pytest.mark.django_db

ALL = frozenset(Role.values)
NOBODY_YET = frozenset({"anonymous"})
SHOOT = frozenset({"lead", "press", "owner"})
BENCH = frozenset({"lead", "polisher", "owner"})
SPECIFY = frozenset({"lead", "engineer", "owner"})
CONCEDE = frozenset({"lead", "quality", "engineer", "owner"})
DAMAGE = frozenset({"lead", "polisher", "press", "quality", "owner"})
QUALITY = frozenset({"quality", "owner"})
JUDGE = frozenset({"lead", "quality", "owner"})

# name of the page -> how it is opened, who may. Numbers that do not exist are asked for: who may gets 404, not 403.
PAGES: dict[str, tuple[str, frozenset[str]]] = {
    "sign-in": ("get", ALL | NOBODY_YET),
    "sign-out": ("post", ALL | NOBODY_YET),
    "ground": ("post", ALL),
    "home": ("get", ALL),
    "me": ("get", ALL),
    "me-password": ("post", ALL),
    "tool-list": ("get", ALL),
    "tool": ("get", ALL),
    "tool-move": ("post", SHOOT),
    "tool-insert-move": ("post", SHOOT),
    "tool-match": ("post", SPECIFY),
    "face-interval": ("post", SPECIFY),
    "spec": ("get", SPECIFY),
    "concession": ("get", CONCEDE),
    "concession-withdraw": ("get", CONCEDE),
    "finishes": ("get", ALL),
    "finishes-scale": ("get", ALL),
    "suitability": ("get", ALL),
    "ra-bands": ("post", SPECIFY),
    "press-log": ("get", ALL),
    "press-log-tool": ("post", SHOOT),
    "press-log-run": ("get", SHOOT),
    "press-log-end-run": ("get", SHOOT),
    "press-log-correct": ("get", SHOOT),
    "press-log-void": ("post", SHOOT),
    "damage": ("get", DAMAGE),
    "measure": ("get", ALL),
    "measure-tool": ("post", QUALITY),
    "measure-inspection": ("get", ALL),
    "measure-correct": ("get", QUALITY),
    "questions": ("get", ALL),
    "plaques": ("get", ALL),
    "plaque": ("post", QUALITY),
    "profile": ("post", QUALITY),
    "unfit": ("get", ALL),
    "unfit-finding": ("post", QUALITY),
    "gauge-unfit": ("get", QUALITY),
    "gauges": ("get", ALL),
    "gauge": ("post", QUALITY),
    "gauge-offset-new": ("get", QUALITY),
    "gauge-offset": ("get", ALL),
    "studies": ("get", ALL),
    "study-new": ("get", QUALITY),
    "study": ("get", ALL),
    "agreement-new": ("get", QUALITY),
    "agreement": ("get", ALL),
    "planned-runs": ("get", ALL),
    "whole-plant": ("get", ALL),
    "lives": ("get", ALL),
    "policy": ("get", ALL),
    "pull-list": ("get", ALL),
    "costs": ("get", ALL),
    "when-to-pull": ("get", ALL),
    "bench": ("get", ALL),
    "vice": ("get", BENCH),
    "work-order": ("get", ALL),
    "issue-traveller": ("post", BENCH),
    "records": ("get", ALL),
    "standards-check": ("get", ALL),
    "issue-standards-check": ("post", QUALITY),
    "suspect-parts": ("post", JUDGE),
    "concessions": ("get", ALL),
    "certificates": ("get", ALL),
    "certificate-face": ("post", JUDGE),
    "certificate-order": ("post", JUDGE),
    "document-cancel": ("post", JUDGE),
    "document": ("get", ALL),
    "file": ("get", ALL),
}
NOT_THERE = 987_654_321


def patterns() -> dict[str, URLPattern]:
    return {str(one.name): one for one in get_resolver().url_patterns if isinstance(one, URLPattern)}


def address(name: str) -> str:
    converters = patterns()[name].pattern.converters
    values = {key: NOT_THERE if type(one).__name__ == "IntConverter" else "0" * 64 for key, one in converters.items()}
    return reverse(name, kwargs=values)


def test_table_names_every_page_and_no_other() -> None:
    assert set(PAGES) == set(patterns())


@pytest.mark.parametrize("role", sorted(ALL))
def test_each_role_opens_its_pages_and_no_other(client: Client, person_of: Any, role: str) -> None:
    who = person_of(role)
    for name, (how, roles) in PAGES.items():
        client.force_login(who)
        status = getattr(client, how)(address(name)).status_code
        assert (status != 403) == (role in roles), f"{role} at {name}: {status}"
        assert status in (200, 302, 303, 403, 404, 405, 422), f"{role} at {name}: {status}"


def test_nobody_opens_anything_but_the_sign_in_without_signing_in(client: Client) -> None:
    for name, (_how, roles) in PAGES.items():
        answer = client.get(address(name))
        if roles & NOBODY_YET:
            assert answer.status_code in (200, 405)
        else:
            assert answer.status_code == 302
            assert answer["Location"].startswith("/sign-in/?next=")


def test_refusal_of_a_role_says_so_in_words(client: Client, person_of: Any) -> None:
    client.force_login(person_of("viewer"))
    answer = client.get(address("spec"))
    assert answer.status_code == 403
    assert "You are signed in as viewer" in answer.content.decode()
