"""Tool."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path

from shop.pages.doors import answer, door
from shop.people.roles import Ability


@door(Ability.READ)
def tool(request: HttpRequest, pk: int) -> HttpResponse:
    """Show one tool."""
    return answer(request, "tool/tool.html", {"pk": pk})


urls: list[URLPattern] = [path("tools/<int:pk>/", tool, name="tool")]
