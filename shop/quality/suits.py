"""Can a face of this plant have a finish: what its records and the plant's gauges say, put to the craft."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Protocol

from shop.craft.suitability import CARE, NO, TOPICS, Answer, Ask, AskedLimit, Row, can_have
from shop.craft.suitability.asking import QUALITY_DECIDES, worst
from shop.craft.suitability.measuring import BY_EYE, GIVES
from shop.people import ra_table
from shop.people.models import Plant
from shop.quality.asked import day_in
from shop.quality.gauge_units import unit_of_gauge
from shop.quality.models import Gauge
from shop.quality.worth import Worth, worths_of
from shop.refusal import Saying, Word, gettext_noop
from shop.tooling.models import Face, Parameter, Spec, Spot, SteelEntry

ZONES = (Spot.Kind.SHUT_OFF, Spot.Kind.GATE)
# What is read against a plaque by hand is a gauge, and has no uncertainty that could be stated.
STATED = ("stylus", "optical", "glossmeter")


class LimitLike(Protocol):
    """A limit of a spec, or the draft of one."""

    @property
    def parameter(self) -> str: ...
    @property
    def where(self) -> str: ...
    @property
    def lower(self) -> Decimal | None: ...
    @property
    def upper(self) -> Decimal | None: ...
    @property
    def geometry_deg(self) -> int | None: ...
    @property
    def cutoff_mm(self) -> Decimal | None: ...


@dataclass(frozen=True)
class Means:
    """A gauge in date with what it is known to be worth."""

    gauge: Gauge
    worth: Worth

    def standard_uncertainty(self, parameter: str, geometry_deg: int | None, value: float) -> float:
        """Return the uncertainty of one reading of this size, as a verdict on it would have it."""
        unit = unit_of_gauge(self.gauge.kind)
        return self.worth.of(self.gauge, parameter, geometry_deg, unit).at(value)


def means_of(plant: Plant, at: datetime) -> list[Means]:
    """Return the plant's own gauges that are in date and passed, with what they are worth; four queries."""
    gauges = Gauge.objects.in_use(plant).with_due_date(at).filter(passed=True, due_on__gte=day_in(plant, at))
    found = {gauge.pk: gauge for gauge in gauges if not gauge.owner}
    worths = worths_of(found.keys(), at)
    return [Means(gauge, worths[pk]) for pk, gauge in found.items()]


def asked_limits(
    limits: Iterable[LimitLike], means: Sequence[Means], *, expanded: Decimal | None = None
) -> list[AskedLimit]:
    """Return limits with the best gauge there is for each; `expanded` stands instead of what a certificate says."""
    asked = []
    for limit in limits:
        plain = AskedLimit(
            str(limit.parameter), _float(limit.lower), _float(limit.upper), str(limit.where), limit.geometry_deg,
            _float(limit.cutoff_mm),
        )  # fmt: skip
        size = plain.upper if plain.upper is not None else plain.lower or 0.0
        fitting = [one for one in means if one.gauge.kind in GIVES.get(plain.parameter, ())]
        stated = [one for one in fitting if one.gauge.kind in STATED]
        known = [(one.standard_uncertainty(plain.parameter, plain.geometry_deg, size), one) for one in stated]
        u, best = min(known, key=lambda pair: pair[0], default=(None, None))
        if expanded is not None:
            u = float(expanded) / 2
        asked.append(replace(plain, u=u, gauge_kind=best.gauge.kind if best else ""))
    return asked


def with_gauge(limits: Iterable[AskedLimit], means: Sequence[Means]) -> tuple[list[AskedLimit], str]:
    """Return limits asked of one chosen gauge, and its kind, so that a gauge that does not fit is said to be one."""
    kind = means[0].gauge.kind if means else ""
    return [limit if limit.parameter in BY_EYE else replace(limit, gauge_kind=kind) for limit in limits], kind


def ask_of(face: Face) -> Ask:
    """Return what the records say of a face, whatever its finish: steel, layer, resin, wall, places, steel left."""
    insert, tool = face.insert, face.insert.tool
    kinds = {spot.kind for spot in face.spots.all()}
    left = SteelEntry.objects.left_by_face([face.pk])[face.pk]
    return Ask(
        steel=insert.steel,
        hardness_hrc=_float(insert.hardness_hrc),
        coating=insert.coating or "none",
        resin=tool.resin.family if tool.resin else "",
        draft_deg=_float(face.draft_deg),
        area_cm2=_float(face.area_cm2),
        zone=next((kind.value for kind in ZONES if kind in kinds), ""),
        steel_left_um=_float(left),
        required=float(tool.plant.conformance_required),
        ra_variant=ra_table.in_force(tool.plant),
    )


def ask_for(
    face: Face, spec: Spec, limits: Iterable[LimitLike], at: datetime, *, taken_um: Decimal | None = None
) -> tuple[Ask, list[Row]]:
    """Return what is asked for a finish on a face, and rows for limits that no gauge in date could prove."""
    means = means_of(face.insert.tool.plant, at)
    asked = asked_limits(limits, means)
    ask = replace(
        ask_of(face),
        taken_um=_float(taken_um),
        how_made=spec.how_made,
        scale=spec.scale,
        code=spec.code,
        pattern_depth_um=_float(spec.pattern_depth_um),
        limits=tuple(asked),
        aperture_mm=aperture_mm(means),
        edition=spec.drawing_edition,
        guarded=spec.acceptance == "guarded",
    )
    return ask, list(without_gauge(asked))


def answered(ask: Ask, more: Iterable[Row] = ()) -> Answer:
    """Return the craft's answer with rows of our own among its topics."""
    said = can_have(ask)
    rows = sorted((*said.rows, *more), key=lambda row: TOPICS.index(row.topic))
    return Answer(worst(rows), tuple(rows))


def answer_for(
    face: Face, spec: Spec, limits: Iterable[LimitLike], at: datetime, *, taken_um: Decimal | None = None
) -> Answer:
    """Return whether a face can have the finish of a spec, saved or not, by what is known at `at`."""
    return answered(*ask_for(face, spec, list(limits), at, taken_um=taken_um))


def told(answer: Answer) -> list[Row]:
    """Return the rows that somebody must know of: no, and with care."""
    return [row for verdict in (NO, CARE) for row in answer.rows if row.verdict == verdict]


def aperture_mm(means: Iterable[Means]) -> tuple[float, float] | None:
    """Return the smallest spot that a gloss meter in date measures; None where none says."""
    gloss = [one.gauge for one in means if one.gauge.kind == Gauge.Kind.GLOSS]
    spots = [float(gauge.aperture_mm) for gauge in gloss if gauge.aperture_mm]
    return (min(spots), min(spots)) if spots else None


def without_gauge(limits: Iterable[AskedLimit]) -> Iterator[Row]:
    """Yield a row for each measured parameter that no gauge in date gives."""
    for parameter in dict.fromkeys(limit.parameter for limit in limits if limit.u is None):
        if parameter in BY_EYE:
            continue
        template = gettext_noop("No gauge that gives {parameter} is in date here, so nothing can be proven.")
        change = gettext_noop("Have a fitting gauge calibrated, or agree where it is measured.")
        saying = Saying("suits.no_gauge", template, {"parameter": Word(Parameter(parameter).value)})
        would = Saying("suits.no_gauge.change", change, {})
        yield Row("how measured", CARE, saying, None, None, None, would, QUALITY_DECIDES)


def _float(value: Decimal | None) -> float | None:
    return None if value is None else float(value)


