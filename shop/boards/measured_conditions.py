"""After measuring: whether values belong to the cut-off they were read with, and were evaluated over enough length."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from statistics import fmean

from shop.quality.models import Reading
from shop.refusal import Refused, Saying, gettext_noop
from shop.standards import recheck as rules
from shop.standards.conditions import SAMPLING_LENGTHS
from shop.tooling.models import Face, Limit, Parameter, Spec, Spot
from shop.units import Quantity

RECHECKED = frozenset({Parameter.RA.value, Parameter.RZ.value})
_QUIET = frozenset({"recheck.stands", "recheck.by_limit"})
_SHORT = gettext_noop(
    "Only {value} of {limit} sampling lengths fit into the evaluation length of {length}: a short one, whose scatter "
    "is wider."
)


@dataclass(frozen=True)
class Rechecked:
    """What the conditions of some values say about them. `stands` is false where they must be read again."""

    face: Face
    spot: Spot | None
    parameter: str
    cutoff_mm: Decimal
    stands: bool
    sayings: tuple[Saying, ...]


def rechecked(readings: Iterable[Reading]) -> list[Rechecked]:
    """Return what there is to say of the conditions of these readings; nothing where all is as it should be.

    Values are taken together by face, spot, parameter and cut-off. Spec with limits and face come with the readings.
    """
    grouped: dict[tuple[int, int | None, str, str, Decimal], list[Reading]] = {}
    tried: dict[tuple[int, int | None, str, str], set[float]] = {}
    for reading in readings:
        if reading.cutoff_mm is not None:
            place = (reading.face_id, reading.spot_id, reading.parameter, reading.where)
            grouped.setdefault((*place, reading.cutoff_mm), []).append(reading)
            tried.setdefault(place, set()).add(float(reading.cutoff_mm))
    found = []
    for key, group in grouped.items():
        sayings, stands = _said(group, key[4], tried[key[:4]] - {float(key[4])})
        if sayings:
            found.append(Rechecked(group[0].face, group[0].spot, key[2], key[4], stands, tuple(sayings)))
    return sorted(found, key=lambda one: one.stands)


def _said(group: list[Reading], cutoff: Decimal, tried: set[float]) -> tuple[list[Saying], bool]:
    sayings, stands = [], True
    again = _rechecked(group[0], fmean(float(one.value) for one in group), cutoff, tried)
    if again is not None and again.saying.code not in _QUIET:
        sayings.append(again.saying)
        stands = again.stands
    lengths = [one.evaluation_length_mm for one in group if one.evaluation_length_mm is not None]
    if lengths:
        fitting = rules.length_on_face(float(min(lengths)), float(cutoff), travel_mm=0.0)
        if fitting.short:
            values = {
                "value": fitting.sampling_lengths, "limit": SAMPLING_LENGTHS, "length": Quantity(min(lengths), "mm"),
            }  # fmt: skip
            sayings.append(Saying("recheck.short", _SHORT, values))
    return sayings, stands


def _rechecked(reading: Reading, value: float, cutoff: Decimal, tried: set[float]) -> rules.Recheck | None:
    """Return what the drawing's edition says; None where the spec names the cut-off, or the edition has no rows."""
    limit = _limit_of(reading)
    edition = reading.spec.drawing_edition
    named = limit is not None and limit.cutoff_mm is not None
    if reading.parameter not in RECHECKED or edition == Spec.Edition.ASME or named:
        return None
    sides = () if limit is None else (limit.upper, limit.lower)
    limit_um = next((float(side) for side in sides if side), None)
    try:
        return rules.recheck(reading.parameter, value, float(cutoff), edition, limit_um=limit_um, tried_mm=tried)
    except Refused:
        return None  # off the rows of the standard, which then asks for nothing


def _limit_of(reading: Reading) -> Limit | None:
    limits = [
        limit
        for limit in reading.spec.limits.all()
        if (limit.parameter, limit.where) == (reading.parameter, reading.where)
    ]
    own = [limit for limit in limits if limit.spot_id is not None and limit.spot_id == reading.spot_id]
    every = [limit for limit in limits if limit.spot_id is None]
    return next(iter(own or every), None)
