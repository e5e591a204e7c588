"""Tool list."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path

from shop.pages.doors import answer, door
from shop.people.roles import Ability


@door(Ability.READ)
def tool_list(request: HttpRequest) -> HttpResponse:
    """Show every tool."""
    return answer(request, "tool_list/tool_list.html", {})


urls: list[URLPattern] = [path("tools/", tool_list, name="tool-list")]
