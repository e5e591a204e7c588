"""The faces of a tool that must agree: define a group, end it, see how it stood last."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.boards import matches as board
from shop.pages.doors import answer, done, door, person
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.quality.models import MatchGroup
from shop.quality.services import matches
from shop.quality.services.checks import UNIT_OF
from shop.refusal import Refused
from shop.tooling.models import Face, Parameter, Tool, WhereMeasured

PARAMETERS = [(one.value, one.label) for one in Parameter if not one.by_eye]
ANGLES = [(angle, f"{angle}°") for angle in (20, 60, 85)]


@door(Ability.READ, post=Ability.SPECIFY)
def match(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the tool's groups; define one, or end one."""
    tool: Tool = get_object_or_404(Tool.objects.seen_by(person(request)), pk=pk)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        try:
            said = _end(typed, tool, request) if typed.was["do"] == "end" else _define(typed, tool, request)
            if said:
                return done(request, said, "tool-match", tool.pk)
        except Refused as said_no:
            refused = said_no
    faces = Face.objects.in_tool(tool).filter(insert__retired_at__isnull=True).select_related("insert")
    context = {
        "tool": tool,
        "groups": board.of_tool(tool),
        "faces": [(face.pk, str(face)) for face in faces.order_by("insert__number", "name")],
        "parameters": PARAMETERS,
        "wheres": WhereMeasured.choices,
        "angles": ANGLES,
        "did": typed.was["do"],
    }
    return answer(request, "match/match.html", context, refused, typed=typed)


def _define(typed: Typed, tool: Tool, request: HttpRequest) -> str:
    parameter = typed.choice("parameter", Parameter.values)
    where = typed.choice("where", WhereMeasured.values)
    unit = UNIT_OF[Parameter(parameter)] if parameter else "GU"
    asked: dict[str, Any] = {
        "name": typed.text("name", required=True, most=80),
        "tolerance": typed.quantity("tolerance", unit, required=True),
        "geometry_deg": typed.integer("geometry_deg"),
        "faces": list(Face.objects.in_tool(tool).filter(pk__in=typed.whole_numbers("face")).select_related("insert")),
    }
    if not typed.ok:
        return ""
    asked |= {"parameter": parameter, "where": where, "unit": unit}
    group = matches.define(tool=tool, by=person(request), at=timezone.now(), **asked)
    return _("%(group)s are judged against each other from now on.") % {"group": group.name}


def _end(typed: Typed, tool: Tool, request: HttpRequest) -> str:
    group = typed.pick("group", MatchGroup.objects.filter(tool=tool), required=True)
    why = typed.text("why", required=True)
    if not typed.ok or group is None:
        return ""
    matches.end(group=group, why=why, by=person(request), at=timezone.now())
    return _("%(group)s need not agree any longer.") % {"group": group.name}


urls: list[URLPattern] = [path("tools/<int:pk>/match/", match, name="tool-match")]
