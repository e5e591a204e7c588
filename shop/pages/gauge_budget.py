"""The uncertainty of a reading with one gauge, at a value that can be typed."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest
from django.utils import timezone

from shop.boards import gauges as board
from shop.boards.reading_budget import try_table
from shop.pages.doors import person
from shop.pages.typed import Typed
from shop.people import wording
from shop.quality.gauge_units import unit_of_gauge
from shop.quality.models import Gauge, Reading
from shop.quality.services.checks import GAUGES_FOR
from shop.quality.worth import worths_of
from shop.standards.budget import Offset
from shop.tooling.models import Parameter
from shop.tooling.services.spec_checks import ANGLES_DEG

MOST_REPEATS = 1000


def asked_budget(request: HttpRequest, card: board.GaugeCard) -> dict[str, Any]:
    """Return what the budget's form offers, what was asked, and the budget or why there is none."""
    gauge = card.row.gauge
    whats = _whats(gauge)
    asked = Typed(request.GET, person(request)) if "value" in request.GET else Typed.blank(**_start(gauge, card, whats))
    offsets = {row.kept.pk: row for row in card.offsets}
    chosen = asked.choice("offset", {str(pk) for pk in offsets}, required=False)
    what = asked.choice("what", dict(whats), required=bool(whats))
    unit = unit_of_gauge(gauge.kind)
    value, repeats = asked.quantity("value", unit), asked.integer("repeats")
    table, why = None, ""
    if asked.ok and value is not None and value >= 0:
        parameter, _dash, angle = what.partition(" ")
        known = worths_of([gauge.pk], timezone.now())[gauge.pk]
        table, why = try_table(
            known.of(gauge, parameter, int(angle) if angle else None, unit), float(value), unit, gauge=gauge.number,
            repeats=min(max(repeats or 1, 1), MOST_REPEATS),
            offset=_offset(offsets[int(chosen)], gauge) if chosen else None,
        )  # fmt: skip
    return {
        "budget": table,
        "no_budget": why,
        "budget_asked": asked,
        "whats": whats,
        "offset_options": board.offset_options(card.offsets),
    }


def _offset(row: board.OffsetRow, gauge: Gauge) -> Offset:
    kept = row.kept
    reads = float(kept.offset if kept.ours_id == gauge.pk else -kept.offset)
    return Offset(reads, float(kept.standard_uncertainty), float(kept.effective_df))


def _whats(gauge: Gauge) -> list[tuple[str, str]]:
    """Return what the gauge reads, gloss by its angle."""
    found = []
    for parameter, kinds in GAUGES_FOR.items():
        if gauge.kind in kinds:
            words = str(parameter.label)
            if parameter == Parameter.GLOSS:
                found += [(f"{parameter.value} {angle}", f"{words} {angle}°") for angle in ANGLES_DEG]
            else:
                found.append((parameter.value, words))
    return found


def _start(gauge: Gauge, card: board.GaugeCard, whats: list[tuple[str, str]]) -> dict[str, Any]:
    """Return what the form starts from: the gauge's latest reading, else its tile."""
    start: dict[str, Any] = {"repeats": 1, "offset": "", "what": whats[0][0] if whats else "", "value": ""}
    last = Reading.objects.in_force().filter(gauge=gauge).order_by("-at", "-id").first()
    if last is not None:
        angle = "" if last.geometry_deg is None else f" {last.geometry_deg}"
        start |= {"value": wording.number(last.value.normalize()), "what": f"{last.parameter}{angle}"}
    elif card.tiles:
        start["value"] = wording.number(card.tiles[0].tile_value.normalize())
    if start["what"] not in dict(whats):
        start["what"] = whats[0][0] if whats else ""
    if gauge.kind == Gauge.Kind.GLOSS and last is None:
        start["what"] = f"{Parameter.GLOSS.value} 60"
    return start
