"""What one gauge reads above another of its kind: pairs typed or pasted, and what they say."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import URLPattern, path
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import units
from shop.boards import gauges as board
from shop.pages.doors import answer, done, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.quality.gauge_units import unit_of_gauge
from shop.quality.models import Gauge, GaugeOffset
from shop.quality.pasted_pairs import PairFault, read_pairs
from shop.quality.services.checks import GAUGES_FOR
from shop.quality.services.offsets import compare
from shop.refusal import Refused
from shop.tooling.models import Parameter
from shop.tooling.services.spec_checks import ANGLES_DEG

ROWS = 12
FAULTS_SHOWN = 12


@door(Ability.KEEP_GAUGES)
def offset_new(request: HttpRequest, gauge_id: int) -> HttpResponse:
    """Compare a gauge with another of its kind, from the same pieces read on both."""
    one: Gauge = get_object_or_404(board.gauges_of(plant(request)), pk=gauge_id)
    typed, refused = Typed(request.POST, person(request)), None
    others = Gauge.objects.in_use(plant(request)).filter(kind=one.kind).exclude(pk=one.pk)
    faults: list[PairFault] = []
    if request.method == "POST":
        pairs, faults = _pairs(typed, unit_of_gauge(one.kind))
        given = _given(typed, one, others)
        try:
            if typed.ok:
                made = compare(ours=one, pairs=pairs, by=person(request), at=timezone.now(), **given)
                return done(request, _("The comparison is kept. Here is what it says."), "gauge-offset", made.pk)
        except Refused as said_no:
            refused = said_no
    gloss = one.kind == Gauge.Kind.GLOSS
    context = {
        "gauge": one,
        "others": [(other.pk, f"{other.number} {other.owner}".strip()) for other in others],
        "parameters": [(str(p.value), p.label) for p, kinds in GAUGES_FOR.items() if one.kind in kinds],
        "angles": [(angle, f"{angle}°") for angle in ANGLES_DEG] if gloss else [],
        "unit_label": units.LABELS[unit_of_gauge(one.kind)],
        "grid": [(row + 1, f"ours-{row}", f"theirs-{row}") for row in range(ROWS)],
        "faults": faults[:FAULTS_SHOWN],
    }
    return answer(request, "gauges/offset_new.html", context, refused, typed=typed)


@door(Ability.READ)
def offset(request: HttpRequest, offset_id: int) -> HttpResponse:
    """Show what a comparison says: the offset, its uncertainty, whether it depends on the level."""
    ours = GaugeOffset.objects.filter(ours__plant=plant(request)).select_related("ours", "theirs", "by")
    card = board.offset_card(get_object_or_404(ours, pk=offset_id))
    return render(request, "gauges/offset.html", {"card": card, "kept": card.kept})


def _given(typed: Typed, one: Gauge, others: Any) -> dict[str, Any]:
    readable = [str(parameter.value) for parameter, kinds in GAUGES_FOR.items() if one.kind in kinds]
    parameter = typed.choice("parameter", readable)
    return {
        "theirs": typed.pick("theirs", others, required=True),
        "parameter": parameter,
        "geometry_deg": typed.integer("angle") if parameter == Parameter.GLOSS else None,
        "note": typed.text("note"),
        "ref": typed.reference(),
    }


def _pairs(typed: Typed, unit: str) -> tuple[list[tuple[Decimal, Decimal]], list[PairFault]]:
    """Return the pairs, pasted or else from the grid; faults of the paste come back with their lines."""
    typed_in = _grid(typed, unit)
    if not typed.was["paste"].strip():
        return typed_in, []
    if typed_in:
        typed.find_fault("paste", _("The grid has values too. Empty one of the two."))
        return [], []
    pairs, faults = read_pairs(typed.was["paste"])
    if faults:
        typed.find_fault("paste", _("The pairs cannot be taken as they are; see below where and why."))
    return pairs, faults


def _grid(typed: Typed, unit: str) -> list[tuple[Decimal, Decimal]]:
    found = []
    for row in range(ROWS):
        names = (f"ours-{row}", f"theirs-{row}")
        if typed.is_set(names):
            ours, theirs = (typed.quantity(name, unit, required=True) for name in names)
            if ours is not None and theirs is not None:
                found.append((ours, theirs))
    return found


urls: list[URLPattern] = [
    path("gauges/<int:gauge_id>/offset/", offset_new, name="gauge-offset-new"),
    path("gauges/offsets/<int:offset_id>/", offset, name="gauge-offset"),
]
