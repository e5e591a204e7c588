"""Costs: what the plant reckons with when it weighs when to pull a tool, and where each figure is from."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.bench.models import OutsideHouse, Work
from shop.bench.services import costs as services
from shop.boards import costs as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.tooling.models import Tool

WORKS = [choice for choice in Work.choices if choice[0] != Work.RECUT]


def _plants(request: HttpRequest, typed: Typed) -> str:
    """Set the plant's own figures."""
    figures = {name: typed.decimal(name, required=True) for name in services.FIGURES}
    currency = typed.text("currency", required=True, most=3)
    if not typed.ok:
        return ""
    known = {name: amount for name, amount in figures.items() if amount is not None}
    services.set_costs(plant=plant(request), currency=currency, figures=known, **_hand(request, typed))
    return _("From now on these are the plant's own figures.")


def _tools(request: HttpRequest, typed: Typed) -> str:
    """Set what a bad part of one tool costs."""
    tool = typed.pick("tool", Tool.objects.in_plant(plant(request)).alive(), required=True)
    amount = typed.decimal("amount")
    if not typed.ok or tool is None:
        return ""
    services.set_part_cost(tool=tool, amount=amount, **_hand(request, typed))
    if amount is None:
        return _("A bad part of %(tool)s costs the plant's mean again.") % {"tool": tool.number}
    return _("What a bad part of %(tool)s costs is set.") % {"tool": tool.number}


def _houses(request: HttpRequest, typed: Typed) -> str:
    """Set what an outside house asks."""
    house = typed.pick("house", OutsideHouse.objects.filter(plant=plant(request)), required=True)
    work = typed.choice("work", dict(WORKS))
    a_face, a_visit, days = typed.decimal("a_face"), typed.decimal("a_visit"), typed.integer("days")
    if not typed.ok or house is None:
        return ""
    services.set_price(
        house=house, work=work, a_face=a_face, a_visit=a_visit or Decimal(0), days=days, **_hand(request, typed)
    )
    named = {"house": house.name, "work": str(Work(work).label)}
    if a_face is None:
        return _("%(house)s is not asked for a %(work)s any more.") % named
    return _("What %(house)s asks for a %(work)s is set.") % named


ACTS: dict[str, Callable[[HttpRequest, Typed], str]] = {"plant": _plants, "tool": _tools, "house": _houses}


@door(Ability.READ, post=Ability.PLAN_BENCH)
def view(request: HttpRequest) -> HttpResponse:
    """Show what is reckoned with, and set it."""
    ours, do = plant(request), request.POST.get("do", "")
    sheet = board.costs_sheet(ours)
    typed, refused = Typed.blank(), None
    if do in ACTS:
        typed = Typed(request.POST, person(request))
        try:
            words = ACTS[do](request, typed)
            if typed.ok:
                return done(request, words, "costs")
        except Refused as said_no:
            refused = said_no
    forms = {name: typed if name == do else Typed.blank() for name in ACTS}
    if do != "plant":
        start = {row.name: wording.number(row.amount) for row in sheet.rows}
        forms["plant"] = Typed.blank(currency=sheet.currency, **start)
    context = {
        "sheet": sheet,
        "forms": forms,
        "did": do,
        "tools": Tool.objects.in_plant(ours).alive().order_by("number").values_list("pk", "number"),
        "houses": OutsideHouse.objects.filter(plant=ours).order_by("name").values_list("pk", "name"),
        "works": WORKS,
    }
    return answer(request, "costs/costs.html", context, refused, typed=typed)


def _hand(request: HttpRequest, typed: Typed) -> dict[str, Any]:
    return {"by": person(request), "at": timezone.now(), "why": typed.text("why")}


urls: list[URLPattern] = [path("costs/", view, name="costs")]
