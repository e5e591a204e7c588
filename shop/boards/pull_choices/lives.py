"""How long finishes have lasted here after each work, and how long the next one is to be expected to last."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from statistics import median
from typing import TYPE_CHECKING

from django.db.models import Exists, F, OuterRef, Subquery, Value
from django.db.models.functions import Coalesce

from shop.craft.gains import SEED_SHAPE, SHARE_OF_FULL, seed_life, shape_of, work_of
from shop.craft.pulling import Law
from shop.drift.lives import weibull
from shop.press.models import InsertShots
from shop.quality.models import Verdict
from shop.refusal import Refused, Saying, Word, gettext_noop
from shop.tooling.models import FinishLife, Spec, Tool
from shop.units import Quantity
from shop.watch.groups import severity_class

if TYPE_CHECKING:
    from shop.boards.pull_choices.facts import FaceFacts

LEAST_ENDED = 3  # lives that reached their limit, below which no law is learned from them
MOST_LIVES = 600


@dataclass(frozen=True)
class Learned:
    """What lives that began with one work have shown: the median and how many reached their limit, of how many."""

    median: float
    reached: int
    of: int


@dataclass(frozen=True)
class Gain:
    """How long a finish is to be expected to last after a work, and where that is from."""

    law: Law
    why: Saying
    learned: bool


def learned_lives(tool: Tool, how_made: Collection[str], at: datetime) -> dict[tuple[str, str], Learned]:
    """Return by kind of finish and work how long lives of the plant lasted in resins that wear alike. One query.

    A life that was off spec when it ended, or is, has reached its limit; every other only lasted at least as long.
    """
    spec = Spec.objects.filter(face=OuterRef("face"), at__lte=OuterRef("began_at")).order_by("-revision")
    first = Spec.objects.filter(face=OuterRef("face")).order_by("revision")
    failed = Verdict.objects.deciding().filter(life=OuterRef("pk"), outcome=Verdict.Outcome.NO)
    lives = (
        FinishLife.objects.filter(face__insert__tool__plant=tool.plant_id)
        .annotate(
            until=Coalesce("ended_at", Value(at)),
            how_made=Coalesce(Subquery(spec.values("how_made")[:1]), Subquery(first.values("how_made")[:1])),
            severity=F("face__insert__tool__resin__severity"),
        )
        .filter(how_made__in=how_made)
        .annotate(
            born_total=InsertShots.objects.total_before("face__insert", "began_at"),
            end_total=InsertShots.objects.total_before("face__insert", "until"),
            reached=Exists(failed),
        )
        .order_by("-began_at", "-id")
    )
    alike = _wears(tool.resin.severity if tool.resin else None)
    rows: dict[tuple[str, str], list[tuple[float, bool]]] = defaultdict(list)
    for life in lives[:MOST_LIVES]:
        shots = (life.end_total or 0) - (life.born_total or 0)
        if shots > 0 and _wears(life.severity) == alike:
            rows[life.how_made, work_of(life.began_by)].append((float(shots), life.reached))
    return {key: learned for key, lives_of in rows.items() if (learned := _learned(lives_of)) is not None}


def gain_of(facts: FaceFacts, work: str, lives: Mapping[tuple[str, str], Learned], *, filled: bool) -> Gain:
    """Return how long the face's finish is to be expected to last after a work.

    What lives here have shown stands before the forecast of the face's own life, and both before the seeds.
    """
    learned = lives.get((facts.spec.how_made, work))
    shape = _shape(facts)
    if learned is not None:
        return Gain(Law(learned.median, shape), _learned_words(learned, work), learned=True)
    whole = _forecast(facts)
    share = SHARE_OF_FULL[work]
    if whole is not None:
        return Gain(Law(max(whole * share, 1.0), shape), _forecast_words(facts, whole, work), learned=False)
    seed = seed_life(facts.spec.how_made, work, filled=filled)
    template = gettext_noop("Seed, no source: {low} to {high} after a {work}; the middle of both is taken.")
    values = {"low": about(seed.low), "high": about(seed.high), "work": Word(work)}
    return Gain(Law(seed.middle, shape), Saying("gain.seed", template, values), learned=False)


def _wears(severity: object) -> str:
    return severity_class(float(str(severity))) if severity is not None else "mild"


def _learned(lives: list[tuple[float, bool]]) -> Learned | None:
    reached = sum(one for _shots, one in lives)
    if reached < LEAST_ENDED:
        return None
    try:
        law = weibull([shots for shots, _one in lives], [one for _shots, one in lives])
    except Refused:
        # Lives that are all alike have no likeliest law; their middle is known all the same.
        return Learned(median(shots for shots, one in lives if one), reached, len(lives))
    return Learned(float(law.scale) * math.log(2.0) ** (1.0 / float(law.shape)), reached, len(lives))


def _forecast(facts: FaceFacts) -> float | None:
    """Return how long a full refinish would have lasted, by the forecast of the life that runs; None is not known."""
    left = facts.lefts[1]
    if left is None or facts.standing is None or facts.life is None:
        return None
    whole = facts.standing.life_shots + left
    return whole / SHARE_OF_FULL[work_of(facts.life.began_by)] if whole > 0 else None


def _shape(facts: FaceFacts) -> float:
    """Return how sharply the next life's end will be known, which is how sharply this one's is."""
    low, _middle, high = facts.lefts
    if low is None or high is None or facts.standing is None:
        return SEED_SHAPE
    run = facts.standing.life_shots
    return shape_of(float(run + low), float(run + high))


def _learned_words(learned: Learned, work: str) -> Saying:
    template = gettext_noop(
        "Learned here: of {of} lives that began with a {work}, {reached} reached their limit, half of them by {shots}."
    )
    values = {"of": learned.of, "reached": learned.reached, "work": Word(work), "shots": about(learned.median)}
    return Saying("gain.learned", template, values)


def _forecast_words(facts: FaceFacts, whole: float, work: str) -> Saying:
    began = work_of(facts.life.began_by) if facts.life else work
    values = {
        "shots": about(whole * SHARE_OF_FULL[began]),
        "began": Word(began),
        "work": Word(work),
        "share": Quantity(Decimal(round(100 * SHARE_OF_FULL[work] / SHARE_OF_FULL[began])), "percent"),
    }
    if work == began:
        template = gettext_noop("By the forecast of this life, which a {began} began: {shots} in the middle.")
    else:
        template = gettext_noop(
            "By the forecast of this life, which a {began} began: {shots} in the middle. A {work} is reckoned to give "
            "{share} of that (seed, no source)."
        )
    return Saying("gain.forecast", template, values)


def about(count: float) -> Quantity:
    """Return a count of shots to the two digits that it is known to."""
    digits = max(len(str(int(abs(count)))) - 2, 0)
    return Quantity(Decimal(round(count, -digits)).to_integral_value(), "shots")
