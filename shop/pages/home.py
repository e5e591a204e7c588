"""Home: each role lands on the page it lives on."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import URLPattern, path, reverse

from shop.pages.doors import door, person
from shop.people.models import Role
from shop.people.roles import Ability

HOMES: dict[str, str] = {
    Role.LEAD: "pull-list",
    Role.OWNER: "pull-list",
    Role.POLISHER: "vice",
    Role.PRESS: "press-log",
    Role.QUALITY: "measure",
    Role.ENGINEER: "finishes",
    Role.VIEWER: "tool-list",
}


@door(Ability.READ)
def home(request: HttpRequest) -> HttpResponse:
    """Send the person to the page of their role."""
    return HttpResponseRedirect(reverse(HOMES[person(request).role]))


urls: list[URLPattern] = [path("", home, name="home")]
