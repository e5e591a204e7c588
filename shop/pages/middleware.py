"""Who reads: language, clock and units of the person signed in; sign-in first, without eating what was typed."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any
from urllib.parse import urlsplit

from django.contrib.auth.middleware import LoginRequiredMiddleware
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.urls import NoReverseMatch, reverse
from django.utils.translation import gettext_lazy as _

from shop.pages import kept
from shop.people import roles, wording
from shop.people.models import Person, Role

GROUND_COOKIE = "ground"
GROUNDS = ("paper", "steel")


class PersonalMiddleware:
    """Read every page in the person's language, at the plant's clock and in the person's units."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        reader = request.user
        if not isinstance(reader, Person):
            return self.get_response(request)
        with wording.reading_as(reader):
            response = self.get_response(request)
        response.headers.setdefault("Content-Language", reader.language)
        return response


class SignInFirstMiddleware(LoginRequiredMiddleware):
    """Ask for the sign-in before every page; a form that was sent meanwhile is kept through it."""

    def handle_no_permission(  # type: ignore[override]  # a page is as good an answer as a redirect
        self, request: HttpRequest, view_func: Any
    ) -> HttpResponseBase:
        """Send a reader to the sign-in; give a form's sender the sign-in with the form inside."""
        if request.method != "POST":
            return super().handle_no_permission(request, view_func)
        return _ask_again(request, "sign_in/sign_in.html", {"kept": kept.pack(request), "next": "", "username": ""})


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:  # noqa: ARG001 - Django passes it
    """Say in words that a form is out of date, and offer it again where it came from this site."""
    if not _from_here(request):
        return _ask_again(request, "sign_in/foreign_form.html", {})
    if request.path == reverse("sign-in"):
        brought = {name: request.POST.get(name, "") for name in ("kept", "next", "username")}
        return _ask_again(request, "sign_in/sign_in.html", brought)
    if not request.user.is_authenticated:
        return _ask_again(request, "sign_in/sign_in.html", {"kept": kept.pack(request), "next": "", "username": ""})
    return _ask_again(request, "sign_in/kept_form.html", {"form": kept.form_of(request), "stale": True})


def _from_here(request: HttpRequest) -> bool:
    origin = request.headers.get("Origin") or request.headers.get("Referer", "")
    return urlsplit(origin).netloc == request.get_host()


def _ask_again(request: HttpRequest, template: str, context: dict[str, Any]) -> HttpResponse:
    # htmx would put the page into the fragment it waits for; these two headers give it the whole window instead.
    response = render(request, template, context, status=403)
    response["HX-Retarget"] = "body"
    response["HX-Reswap"] = "innerHTML"
    return response


# name of the page, its words, the ability it takes, and the roles that find it in their top line
TOP_LINE: tuple[tuple[str, Any, roles.Ability, frozenset[str]], ...] = (
    ("pull-list", _("Pull list"), roles.Ability.READ, frozenset({Role.LEAD, Role.QUALITY, Role.ENGINEER, Role.VIEWER})),
    ("bench", _("Bench"), roles.Ability.READ, frozenset({Role.LEAD, Role.POLISHER, Role.QUALITY, Role.VIEWER})),
    ("vice", _("At my vice"), roles.Ability.BENCH_WORK, frozenset({Role.LEAD, Role.POLISHER})),
    ("press-log", _("Press log"), roles.Ability.LOG_SHOTS, frozenset({Role.LEAD, Role.PRESS})),
    ("measure", _("Measure"), roles.Ability.MEASURE, frozenset({Role.QUALITY})),
    ("tool-list", _("Tool list"), roles.Ability.READ, frozenset(Role.values)),
    ("finishes", _("Finishes"), roles.Ability.READ, frozenset(Role.values)),
    ("gauges", _("Gauges"), roles.Ability.READ, frozenset({Role.LEAD, Role.QUALITY})),
    ("records", _("Records"), roles.Ability.READ, frozenset({Role.LEAD, Role.QUALITY, Role.ENGINEER, Role.VIEWER})),
)
BELOW = {
    "tool": "tool-list",
    "press-log-tool": "press-log",
    "measure-tool": "measure",
    "work-order": "bench",
    "gauge": "gauges",
    "gauge-unfit": "gauges",
    "gauge-offset": "gauges",
    "gauge-offset-new": "gauges",
    "studies": "records",
    "study": "records",
    "agreement": "records",
    "plaques": "records",
    "plaque": "records",
    "unfit": "records",
    "unfit-finding": "records",
    "standards-check": "records",
    "certificates": "records",
    "suspect-parts": "records",
    "concessions": "records",
}


def navigation(request: HttpRequest) -> dict[str, Any]:
    """Return the pages of the top line for the role, which of them is open, and the ground chosen."""
    ground = request.COOKIES.get(GROUND_COOKIE, "")
    context: dict[str, Any] = {"ground": ground if ground in GROUNDS else "", "pages": [], "active_page": ""}
    reader = getattr(request, "user", None)
    if not isinstance(reader, Person):
        return context
    match = request.resolver_match
    here = match.url_name or "" if match else ""
    context["active_page"] = BELOW.get(here, here)
    context["pages"] = [
        (name, words)
        for name, words, ability, for_roles in TOP_LINE
        if (reader.role in for_roles or reader.role == Role.OWNER) and roles.may(reader, ability) and _there(name)
    ]
    return context


@cache
def _there(name: str) -> bool:
    """Return whether the page is part of this installation."""
    try:
        reverse(name)
    except NoReverseMatch:
        return False
    return True
