"""Concessions with their clock: what runs, what ends soon, what is over."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone

from shop.boards import concessions as board
from shop.pages.doors import answer, door, plant
from shop.people.roles import Ability

TABS = {
    "": (board.Running.SOON, board.Running.RUNS),
    "soon": (board.Running.SOON,),
    "over": (board.Running.ENDED, board.Running.WITHDRAWN),
}


@door(Ability.READ)
def concessions(request: HttpRequest) -> HttpResponse:
    """List the concessions that the address asks for: in force, ending soon, or over."""
    rows = board.concession_list(plant(request), timezone.now())
    show = request.GET.get("show", "")
    wanted = TABS.get(show, TABS[""])
    context: dict[str, Any] = {
        "rows": [row for row in rows if row.state in wanted],
        "counts": board.counts(rows),
        "show": show if show in TABS else "",
        "none_at_all": not rows,
    }
    return answer(request, "records/concessions.html", context)


urls: list[URLPattern] = [path("concessions/", concessions, name="concessions")]
