"""Damage: seen at the press or on the bench; where, what, how bad, with a photo."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import loop
from shop.boards.face_maps import InsertMap, insert_maps
from shop.pages.doors import answer, done, door, person
from shop.pages.photo import photo_of
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.press.models import Damage
from shop.refusal import Refused
from shop.tooling.models import Face, Tool


@door(Ability.REPORT_DAMAGE)
def damage(request: HttpRequest, tool_id: int) -> HttpResponse:
    """Report damage of a tool or of one of its faces."""
    tools = Tool.objects.seen_by(person(request)).select_related("plant")
    tool: Tool = get_object_or_404(tools, pk=tool_id)
    typed, refused = Typed(request.POST if request.method == "POST" else request.GET, person(request)), None
    if request.method == "POST":
        asked = _asked(typed, tool, request)
        try:
            if typed.ok:
                loop.damage_called(photo=photo_of(request), **asked)
                words = _("Reported. The toolroom sees it on its pull list.")
                return done(request, words, "press-log-tool", tool.pk)
        except Refused as one:
            refused = one
    maps = insert_maps(tool, timezone.now(), href="?face={pk}#where", chosen=set(typed.whole_numbers("face")))
    context = {"tool": tool, "maps": maps, "kinds": Damage.Kind.choices, "faces": _face_options(maps)}
    return answer(request, "damage/damage.html", context, refused, typed=typed)


def _face_options(maps: list[InsertMap]) -> list[tuple[Any, Any]]:
    rows = [(face.pk, f"{drawn.position or '–'} · {face}") for drawn in maps for face in drawn.faces]
    return [("", _("The whole tool, or somewhere else")), *rows]


def _asked(typed: Typed, tool: Tool, request: HttpRequest) -> dict[str, Any]:
    return {
        "tool": tool,
        "kind": typed.choice("kind", Damage.Kind.values),
        "face": typed.pick("face", Face.objects.in_tool(tool)),
        "stops_run": typed.ticked("stops_run"),
        "note": typed.text("note"),
        "ref": typed.reference(),
        "by": person(request),
        "at": timezone.now(),
    }


urls: list[URLPattern] = [path("press-log/<int:tool_id>/damage/", damage, name="damage")]
