"""Standards check: what the standards print, recomputed here while the page is asked for; its dated paper."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from shop import __version__
from shop.boards import documents
from shop.boards import standards_check as board
from shop.boards import standards_paper as paper
from shop.boards.checks.check import Checked
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.paper import pdf, services
from shop.paper.models import Document
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.standards.source import Standing

STANDINGS = (*Standing, board.FROM_MEMORY)


@door(Ability.READ)
def standards_check(request: HttpRequest) -> HttpResponse:
    """Recompute every printed value, and show the rows that the address asks for."""
    return _shown(request, Typed(request.GET, person(request)))


def _shown(request: HttpRequest, typed: Typed, refused: Refused | None = None) -> HttpResponse:
    checked = board.run()
    asked = board.Asked(request.GET.get("area", ""), request.GET.get("standing", ""), "outside" in request.GET)
    rows = [each for each in checked if asked.lets(each)] if _asks(asked) else []
    context: dict[str, Any] = {
        "areas": board.by_area(checked),
        "count": len(checked),
        "outside": [each for each in checked if not each.within],
        "memory": sum(each.check.from_memory for each in checked),
        "common": board.common_practice(),
        "asked": asked,
        "rows": [_row(each) for each in rows],
        "filtered": _asks(asked),
        "area_choices": [(area.area, _(area.area)) for area in board.by_area(checked)],
        "standing_choices": [(str(one), _(str(one))) for one in STANDINGS],
        "any": _("all"),
        "version": __version__,
        "now": timezone.now(),
        "documents": documents.of_subject(Document.Kind.STANDARDS, paper.subject_of(plant(request)))[:5],
        "cancels": False,
        "paper_sizes": [(size, size) for size in pdf.SIZES],
        "paper_missing": pdf.available(),
    }
    return answer(request, "records/standards_check.html", context, refused, typed=typed)


def _asks(asked: board.Asked) -> bool:
    return bool(asked.area or asked.standing or asked.outside)


def _row(each: Checked) -> dict[str, Any]:
    return {"check": each.check, "within": each.within, "computed": paper.figure(each.computed),
            "printed": paper.figure(each.check.printed), "difference": paper.difference(each)}  # fmt: skip


@door(Ability.READ, post=Ability.KEEP_GAUGES)
@require_POST
def issue(request: HttpRequest) -> HttpResponse:
    """Recompute, and issue the dated paper of what came of it."""
    typed = Typed(request.POST, person(request))
    size = typed.was["paper_size"] if typed.was["paper_size"] in pdf.SIZES else plant(request).paper_size
    try:
        document = services.issue(
            **paper.issue_of(board.run(), plant=plant(request), by=person(request)),
            language=person(request).language,
            paper_size=size,
            ref=typed.reference(),
            by=person(request),
            at=timezone.now(),
        )
    except Refused as refused:
        return _shown(request, typed, refused)
    return done(request, _("%(number)s is issued.") % {"number": document.number}, "standards-check", anchor="paper")


urls: list[URLPattern] = [
    path("standards-check/", standards_check, name="standards-check"),
    path("standards-check/issue/", issue, name="issue-standards-check"),
]
