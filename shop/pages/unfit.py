"""A gauge found unfit: say so, then walk through what it had read and decide about each reading."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shop import loop
from shop.boards import unfit as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.quality.models import Gauge, Reading, UnfitDecision, UnfitFinding
from shop.quality.services import unfit
from shop.refusal import Refused


@door(Ability.READ)
def findings(request: HttpRequest) -> HttpResponse:
    """List the gauges that were found unfit, and how much is still to decide."""
    context = {"rows": board.findings(plant(request)), "gauges": Gauge.objects.in_use(plant(request))}
    return answer(request, "unfit/findings.html", context)


@door(Ability.KEEP_GAUGES)
def gauge(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Say that a gauge was found unfit, and why."""
    one: Gauge = get_object_or_404(Gauge.objects.filter(plant=plant(request)), pk=gauge_id)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        why, at = typed.text("why", required=True), typed.moment("at") or timezone.now()
        if typed.ok:
            try:
                finding = unfit.find_unfit(gauge=one, why=why, ref=typed.reference(), by=person(request), at=at)
                said = _("Gauge %(gauge)s is unfit. What it read is listed here.") % {"gauge": one.number}
                return done(request, said, "unfit-finding", finding.pk)
            except Refused as said_no:
                refused = said_no
    return answer(request, "unfit/gauge.html", {"gauge": one}, refused, typed=typed)


@door(Ability.READ, post=Ability.KEEP_GAUGES)
def finding(request: HttpRequest, finding_id: int) -> HttpResponse:
    """Walk through what the gauge had read since its last good check; decide about several readings at once."""
    ours = UnfitFinding.objects.filter(gauge__plant=plant(request))
    one = get_object_or_404(ours.select_related("gauge", "by", "calibration", "tile_check"), pk=finding_id)
    walked = board.walk(one)
    typed, refused = Typed(request.POST, person(request)), None
    if request.method == "POST":
        decision = typed.choice("decision", UnfitDecision.Decision.values)
        reason, why = typed.text("reason", required=True), typed.text("why")
        if typed.ok:
            try:
                decided = loop.unfit_decided(
                    finding=one, readings=_chosen(typed, walked), decision=decision, reason=reason, why=why,
                    ref=typed.reference(), by=person(request), at=timezone.now(),
                )  # fmt: skip
                return done(request, _said(len(decided), board.walk(one).undecided), "unfit-finding", one.pk)
            except Refused as said_no:
                refused = said_no
    context = {
        "walk": walked,
        "finding": one,
        "decisions": UnfitDecision.Decision.choices,
        "ticked": typed.whole_numbers("reading"),
        "ticked_faces": typed.whole_numbers("face"),
    }
    return answer(request, "unfit/finding.html", context, refused, typed=typed)


def _chosen(typed: Typed, walked: board.Walk) -> list[Reading]:
    """Return the readings that were ticked, and what is undecided on the faces that were."""
    readings, faces = set(typed.whole_numbers("reading")), set(typed.whole_numbers("face"))
    return [
        row.reading
        for row in walked.rows
        if row.reading.pk in readings or (row.reading.face_id in faces and row.decision is None)
    ]


def _said(count: int, left: int) -> str:
    words = ngettext("One reading is decided.", "%(n)d readings are decided.", count) % {"n": count}
    to_go = ngettext("One is still to decide.", "%(n)d are still to decide.", left) % {"n": left}
    return f"{words} {to_go}" if left else f"{words} {_('Nothing is left to decide.')}"


urls: list[URLPattern] = [
    path("unfit/", findings, name="unfit"),
    path("unfit/<int:finding_id>/", finding, name="unfit-finding"),
    path("gauges/<int:gauge_id>/unfit/", gauge, name="gauge-unfit"),
]
