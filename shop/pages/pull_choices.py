"""When to pull a tool, and how lightly: a few priced choices; the lead decides on one and the visit is booked."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.bench.models import Work
from shop.bench.services.visits import plan_visit
from shop.boards import pull_choices
from shop.pages.doors import answer, done, door, person
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability, may
from shop.refusal import Refused
from shop.tooling.models import Face, Tool

FIELD = "work-"


@dataclass(frozen=True)
class Booking:
    """What will be booked: the day, and each face with its work."""

    due_on: date | None
    works: tuple[tuple[Face, str, str], ...]


@door(Ability.READ, post=Ability.PLAN_BENCH)
def view(request: HttpRequest, pk: int) -> HttpResponse:
    """Show the choices; one of them asked for is shown as what will be booked, and booked when it is sent."""
    tool = get_object_or_404(Tool.objects.seen_by(person(request)).select_related("plant", "resin", "customer"), pk=pk)
    if request.method == "POST":
        return _book(request, tool)
    sheet = pull_choices.pull_sheet(tool, timezone.now())
    chosen = sheet.row(request.GET.get("book", "")) if may(person(request), Ability.PLAN_BENCH) else None
    if chosen is not None:
        works = tuple((one.face, one.work, one.label) for one in chosen.faces)
        return _confirm(request, tool, Booking(chosen.first_on, works), sheet.booked, chosen)
    gone = bool(request.GET.get("book"))
    return answer(request, "pull_choices/pull_choices.html", {"sheet": sheet, "tool": tool, "gone": gone})


def _book(request: HttpRequest, tool: Tool) -> HttpResponse:
    typed, refused = Typed(request.POST, person(request)), None
    booking = Booking(typed.day("due_on", required=True), tuple(_works(typed, tool)))
    try:
        if typed.ok and booking.due_on is not None:
            order = plan_visit(
                tool=tool,
                works={face.pk: work for face, work, _label in booking.works},
                due_on=booking.due_on,
                answers={code: str(choice) for code, choice in typed.answered.items()},
                by=person(request),
                at=timezone.now(),
                ref=typed.reference(),
            )
            words = _("%(order)s is booked for %(day)s: give it to a polisher, or send it out.")
            return done(request, words % {"order": order, "day": wording.day(order.due_on)}, "work-order", order.pk)
    except Refused as said_no:
        refused = said_no
    return _confirm(request, tool, booking, None, None, typed=typed, refused=refused)


def _confirm(
    request: HttpRequest, tool: Tool, booking: Booking, booked: Any, row: Any, **more: Any
) -> HttpResponse:
    context = {"tool": tool, "booking": booking, "booked": booked, "row": row, "field": FIELD}
    typed = more.get("typed") or Typed.blank(due_on=booking.due_on)
    return answer(request, "pull_choices/book.html", context, more.get("refused"), typed=typed)


def _works(typed: Typed, tool: Tool) -> list[tuple[Face, str, str]]:
    """Return the faces of the form that are the tool's, each with its work."""
    named = [name for name in typed.names if name.startswith(FIELD)]
    asked = {name.removeprefix(FIELD): typed.choice(name, Work.values) for name in named}
    works = {int(key): work for key, work in asked.items() if key.isascii() and key.isdigit() and work}
    faces = Face.objects.in_tool(tool).filter(pk__in=works).select_related("insert")
    in_order = faces.order_by("insert__number", "name")
    return [(face, works[face.pk], str(Work(works[face.pk]).label)) for face in in_order]


urls: list[URLPattern] = [path("tools/<int:pk>/when-to-pull/", view, name="when-to-pull")]
