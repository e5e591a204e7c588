"""At my vice: my work in order, the present step large, the clock, minutes, stop."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone

from shop.boards import vice
from shop.pages.doors import answer, door, person
from shop.pages.order_acts import STOP_KINDS
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.refusal import Refused


@door(Ability.BENCH_WORK)
def view(request: HttpRequest) -> HttpResponse:
    """Show the polisher's work; its buttons are acts of the work order and come back here."""
    asked = Typed(request.GET, person(request))
    return show(request, None, typed=Typed.blank(), order_id=asked.integer("order"), line_id=asked.integer("line"))


def show(
    request: HttpRequest,
    refused: Refused | None,
    *,
    typed: Typed,
    did: str = "",
    order_id: int | None = None,
    line_id: int | None = None,
) -> HttpResponse:
    """Show the page; `did` is the act whose form comes back with what was typed into it."""
    found = vice.vice(person(request), timezone.now(), order_id=order_id, line_id=line_id)
    context = {
        "vice": found,
        "present": found.present,
        "stop_kinds": STOP_KINDS.items(),
        "did": did,
        # Somebody moved the order on: its form is gone, and the answer stands at the top.
        "homeless": bool(did) and (found.present is None or did not in found.present.offers),
    }
    return answer(request, "vice/vice.html", context, refused, typed=typed)


urls: list[URLPattern] = [path("vice/", view, name="vice")]
