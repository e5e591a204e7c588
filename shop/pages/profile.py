"""Profile: load a stylus trace, see it filtered with its parameters, and offer them as readings."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import get_object_or_404
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import loop
from shop.boards import profiles as board
from shop.boards.measure_sheet import CUTOFFS_MM
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.paper import services as paper
from shop.paper.models import StoredFile
from shop.people import wording
from shop.people.roles import Ability
from shop.quality.models import Gauge, Inspection, Reading
from shop.quality.services.inspections import ReadingDraft
from shop.refusal import Refused, gettext_noop
from shop.standards import profile as rules
from shop.standards.source import STANDING_LABELS
from shop.standards.trace import load_trace
from shop.tooling.models import Face, Spot, Tool, WhereMeasured
from shop.tooling.reading import spec_at

MOST_MB = 64
ASKED = ("cutoff", "lambda_s", "form", "edition", "tool", "place")
LAMBDA_S = ("2.5", "8", "25")
SESSION = "traces"


@dataclass(frozen=True)
class Where:
    """The face and spot that a trace was run on, as far as they are chosen."""

    tool: Tool | None = None
    face: Face | None = None
    spot: Spot | None = None


@door(Ability.READ, post=Ability.MEASURE)
def profile(request: HttpRequest) -> HttpResponse:
    """Show a trace evaluated as the address asks; load one, or offer its parameters as readings."""
    if request.method == "POST":
        typed = Typed(request.POST, person(request))
        try:
            return _offer(request, typed) if typed.was["do"] == "offer" else _load(request, typed)
        except Refused as refused:
            return _shown(request, typed, refused)
    return _shown(request, Typed(request.GET, person(request)), None)


def _load(request: HttpRequest, typed: Typed) -> HttpResponse:
    """Keep a trace that can be read, and go on to its page; whatever else it lacks is asked for there."""
    sent = request.FILES.get("trace_file")
    if sent is None:
        typed.find_fault("trace_file", _("Choose the file of the trace."))
        return _shown(request, typed, None)
    if (sent.size or 0) > MOST_MB * 1024**2:
        raise Refused(
            "trace.too_large",
            gettext_noop("The file {name} has {size} MB; a trace may have {limit} MB."),
            next_step=gettext_noop("Export it with a wider spacing, or cut it to the evaluation length."),
            field="trace_file",
            name=sent.name,
            size=round((sent.size or 0) / 1024**2),
            limit=MOST_MB,
        )
    content, name = sent.read(), str(sent.name or "")
    load_trace(content, name)
    kind = "application/octet-stream" if name.lower().endswith(".smd") else "text/plain"
    kept = paper.store_file(content=content, name=name, media_type=kind, by=person(request), at=timezone.now())
    request.session[SESSION] = [*request.session.get(SESSION, []), kept.sha256][-20:]
    return done(request, _("The trace is kept."), "profile", query=_query(typed, kept.sha256))


def _query(typed: Typed, sha256: str) -> str:
    return urlencode({"trace": sha256, **{name: typed.was[name] for name in ASKED if typed.was[name]}})


def _offer(request: HttpRequest, typed: Typed) -> HttpResponse:
    """Take the parameters that were ticked as readings of the chosen spot; the trace stays with them."""
    kept = _kept(request, typed.was["trace"])
    where = _where(request, typed)
    parameters = [name for name in typed.many("take") if name in board.OFFERED]
    asked = _ask(typed)
    gauge = typed.pick("gauge", Gauge.objects.in_use(plant(request)), required=True)
    kind = typed.choice("kind", Inspection.Kind.values)
    on = typed.choice("on", WhereMeasured.values)
    direction = typed.choice("direction", Reading.Direction.values, required=False)
    at = typed.moment("happened_at") or timezone.now()
    if where.face is None:
        typed.find_fault("place", _("Choose the face that the stylus ran on."))
    if not parameters:
        typed.find_fault("take", _("Tick at least one parameter."))
    if kept is None or where.face is None or where.tool is None or not typed.ok:
        return _shown(request, typed, None)
    found = board.evaluate(paper.read_file(kept), kept.name, asked, _words(kept, request))
    drafts = tuple(
        ReadingDraft(
            face=where.face,
            spot=where.spot,
            parameter=name,
            where=on,
            value=found.offered[name],
            unit="um",
            gauge=gauge,
            cutoff_mm=asked.cutoff_mm,
            evaluation_length_mm=Decimal(str(round(found.result.evaluation_length_mm, 3))),
            direction=direction,
            trace=kept,
        )
        for name in parameters
    )
    answers = {code: str(choice) for code, choice in typed.answered.items()}
    inspection = loop.reading_taken(
        tool=where.tool, kind=kind, drafts=drafts, answers=answers, ref=typed.reference(), by=person(request), at=at
    )
    return done(request, _("Kept with its trace. Here is what it means."), "measure-inspection", inspection.pk)


def _shown(request: HttpRequest, typed: Typed, refused: Refused | None) -> HttpResponse:
    """Show the form, and the trace where there is one; a trace that cannot be evaluated so keeps its page."""
    kept = _kept(request, typed.was["trace"])
    where = _where(request, typed)
    found: board.Evaluated | None = None
    if kept is not None:
        try:
            found = _evaluated(request, typed, kept, where)
        except Refused as one:
            refused = refused or one
    context = {
        "kept": kept,
        "found": found,
        "where": where,
        "most_mb": MOST_MB,
        "most_points": rules.MAX_POINTS,
        "tools": _tools(request),
        **_choices(request, where),
    }
    return answer(request, "profile/profile.html", context, refused, typed=_with_start(typed, where))


def _evaluated(request: HttpRequest, typed: Typed, kept: StoredFile, where: Where) -> board.Evaluated:
    spec = spec_at(where.face, timezone.now()) if where.face else None
    gauge = typed.pick("gauge", Gauge.objects.in_use(plant(request)))
    return board.evaluate(
        paper.read_file(kept),
        kept.name,
        _ask(typed),
        _words(kept, request),
        limits_um=board.limits_of(spec, where.spot.pk if where.spot else None),
        tip_um=float(gauge.tip_um) if gauge is not None and gauge.tip_um else None,
    )


def _ask(typed: Typed) -> board.Ask:
    """Return how the trace is to be evaluated; what is not said is the usual."""
    usual = board.Ask()
    cutoffs = {format(one, "f") for one in CUTOFFS_MM}
    cutoff = typed.choice("cutoff", cutoffs, required=False)
    return board.Ask(
        Decimal(cutoff) if cutoff else usual.cutoff_mm,
        typed.choice("lambda_s", {board.AUTO, board.NONE, *LAMBDA_S}, required=False) or usual.lambda_s,
        typed.choice("form", {*rules.FORMS, board.FILTERED}, required=False) or usual.form,
        typed.choice("edition", rules.EDITIONS, required=False) or usual.edition,
    )


def _words(kept: StoredFile, request: HttpRequest) -> board.Drawn:
    return board.Drawn(
        _("Measured, its form removed, with the mean line"),
        _("Filtered; the sampling lengths evaluated are ruled"),
        _("Profile of %(name)s: measured with its mean line, and filtered") % {"name": kept.name},
        person(request).decimal_comma,
    )


def _kept(request: HttpRequest, sha256: str) -> StoredFile | None:
    """Return a trace of this plant: stored by one of its people, kept with a reading of it, or sent just now."""
    if not sha256:
        return None
    kept = get_object_or_404(StoredFile, sha256=sha256)
    here = plant(request)
    ours = (
        sha256 in request.session.get(SESSION, [])
        or Reading.objects.filter(trace=kept, inspection__tool__plant=here).exists()
        or StoredFile.objects.filter(pk=kept.pk, stored_by__plant=here, media_type__in=TRACE_TYPES).exists()
    )
    return kept if ours else get_object_or_404(StoredFile, pk=None)


TRACE_TYPES = ("text/plain", "application/octet-stream")


def _where(request: HttpRequest, typed: Typed) -> Where:
    """Return tool, face and spot; `place` is "face-spot", as the form and the measure sheet write it."""
    tools = Tool.objects.seen_by(person(request)).select_related("plant")
    face_id, _dash, spot_id = typed.was["place"].partition("-")
    if face_id.isascii() and face_id.isdigit():
        faces = Face.objects.filter(pk=int(face_id), insert__tool__in=tools).select_related("insert__tool__plant")
        face = faces.first()
        if face is not None:
            spots = Spot.objects.filter(face=face, pk=int(spot_id) if spot_id.isascii() and spot_id.isdigit() else 0)
            return Where(face.insert.tool, face, spots.first())
    return Where(typed.pick("tool", tools))


def _tools(request: HttpRequest) -> list[tuple[int, str]]:
    tools = Tool.objects.seen_by(person(request)).alive()
    return [(tool.pk, str(tool)) for tool in tools]


def _choices(request: HttpRequest, where: Where) -> dict[str, Any]:
    gauges = Gauge.objects.in_use(plant(request)).filter(kind__in=[Gauge.Kind.STYLUS, Gauge.Kind.OPTICAL])
    places = []
    if where.tool is not None:
        faces = Face.objects.in_tool(where.tool).filter(insert__retired_at__isnull=True).prefetch_related("spots")
        for face in faces.select_related("insert").order_by("insert__number", "name"):
            spots = list(face.spots.all())
            places += [(f"{face.pk}-{spot.pk}", f"{face}, {spot.name}") for spot in spots] or [
                (f"{face.pk}-0", str(face))
            ]
    return {
        "places": places,
        "gauges": [(gauge.pk, f"{gauge.number} · {gauge.get_kind_display()}") for gauge in gauges],
        "cutoffs": [(format(one, "f"), f"{wording.number(one)} mm") for one in CUTOFFS_MM],
        "lambdas": [
            (board.AUTO, _("as the cut-off asks")),
            *((one, f"{wording.number(Decimal(one))} µm") for one in LAMBDA_S),
            (board.NONE, _("none")),
        ],
        "forms": [
            ("line", _("remove a line")),
            ("arc", _("remove an arc")),
            ("none", _("leave it")),
            (board.FILTERED, _("the gauge has filtered it")),
        ],
        "editions": [(one, one) for one in rules.EDITIONS],
        "kinds": Inspection.Kind.choices,
        "wheres": WhereMeasured.choices,
        "directions": Reading.Direction.choices,
        "offered_options": [(str(one), str(one)) for one in board.OFFERED],
        "start_take": ["Ra", "Rz"],
        "standings": {standing: _(str(label)) for standing, label in STANDING_LABELS.items()},
        "asked_names": ("cutoff", "lambda_s", "form", "edition", "tool"),
    }


def _with_start(typed: Typed, where: Where) -> Typed:
    """Return the form with what its choices start from, where nothing was said."""
    start = {"cutoff": "0.8", "lambda_s": board.AUTO, "form": "line", "edition": rules.ISO_21920_2}
    if where.tool is not None:
        start["tool"] = str(where.tool.pk)
    if where.face is not None:
        start["place"] = f"{where.face.pk}-{where.spot.pk if where.spot else 0}"
    missing = {name: value for name, value in start.items() if not typed.was[name]}
    data = QueryDict(mutable=True)
    for name in typed.data:
        data.setlist(name, typed.data.getlist(name))
    data.update(missing)
    filled = Typed(data, typed.reader)
    filled.fault = typed.fault
    filled.names |= typed.names
    return filled


urls: list[URLPattern] = [path("profile/", profile, name="profile")]
