"""Finish lives: how long finishes last, by group, and two groups beside each other."""

from __future__ import annotations

import csv
from io import StringIO

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.boards import lives as board
from shop.boards.lives_compared import compared
from shop.boards.lives_picture import survival_picture
from shop.pages.doors import answer, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability

MOST_LIVES_SHOWN = 100


@door(Ability.READ)
def lives(request: HttpRequest) -> HttpResponse:
    """Show the groups that the address asks for, the curve of one, or two beside each other."""
    asked = Typed(request.GET, person(request))
    by = request.GET.get("by", "")
    by = by if by in board.BY else "how_made"
    every = board.lives_of(plant(request), timezone.now())
    if request.GET.get("as") == "csv":
        return _csv(every)
    ends = request.GET.get("ends", "")
    ends = ends if ends in board.ENDS else "refinished"
    if ends == "refinished":
        every = board.ending_with_the_next_work(every)
    groups = board.groups(every, by)
    named = {group.name: group for group in groups}
    first = named.get(request.GET.get("first", "")) or next((one for one in groups if one.curve), None)
    second = named.get(request.GET.get("second", ""))
    beside = compared(first, second, by) if first and second and first is not second else None
    shown = [one for one in (first, second if beside else None) if one is not None and one.curve is not None]
    context = {
        "groups": groups,
        "by": by,
        "by_words": board.BY[by],
        "ways": list(board.BY.items()),
        "ends": ends,
        "ends_words": board.ENDS[ends],
        "ends_ways": list(board.ENDS.items()),
        "names": [(group.name, group.name) for group in groups],
        "first": first,
        "beside": beside,
        "picture": survival_picture(shown) if shown else None,
        "lives": (first.lives if first else ())[:MOST_LIVES_SHOWN],
        "least": board.LEAST_ENDS,
        "none_at_all": not every,
    }
    return answer(request, "lives/lives.html", context, typed=asked)


def _csv(every: list[board.Life]) -> HttpResponse:
    """Return every life as a file."""
    text = StringIO()
    out = csv.writer(text)
    out.writerow(["tool", "face", "life", "began by", "shots", "last good at", "first off spec at", "ended", *board.BY])
    for one in every:
        face = one.life.face
        upper = "" if one.upper is None else round(one.upper)
        out.writerow([
            face.insert.tool.number, str(face), one.life.number, one.life.began_by, round(one.shots), round(one.lower),
            upper, one.how_ended, *(one.told[name] for name in board.BY),
        ])  # fmt: skip
    answer = HttpResponse(text.getvalue(), content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{_("finish-lives")}.csv"'
    return answer


urls: list[URLPattern] = [path("lives/", lives, name="lives")]
