"""What to do after a study, in a sentence."""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal

from shop.refusal import Saying, gettext_noop
from shop.standards import msa

MOST_READINGS = 20
UNLIKELY = 0.05
LIMITS = {"not fit": 30.0, "conditional": 10.0}


@dataclass(frozen=True)
class Deciding:
    """What the advice on a gauge rests on: the result gone by, and who read highest and lowest."""

    found: msa.GaugeStudy
    verdict: str
    highest: str
    lowest: str
    difference: Decimal
    unit: str
    beyond: tuple[Saying, ...]


def next_step(deciding: Deciding) -> Saying:
    """Return what to do next about a gauge."""
    found = deciding.found
    if deciding.beyond:
        return Saying("study.next_look", gettext_noop(
            "Look at {cells} first: repeats there differ more than chance explains. Measure them again, and put the "
            "study right where a value was misread."
        ), {"cells": list(deciding.beyond)})  # fmt: skip
    if found.grr == 0:
        return Saying("study.next_resolution", gettext_noop(
            "Read the gauge to one more digit, or choose parts nearer to one another, and study it again: no scatter "
            "at all was seen."
        ), {})  # fmt: skip
    if deciding.verdict == "fit":
        return _fit(found)
    anova = found.anova
    if anova and not anova.pooled and (anova.interaction_p or 1) < UNLIKELY and found.av > found.ev:
        return Saying("study.next_part_to_part", gettext_noop(
            "People differ from part to part: agree where on the part and in which direction each is measured, mark "
            "the spot, and study again."
        ), {})  # fmt: skip
    if found.av > found.ev:
        return Saying("study.next_people", gettext_noop(
            "Most of the scatter lies between people: {highest} reads {difference} {unit} above {lowest} on average. "
            "Agree how the gauge is set down, at which spot and in which direction, and study again."
        ), {"highest": deciding.highest, "lowest": deciding.lowest, "difference": deciding.difference,
            "unit": deciding.unit})  # fmt: skip
    return _repeats(deciding)


def _fit(found: msa.GaugeStudy) -> Saying:
    if found.fitness.enough_categories is False:
        return Saying("study.next_spread", gettext_noop(
            "The gauge may decide. The parts were much alike ({ndc} categories): next time choose parts that spread "
            "over the whole tolerance."
        ), {"ndc": found.ndc})  # fmt: skip
    return Saying("study.next_none", gettext_noop(
        "The gauge may decide. Study it again after a repair, with other people, or on another kind of finish."
    ), {})  # fmt: skip


def _repeats(deciding: Deciding) -> Saying:
    limit = LIMITS[deciding.verdict]
    readings = _readings_for(deciding.found, limit)
    if readings is None:
        return Saying("study.next_repeats", gettext_noop(
            "Most of the scatter is in the repeats of one person: hold the part firmly, mark the spot, clean tip or "
            "aperture, have the gauge looked at, and study again."
        ), {})  # fmt: skip
    return Saying("study.next_mean_of", gettext_noop(
        "Most of the scatter is in the repeats of one person: hold the part firmly and mark the spot; the mean of "
        "{n} readings would come to {limit} % of the tolerance."
    ), {"n": readings, "limit": Decimal(int(limit))})  # fmt: skip


def _readings_for(found: msa.GaugeStudy, percent: float) -> int | None:
    """Return how many readings' mean would take no more than that percentage of the tolerance, if some would."""
    if found.tolerance is None:
        return None
    left = (percent / 100 * found.tolerance / 6) ** 2 - found.av**2
    if left <= 0:
        return None
    readings = math.ceil(found.ev**2 / left - 1e-9)
    return readings if 1 < readings <= MOST_READINGS else None
