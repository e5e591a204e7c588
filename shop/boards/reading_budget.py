"""The uncertainty of a reading as a table: what each part adds, and its share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Protocol

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from shop import units
from shop.people import wording
from shop.quality.judging import BY_EYE, OVER_ALL, GaugeUncertainty
from shop.quality.models import Reading, Verdict
from shop.quality.worth import gauge_uncertainty, worths_of
from shop.refusal import Refused
from shop.standards.budget import Budget, Offset
from shop.units import Quantity

NAMES = {
    "calibration": pgettext_lazy("part of an uncertainty", "calibration"),
    "repeatability": pgettext_lazy("part of an uncertainty", "repeatability at a fixed spot"),
    "resolution": pgettext_lazy("part of an uncertainty", "resolution"),
    "offset": pgettext_lazy("part of an uncertainty", "offset taken off"),
}
SHAPES = {"normal": gettext_lazy("normal"), "rectangular": gettext_lazy("rectangular")}
# The verdict keeps six decimals.
SAME = 2e-6


@dataclass(frozen=True)
class Part:
    """One row: its standard uncertainty in words, how it is spread, its share of the variance in percent."""

    name: str
    uncertainty: str
    spread: str
    df: str
    share: str
    share_words: str


@dataclass(frozen=True)
class Table:
    """A budget as shown; `moved` is the uncertainty that a verdict was given with where it was another."""

    gauge: str
    value: str
    parts: tuple[Part, ...]
    combined: str
    expanded: str
    coverage_k: str
    confidence: str
    repeats: int
    has_study: bool
    moved: str = ""


class FoundLike(Protocol):
    """A verdict with the readings that it was given on."""

    @property
    def verdict(self) -> Verdict: ...
    @property
    def readings(self) -> Sequence[Reading]: ...


def fine(value: float | Decimal, unit: str, like: float | Decimal | None = None) -> str:
    """Return a small quantity in the reader's units: to two digits, or as many places as two digits of `like` take."""
    who = wording.reader()
    system = who.unit_system if who else "metric"
    shown = units.in_system(Quantity(Decimal(repr(float(value))), unit), system)
    scale = shown.value if like is None else units.in_system(Quantity(Decimal(repr(float(like))), unit), system).value
    places = 0 if scale == 0 else max(0, 1 - math.floor(math.log10(abs(scale))))
    number = wording.number(round(shown.value, places)).replace("-", "−")
    return f"{number}{units.FAST_SPACE}{units.LABELS[shown.unit]}"


def table(
    known: GaugeUncertainty, value: float, unit: str, *, gauge: str, repeats: int = 1, offset: Offset | None = None
) -> Table:
    """Return the budget of a reading. Raises Refused where a figure cannot be."""
    found = known.budget(value, repeats, offset)
    return Table(
        gauge=gauge,
        value=wording.show(Quantity(Decimal(repr(round(found.value, 6))), unit)),
        parts=tuple(_parts(found, unit)),
        combined=fine(found.combined, unit),
        expanded=fine(found.expanded, unit),
        coverage_k=wording.number(Decimal(f"{found.coverage_k:.2f}")),
        confidence=wording.number(Decimal(f"{100 * found.confidence:.0f}")),
        repeats=repeats,
        has_study=known.repeatability > 0,
    )


def of_verdicts(rows: Iterable[FoundLike]) -> dict[int, Table]:
    """Return the budget behind each verdict of one inspection, by what was known then; none where it was by eye."""
    rows = [row for row in rows if row.verdict.parameter not in BY_EYE and row.readings]
    gauges = {reading.gauge_id for row in rows for reading in row.readings if reading.gauge_id}
    if not gauges:
        return {}
    worths = worths_of(sorted(gauges), rows[0].verdict.at)
    tables = {}
    for row in rows:
        known = {reading.gauge: gauge_uncertainty(reading, worths) for reading in row.readings}
        value = float(row.verdict.statistic)
        pairs = [(gauge, one) for gauge, one in known.items() if gauge is not None and one is not None]
        if not pairs:
            continue
        gauge, worst = max(pairs, key=lambda pair: pair[1].at(value))
        repeats = row.verdict.count if row.verdict.rule in OVER_ALL else 1
        tables[row.verdict.pk] = _of_verdict(row.verdict, worst, str(gauge), row.readings[0].unit, repeats)
    return tables


def _of_verdict(verdict: Verdict, known: GaugeUncertainty, gauge: str, unit: str, repeats: int) -> Table:
    made = table(known, float(verdict.statistic), unit, gauge=gauge, repeats=repeats)
    if abs(known.at(float(verdict.statistic), repeats) - float(verdict.standard_uncertainty)) <= SAME:
        return made
    given = fine(verdict.standard_uncertainty, unit)
    return Table(**{**vars(made), "moved": given})


def _parts(found: Budget, unit: str) -> Iterable[Part]:
    for row in found.rows:
        yield Part(
            name=str(NAMES[row.name]),
            uncertainty=fine(row.standard_uncertainty, unit),
            spread=str(SHAPES[row.distribution]),
            df="∞" if math.isinf(row.df) else wording.number(round(Decimal(repr(row.df)), 1).normalize()),
            share=f"{row.share_percent:.1f}",
            share_words=f"{row.share_percent:.0f}",
        )


def try_table(
    known: GaugeUncertainty, value: float, unit: str, *, gauge: str, repeats: int, offset: Offset | None
) -> tuple[Table | None, str]:
    """Return the budget, or in words why there is none."""
    try:
        return table(known, value, unit, gauge=gauge, repeats=repeats, offset=offset), ""
    except Refused as refused:
        return None, wording.say(refused) or _("It cannot be worked out.")
