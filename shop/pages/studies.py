"""Studies: the list, a gauge study to enter or paste, and what it says."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import units
from shop.boards.studies import gauge_study_card, study_list
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.study_grid import Entered, Layout, grid, has_values, layout, read_grid, start_of, with_pasted
from shop.pages.typed import Typed
from shop.people import wording
from shop.people.roles import Ability
from shop.quality.models import Gauge, GaugeStudy
from shop.quality.pasted import Pasted, read_pasted
from shop.quality.services.checks import GAUGES_FOR
from shop.quality.services.studies import enter_gauge_study
from shop.refusal import Refused
from shop.standards.source import STANDING_LABELS
from shop.tooling.models import Parameter
from shop.tooling.services.spec_checks import ANGLES_DEG

UNITS = ("um", "uin", "GU")
FAULTS_SHOWN = 20
START = {"people": "A\nB\nC", "rows": 10, "trials": 3, "method": GaugeStudy.Method.ANOVA}


@door(Ability.READ)
def studies(request: HttpRequest) -> HttpResponse:
    """Show the studies in force, of all gauges or of the one that the address names."""
    asked = Typed(request.GET, person(request))
    gauge = asked.pick("gauge", Gauge.objects.filter(plant=plant(request)))
    context = {
        "typed": asked,
        "gauge": gauge,
        "gauges": _gauges(request),
        "found": study_list(plant(request), gauge),
    }
    return render(request, "studies/studies.html", context)


@door(Ability.READ)
def study(request: HttpRequest, study_id: int) -> HttpResponse:
    """Show what a gauge study says."""
    kept = _study(request, study_id)
    later = GaugeStudy.objects.filter(supersedes=kept).select_related("by").first()
    context = {"card": gauge_study_card(kept), "study": kept, "later": later, "standings": standings()}
    return render(request, "studies/study.html", context)


@door(Ability.KEEP_GAUGES)
def study_new(request: HttpRequest) -> HttpResponse:
    """Take a gauge study, typed into the grid or pasted; with an earlier one named, put that right."""
    posted = request.method == "POST"
    typed = Typed(request.POST, person(request)) if posted else Typed.blank(**_start(request))
    old = _put_right(request, typed)
    pasted, refused = Pasted(), None
    if posted:
        pasted = _pasted(typed)
        if typed.was["do"] == "paste" and typed.ok and pasted.parts:
            typed = Typed(with_pasted(request.POST, pasted), person(request))
    size = _size(typed, pasted)
    if posted and typed.was["do"] == "work out":
        given = _given(typed, size, pasted, request)
        try:
            if typed.ok:
                made = enter_gauge_study(supersedes=old, by=person(request), **given)
                return done(request, _("The study of gauge %(gauge)s is kept.") % {"gauge": made.gauge}, "study",
                            made.pk)  # fmt: skip
        except Refused as said_no:
            refused = said_no
    context = {
        "old": old,
        "grid": grid(typed, size),
        "pasted_faults": pasted.faults[:FAULTS_SHOWN],
        "more_pasted_faults": max(0, len(pasted.faults) - FAULTS_SHOWN),
        "gauges": _gauges(request),
        "parameters": [choice for choice in Parameter.choices if not Parameter(choice[0]).by_eye],
        "angles": [(angle, f"{angle}°") for angle in ANGLES_DEG],
        "units": [(unit, units.LABELS[unit]) for unit in UNITS],
        "methods": GaugeStudy.Method.choices,
    }
    return answer(request, "studies/study_new.html", context, refused, typed=typed)


def _gauges(request: HttpRequest) -> list[tuple[int, str]]:
    kinds = {kind for among in GAUGES_FOR.values() for kind in among}
    found = Gauge.objects.in_use(plant(request)).filter(kind__in=kinds)
    return [(gauge.pk, f"{gauge.number}, {gauge.get_kind_display()}") for gauge in found]


def standings() -> dict[Any, str]:
    """Return how well a source is founded, in words."""
    return {standing: _(words) for standing, words in STANDING_LABELS.items()}


def _study(request: HttpRequest, study_id: int) -> GaugeStudy:
    ours = GaugeStudy.objects.filter(gauge__plant=plant(request), void=False)
    one: GaugeStudy = get_object_or_404(ours.select_related("gauge", "by", "supersedes"), pk=study_id)
    return one


def _put_right(request: HttpRequest, typed: Typed) -> GaugeStudy | None:
    """Return the study that is put right, if the address or the form names one."""
    named = typed.was["puts_right"]
    if not named:
        return None
    if not (named.isascii() and named.isdigit()):
        raise Http404
    return _study(request, int(named))


def _start(request: HttpRequest) -> dict[str, Any]:
    """Return what the form starts from: the study that is put right, or the gauge that the address names."""
    asked = Typed(request.GET)
    old = _put_right(request, asked)
    if old is None:
        return START | {"gauge": asked.was["gauge"], **_likely(asked.was["gauge"], request)}
    return {
        "puts_right": old.pk, "gauge": old.gauge_id, "parameter": old.parameter, "angle": old.geometry_deg or "",
        "unit": old.unit, "method": old.method, "tolerance": _plain(old.tolerance), "note": old.note,
        "people": "\n".join(old.people), "row_names": "\n".join(old.parts), "rows": len(old.parts),
        "trials": len(old.values[0][0]), "at": timezone.localtime(old.at).strftime("%Y-%m-%dT%H:%M"),
        **start_of([[[_plain(Decimal(one)) for one in cell] for cell in row] for row in old.values]),
    }  # fmt: skip


def _likely(named: str, request: HttpRequest) -> dict[str, Any]:
    """Return what the gauge that was chosen most likely reads."""
    gauge = Typed(request.GET).pick("gauge", Gauge.objects.filter(plant=plant(request))) if named else None
    if gauge is None:
        return {}
    if gauge.kind in GAUGES_FOR[Parameter.GLOSS]:
        return {"parameter": Parameter.GLOSS, "angle": 60, "unit": "GU"}
    return {"parameter": Parameter.RA, "unit": "um"}


def _plain(value: Decimal | None) -> str:
    return "" if value is None else wording.number(value)


def _pasted(typed: Typed) -> Pasted:
    """Return the pasted table; that it cannot be read, or would write over the grid, is noted at its field."""
    text = typed.was["paste"]
    if not text.strip():
        if typed.was["do"] == "paste":
            typed.find_fault("paste", _("Nothing is pasted yet."))
        return Pasted()
    if typed.was["do"] == "lay out":
        return Pasted()
    if has_values(typed) and not typed.ticked("replace"):
        typed.find_fault(
            "paste", _("The grid has values already. Tick that they may be replaced, or empty this field.")
        )
        return Pasted()
    pasted = read_pasted(text)
    if pasted.faults:
        typed.find_fault("paste", _("The table cannot be taken as it is; see below where and why."))
    return pasted


def _size(typed: Typed, pasted: Pasted) -> Layout:
    """Return the grid's size. With a pasted table its people and parts count, so those of the form need not hold."""
    if pasted.parts and typed.was["paste"].strip():
        aside = Typed(typed.data)
        return layout(aside, fewest_trials=2)
    return layout(typed, fewest_trials=2)


