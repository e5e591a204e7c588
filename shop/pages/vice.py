"""At my vice: my work in order, the present step large, the clock, minutes, stop."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone

from shop.boards import vice
from shop.pages import work_order
from shop.pages.doors import answer, door, person
from shop.pages.typed import Typed
from shop.people.roles import Ability


@door(Ability.BENCH_WORK)
def view(request: HttpRequest) -> HttpResponse:
    """Show the polisher's work; its buttons are acts of the work order and come back here."""
    typed = Typed(request.GET, person(request))
    found = vice.vice(person(request), timezone.now(), order_id=typed.integer("order"), line_id=typed.integer("line"))
    context = {
        "vice": found,
        "present": found.present,
        "stop_kinds": [(words, words) for words in work_order.STOP_KINDS],
    }
    return answer(request, "vice/vice.html", context, typed=typed)


urls: list[URLPattern] = [path("vice/", view, name="vice")]
