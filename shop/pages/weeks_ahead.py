"""Planned runs: what the presses have ahead; and the whole plant on one screen."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import loop
from shop.boards import weeks_ahead as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.press.models import PlannedRun, Press
from shop.refusal import Refused
from shop.tooling.models import Resin, Tool


@door(Ability.READ, post=Ability.LOG_SHOTS)
def planned(request: HttpRequest) -> HttpResponse:
    """Show the coming twelve weeks; plan a run or cancel one."""
    typed, refused = Typed.blank(), None
    if request.method == "POST":
        typed = Typed(request.POST, person(request))
        try:
            act = {"plan": _plan, "cancel": _cancel}.get(request.POST.get("do", ""))
            if act is not None:
                words = act(request, typed)
                if typed.ok:
                    return done(request, words, "planned-runs")
        except Refused as problem:
            refused = problem
    return answer(request, "weeks_ahead/planned_runs.html", _context(request), refused, typed=typed)


def _context(request: HttpRequest) -> dict[str, Any]:
    at, tool = timezone.now(), request.GET.get("tool", "")
    runs = board.planned_runs(plant(request), at, tool)
    alive = Tool.objects.in_plant(plant(request)).alive().order_by("number")
    return {
        "runs": runs,
        "picture": board.plan_picture(runs, plant(request), at),
        "tool_asked": tool,
        "tools": [(one.pk, str(one)) for one in alive],
        "presses": list(Press.objects.filter(plant=plant(request)).values_list("pk", "name")),
        "resins": list(Resin.objects.order_by("name").values_list("pk", "name")),
    }


def _plan(request: HttpRequest, typed: Typed) -> str:
    tool = typed.pick("tool", Tool.objects.in_plant(plant(request)).alive(), required=True)
    shots = typed.integer("shots", required=True)
    starts, ends = typed.moment("starts_at", required=True), typed.moment("ends_at", required=True)
    if not typed.ok or tool is None or shots is None or starts is None or ends is None:
        return ""
    loop.run_planned(
        tool=tool,
        shots=shots,
        starts_at=starts,
        ends_at=ends,
        press=typed.pick("press", Press.objects.filter(plant=plant(request))),
        order_number=typed.text("order_number", most=40),
        resin=typed.pick("resin", Resin.objects.all()),
        by=person(request),
        at=timezone.now(),
        ref=typed.reference(),
    )
    return _("The run is planned; the dates of %(tool)s rest on it now.") % {"tool": tool.number}


def _cancel(request: HttpRequest, typed: Typed) -> str:
    mine = PlannedRun.objects.in_plant(plant(request))
    run = get_object_or_404(mine, pk=request.POST.get("run") or 0)
    why = typed.text("why", required=True, most=500)
    if not typed.ok:
        return ""
    loop.planned_run_cancelled(run=run, why=why, by=person(request), at=timezone.now())
    return _("The run is cancelled.")


@door(Ability.READ)
def whole(request: HttpRequest) -> HttpResponse:
    """Show every fitted face by the date of its 10 % chance."""
    return answer(request, "weeks_ahead/whole_plant.html", {"whole": board.whole_plant(plant(request), timezone.now())})


urls: list[URLPattern] = [
    path("planned-runs/", planned, name="planned-runs"),
    path("plant/", whole, name="whole-plant"),
]
