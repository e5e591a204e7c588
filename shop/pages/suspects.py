"""Suspect parts worked off: what nobody has decided about, lot by lot, and the deciding of several at once."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import ngettext

from shop.boards import suspects as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.quality.models import SuspectDecision
from shop.quality.services import suspects as services
from shop.refusal import Refused


@door(Ability.READ, post=Ability.JUDGE_RELEASE)
def suspect_parts(request: HttpRequest) -> HttpResponse:
    """List suspect parts, those undecided or all of them, of one face or of the plant; decide about what is ticked."""
    everything, face = "all" in request.GET, request.GET.get("face", "")
    found = board.worklist(plant(request), timezone.now(), everything=everything)
    shown = [row for row in found.cases if not face or str(row.case.verdict.face_id) == face]
    lots = {lot.key: lot for row in shown for lot in row.lots}
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        given = _given(typed)
        if typed.ok:
            try:
                chosen = [lots[key] for key in typed.many("lot") if key in lots]
                made = services.decide_many(lots=chosen, by=person(request), at=timezone.now(), **given)
                words = ngettext("%(n)d lot is decided about.", "%(n)d lots are decided about.", len(made))
                return done(request, words % {"n": len(made)}, "suspect-parts", query=request.GET.urlencode())
            except Refused as one:
                refused = one
    context: dict[str, Any] = {
        "rows": shown,
        "found": found,
        "everything": everything,
        "face": shown[0].case.verdict.face if face and shown else None,
        "ticked": set(typed.many("lot")),
        "decisions": SuspectDecision.Decision.choices,
    }
    return answer(request, "records/suspect_parts.html", context, refused, typed=typed)


def _given(typed: Typed) -> dict[str, Any]:
    return {
        "decision": typed.choice("decision", SuspectDecision.Decision.values),
        "responsible": typed.text("responsible", required=True, most=120),
        "reason": typed.text("reason"),
        "why": typed.text("why"),
        "ref": typed.reference(),
    }


urls: list[URLPattern] = [path("suspect-parts/", suspect_parts, name="suspect-parts")]
