"""Finishes."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path

from shop.pages.doors import answer, door
from shop.people.roles import Ability


@door(Ability.READ)
def finishes(request: HttpRequest) -> HttpResponse:
    """Show the scales."""
    return answer(request, "finishes/finishes.html", {})


urls: list[URLPattern] = [path("finishes/", finishes, name="finishes")]
