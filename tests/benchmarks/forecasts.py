"""Lines and pooled forecasts of many faces, and one new reading. Floor: a statsmodels OLS fit a face, in a loop."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import statsmodels.api as sm

from shop.drift import batch, bulk
from shop.drift.charts import ewma
from shop.drift.courses import Course, forecast_by, learn
from shop.drift.residuals import one_step_ahead
from shop.drift.trend import fit_line
from tests.benchmarks.measuring import Case, Room

READINGS = 20
LIMIT = 10.0
CHANCES = (0.1, 0.5, 0.9)
FACES, LEARNED_FROM, LONG = 2_000, 400, 10_000
ONCE_A_NIGHT = 25_000


@dataclass(frozen=True)
class Faces:
    """Faces of one group with twenty readings each, and what the group has been learned as."""

    shots: Any
    values: Any
    known: list[Course]

    @property
    def offsets(self) -> Any:
        return np.arange(len(self.shots) + 1) * READINGS

    @property
    def now(self) -> Any:
        return self.shots[:, -1]


def faces(count: int = FACES, learned_from: int = LEARNED_FROM) -> Faces:
    rng = np.random.default_rng(7)
    shots = np.sort(rng.uniform(0, 80_000, (count, READINGS)), axis=1)
    rate = rng.lognormal(np.log(4.0 / 80_000), 0.4, count)
    values = 5.0 + rate[:, None] * shots + rng.normal(0, 0.2, shots.shape)
    return Faces(shots, values, _learn(shots, values, learned_from))


def _learn(shots: Any, values: Any, learned_from: int = LEARNED_FROM) -> list[Course]:
    return learn(list(zip(shots[:learned_from], values[:learned_from], strict=True)), LIMIT, "up")


def ols_a_face(given: Faces) -> float:
    """Fit a face after the other as anybody would."""
    return sum(
        float(sm.OLS(values, sm.add_constant(shots)).fit().params[1])
        for shots, values in zip(given.shots, given.values, strict=True)
    )


def plain(given: Faces) -> object:
    lines = bulk.fit_lines(given.shots.ravel(), given.values.ravel(), given.offsets)
    return bulk.shots_at(lines, np.full(len(given.shots), LIMIT), np.full(len(given.shots), True), 0.5)


def pooled(given: Faces) -> object:
    return batch.ahead(
        given.known, given.shots.ravel(), given.values.ravel(), given.offsets, LIMIT, "up", now=given.now,
        chances=CHANCES,
    )  # fmt: skip


def learned_and_pooled(given: Faces) -> object:
    return pooled(Faces(given.shots, given.values, _learn(given.shots, given.values)))


@dataclass(frozen=True)
class Long:
    """One face with very many readings behind it."""

    shots: Any
    values: Any
    known: list[Course]


def long() -> Long:
    rng = np.random.default_rng(8)
    shots = np.sort(rng.uniform(0, 80_000, LONG))
    return Long(shots, 5.0 + 4.0 / 80_000 * shots + rng.normal(0, 0.2, LONG), faces().known)


def one_reading(given: Long) -> object:
    """Bring a face up to date: its own line, what line and group say, and its chart."""
    line = fit_line(given.shots, given.values)
    forecast = forecast_by(given.known, [(given.shots, given.values)], LIMIT, "up")[0]
    scores = one_step_ahead(given.shots, given.values)
    chart = ewma(scores, 0.0, 1.0, 0.2, 2.864)
    return line, [forecast.shots_at(chance) for chance in CHANCES], chart.alarms


def _sum_up(given: Long) -> float:
    return float(given.shots @ given.values)


def _case(
    name: str, run: Callable[[Any], object], ratio: float, count: int = FACES, rounds: int = 5, of: int = LEARNED_FROM
) -> Case:
    return Case(
        f"{count:,} faces of {READINGS} readings: {name}", lambda: faces(count, of), run,
        "an OLS fit a face (statsmodels)", ols_a_face, most_ratio=ratio, rounds=rounds,
    )  # fmt: skip


ROOM = Room(
    "Forecasts",
    (
        _case("plain lines and their crossings", plain, 0.01),
        _case("pooled forecasts, their group of 400 known", pooled, 0.1),
        _case("pooled forecasts, their group of 60 known, so by ten draws of it", pooled, 0.1, of=60),
        _case("pooled forecasts, their one group learned too", learned_and_pooled, 0.1, ONCE_A_NIGHT, rounds=3),
        Case(
            f"one new reading with {LONG:,} behind it: line, forecast, chart", long, one_reading,
            "one sum over the readings", _sum_up, most_s=0.005,
        ),
    ),
)  # fmt: skip
