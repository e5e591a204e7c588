"""What could be told of a face after each of its readings, from that and those before it. Numbers only."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from shop.drift import courses
from shop.drift.crossing import Direction, crossing
from shop.drift.forecast import Forecast
from shop.drift.trend import Line
from shop.watch.forecast import SIDES, TELLING_T, line_through, reached_at, share_of
from shop.watch.models import Trend
from shop.watch.path import Points, points_of

# The chance of having reached a limit after so many more shots.
Chance = Callable[[float], float]


def chances_after(trend: Trend, counts: Sequence[int]) -> list[Chance | None]:
    """Return by counts of readings what `forecast.outlook` would have told then; None where nothing yet.

    The group is as it is known now. A trend is gone through at once: its readings share their group's reckoning.
    """
    points = points_of(trend)
    lines = [_line(points[:count]) for count in counts]
    found: list[list[Chance]] = [[] for _ in counts]
    for side, limit in zip(SIDES, reversed(reached_at(trend)), strict=True):
        if limit is None:
            continue
        by_line = [_by_line(line, limit, side, alone=trend.pool is None) for line in lines]
        for chances, chance in zip(found, _by_group(trend, points, counts, side, limit) or by_line, strict=True):
            if chance is not None:
                chances.append(chance)
    return [_likelier(chances, trend.severity or 1.0) if chances else None for chances in found]


def _likelier(chances: Sequence[Chance], severity: float) -> Chance:
    return lambda shots: max(chance(shots * severity) for chance in chances)


def _by_group(trend: Trend, points: Points, counts: Sequence[int], side: str, limit: float) -> list[Chance]:
    """Return what the group and the readings until then say together; empty where no group wears that way."""
    if trend.pool is None or trend.pool.side != side or not trend.pool.courses:
        return []
    share = share_of(limit)
    wear, values = points["wear"], (points["value"] - points["step"]) / share
    way: Direction = "up" if side == "upper" else "down"
    found = courses.forecast_by(
        [courses.read(one) for one in trend.pool.courses],
        [(wear[:count], values[:count]) for count in counts],
        limit / share,
        way,
        weights=[points["weight"][:count] for count in counts],
        shared=None if trend.shared is None else np.asarray(trend.shared) / share**2,
    )

    def after(forecast: Forecast, now: float) -> Chance:
        return lambda shots: forecast.probability_by(now + shots)

    return [after(one, float(wear[count - 1])) for one, count in zip(found, counts, strict=True)]


def _line(points: Points) -> Line | None:
    """Return the face's own line, seen from its last reading."""
    line = line_through(points["wear"], points["value"] - points["step"])
    return line.seen_from(float(points["wear"][-1])) if line else None


def _by_line(line: Line | None, limit: float, side: str, *, alone: bool) -> Chance | None:
    """Return what the face's own line says; beside a group that wears the other way only a slope that tells."""
    if line is None or line.residual_sd is None:
        return None
    slope = line.slope if side == "upper" else -line.slope
    if not alone and slope <= TELLING_T * (line.se_slope or 0.0):
        return None
    return crossing(line, limit, "up" if side == "upper" else "down").probability_by