def _given(typed: Typed, size: Layout, pasted: Pasted, request: HttpRequest) -> dict[str, Any]:
    parameter = typed.choice("parameter", [choice for choice in Parameter.values if not Parameter(choice).by_eye])
    unit = typed.choice("unit", UNITS)
    entered = _entered(typed, size, pasted)
    gauge = typed.pick("gauge", Gauge.objects.filter(plant=plant(request)), required=True)
    return {
        "gauge": gauge,
        "parameter": parameter,
        "unit": unit,
        "geometry_deg": typed.integer("angle"),
        "method": typed.choice("method", GaugeStudy.Method.values),
        "tolerance": typed.quantity("tolerance", unit) if unit else typed.decimal("tolerance"),
        "people": entered.people,
        "parts": entered.rows,
        "values": entered.values,
        "note": typed.text("note"),
        "why": typed.text("why", required=bool(typed.was["puts_right"])),
        "at": typed.moment("at") or timezone.now(),
        "ref": typed.reference(),
    }


def _entered(typed: Typed, size: Layout, pasted: Pasted) -> Entered:
    if typed.was["paste"].strip():
        values = [[[Decimal(value) if value else None for value in cell] for cell in row] for row in pasted.values]
        return Entered(pasted.parts, pasted.people, values)
    return read_grid(typed, size, lambda words: units.parse_decimal(words))


urls: list[URLPattern] = [
    path("studies/", studies, name="studies"),
    path("studies/new/", study_new, name="study-new"),
    path("studies/<int:study_id>/", study, name="study"),
]
