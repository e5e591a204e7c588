"""Are forecasts right as often as they say, and how near are they: against least squares and an oracle."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np

from shop.drift.crossing import crossing
from shop.drift.forecast import Forecast, forecast_group, mixed
from shop.drift.pooling import sums_of
from shop.drift.rates import Group as Known
from shop.drift.rates import Hyper
from shop.drift.steps import common_steps
from shop.drift.trend import fit_line
from shop.refusal import Refused
from tests.validation.plants import (
    CONDITIONS,
    LIMIT,
    RATE,
    SCATTER,
    START,
    START_SD,
    Condition,
    Group,
    group_of,
)

FACES_A_CONDITION = 2000
SHARP_COUNTS, SHARP_FACES = (3, 5, 10, 20), 600
BINS = 10
# Shots at which chances are asked, as shares of the crossing of a face in the middle.
ASKED = (0.4, 0.6, 0.8, 1.0, 1.25, 1.6, 2.2)


@dataclass
class Honest:
    """How often 80 % intervals hold the truth, and what came of each chance that was given."""

    inside: dict[str, list[bool]] = field(default_factory=dict)
    given: list[float] = field(default_factory=list)
    came: list[bool] = field(default_factory=list)

    def bins(self) -> Iterator[tuple[float, float, int]]:
        """Yield for each tenth of chance what was said in the mean, how often it came, and of how many."""
        said, came = np.array(self.given), np.array(self.came)
        which = np.minimum((said * BINS).astype(int), BINS - 1)
        for one in range(BINS):
            here = which == one
            if here.any():
                yield float(said[here].mean()), float(came[here].mean()), int(here.sum())


def honest(seed: int) -> Honest:
    """Forecast every face of every condition, and hold it against the truth."""
    found = Honest()
    for number, condition in enumerate(CONDITIONS):
        rng = np.random.default_rng([seed, number])
        inside: list[bool] = []
        while len(inside) < FACES_A_CONDITION:
            group = group_of(condition, rng)
            middle = float(np.median(group.truth))
            for one, truth in zip(_forecast(group), group.truth, strict=True):
                inside.append(0.1 <= one.probability_by(truth) <= 0.9)
                for share in ASKED:
                    found.given.append(one.probability_by(share * middle))
                    found.came.append(bool(truth <= share * middle))
        found.inside[condition.name] = inside
    return found


def _forecast(group: Group) -> list[Forecast]:
    """Split off what the inspections share, and forecast what is left."""
    try:
        steps = common_steps(group.faces, group.occasions)
    except Refused:
        return forecast_group(group.faces, LIMIT, "up")
    return forecast_group(steps.without(group.faces, group.occasions), LIMIT, "up", steps.shared_line())


@dataclass(frozen=True)
class Sharp:
    """Median errors of the crossing with so many readings a face, in shares of the true crossing."""

    readings: int
    pooled: float
    own: float
    oracle: float


def sharp(seed: int) -> Iterator[Sharp]:
    """Yield the errors at each count of readings: pooled, by the face's own line, and by who knows the group."""
    condition = CONDITIONS[0]
    for readings in SHARP_COUNTS:
        rng = np.random.default_rng([seed, 99, readings])
        errors: list[tuple[float, float, float]] = []
        while len(errors) < SHARP_FACES:
            errors += _errors(condition, rng, readings)
        pooled, own, oracle = np.median(np.array(errors), axis=0)
        yield Sharp(readings, float(pooled), float(own), float(oracle))


def _errors(condition: Condition, rng: np.random.Generator, readings: int) -> Iterator[tuple[float, float, float]]:
    group = group_of(condition, rng, [readings] * 30)
    sums = sums_of(group.faces)
    known = Known(
        Hyper(START, START_SD, math.log(RATE * sums.scale), group.log_rate_sd, SCATTER), np.zeros((5, 5))
    )
    for one, best, truth, (shots, values) in zip(
        forecast_group(group.faces, LIMIT, "up"), mixed([(sums, known, 1.0)], LIMIT, "up"), group.truth, group.faces,
        strict=True,
    ):  # fmt: skip
        own = _own(group, shots, values)
        yield tuple(_away(at, truth) for at in (one.shots_at(0.5), own, best.shots_at(0.5)))  # type: ignore[misc]


def _own(_group: Group, shots: np.ndarray, values: np.ndarray) -> float | None:
    try:
        return crossing(fit_line(shots.tolist(), values.tolist()), LIMIT, "up").shots_at(0.5)
    except Refused:
        return None


def _away(found: float | None, truth: float) -> float:
    return abs(found - truth) / truth if found is not None else math.inf
