"""What a trend says of the shots to come, from its group and its own line. Numbers only; nothing is read or written."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from scipy.special import stdtrit

from shop.drift import courses
from shop.drift.crossing import Crossing, Direction, crossing
from shop.drift.forecast import Forecast
from shop.drift.trend import Column, Line, fit_line
from shop.refusal import Refused
from shop.tooling.models import Parameter
from shop.watch.models import Pool, Trend
from shop.watch.path import points_of

LEAST_READINGS = 3
# Beyond this many shots no tool lives: a crossing there is none.
FARTHEST_SHOTS = 1e12
# A slope is told from none when it is twice its own standard error.
TELLING_T = 2.0
CHANCES = (0.1, 0.5, 0.9)
SIDES = ("upper", "lower")
Levels = tuple[float, float, float]


class _Side(Protocol):
    """One limit ahead, seen from now in weighted shots."""

    def chance_by(self, ahead: float) -> float: ...

    def shots_at(self, chance: float) -> float | None: ...

    def level_at(self, ahead: float) -> Levels: ...


@dataclass(frozen=True)
class _Own:
    """A limit that the face's own line is held against."""

    line: Line
    to_limit: Crossing

    def chance_by(self, ahead: float) -> float:
        return self.to_limit.probability_by(ahead)

    def shots_at(self, chance: float) -> float | None:
        return self.to_limit.shots_at(chance)

    def level_at(self, ahead: float) -> Levels:
        middle, error = self.line.predict(ahead)
        reach = float(stdtrit(self.line.df, CHANCES[-1])) * (error or 0.0)
        return middle - reach, middle, middle + reach


@dataclass(frozen=True)
class _Pooled:
    """A limit that is held against what the group and the face's own readings say together; values are shares of it."""

    forecast: Forecast
    now: float
    share: float

    def chance_by(self, ahead: float) -> float:
        return self.forecast.probability_by(self.now + ahead)

    def shots_at(self, chance: float) -> float | None:
        at = self.forecast.shots_at(chance)
        return None if at is None else max(at - self.now, 0.0)

    def level_at(self, ahead: float) -> Levels:
        low, middle, high = self.forecast.level_at(self.now + ahead)
        return low * self.share, middle * self.share, high * self.share


@dataclass(frozen=True)
class Outlook:
    """A face on its way to its nearer limit, counted in real shots from now of the resin that runs.

    The other limit is watched too: the chance is that of the likelier one.
    """

    towards: str
    pooled: bool
    severity: float
    sides: Mapping[str, _Side]

    def chance_by(self, extra_shots: float) -> float:
        """Return the chance of having reached a limit after so many more shots."""
        return max(side.chance_by(extra_shots * self.severity) for side in self.sides.values())

    def left(self, chance: float) -> int | None:
        """Return the shots from now until the chance is this; None is never."""
        found = [side.shots_at(chance) for side in self.sides.values()]
        known = [at / self.severity for at in found if at is not None]
        shots = min(known, default=math.inf)
        return math.floor(shots) if shots <= FARTHEST_SHOTS else None

    def level_at(self, extra_shots: float) -> Levels:
        """Return what the true mean is to be expected at after so many more shots: 10, 50 and 90 %, in its unit."""
        return self.sides[self.towards].level_at(extra_shots * self.severity)

    @cached_property
    def chance_now(self) -> float:
        """Return the chance that the nearer limit is reached already."""
        return self.sides[self.towards].chance_by(0.0)


def outlook(trend: Trend, pools: Mapping[str, Pool] | None = None) -> Outlook | None:
    """Return what the trend is heading for; None where nothing can be told yet.

    `pools` are the groups to ask, by side of the limit; without them the group that the trend was last forecast from.
    Where the group is known to wear towards one limit, the other is watched by the face's own line once its slope
    tells: three readings that scatter are no sign that a face goes the other way.
    """
    if pools is None:
        pools = {trend.pool.side: trend.pool} if trend.pool is not None else {}
    own = line_of(trend)
    ahead = own.seen_from(trend.life_wear) if own else None
    sides: dict[str, _Side] = {}
    pooled = set()
    for side, limit in zip(SIDES, reversed(reached_at(trend)), strict=True):
        if limit is None:
            continue
        found = _pooled(trend, pools[side], limit) if side in pools else None
        if found is not None:
            sides[side] = found
            pooled.add(side)
        elif ahead is not None and ahead.residual_sd is not None and (not pools or _tells(ahead, side)):
            sides[side] = _Own(ahead, _crossing(ahead, limit, side))
    if not sides:
        return None
    towards = min(sides, key=lambda side: _nearness(trend, sides[side], side))
    return Outlook(towards, towards in pooled, trend.severity or 1.0, sides)


def _pooled(trend: Trend, pool: Pool, limit: float) -> _Pooled | None:
    share = share_of(limit)
    points = points_of(trend)
    if not len(points) or not pool.courses:
        return None
    values = (points["value"] - points["step"]) / share
    shared = None if trend.shared is None else np.asarray(trend.shared) / share**2
    way: Direction = "up" if pool.side == "upper" else "down"
    known = [courses.read(one) for one in pool.courses]
    found = courses.forecast_by(
        known, [(points["wear"], values)], limit / share, way, weights=[points["weight"]], shared=shared
    )
    return _Pooled(found[0], trend.life_wear, share)


def share_of(limit: float) -> float:
    """Return what values are divided by to stand beside those of faces with other limits."""
    return abs(limit) or 1.0


def _nearness(trend: Trend, side: _Side, name: str) -> tuple[float, float, float, float]:
    left = [_or_never(side.shots_at(chance)) for chance in CHANCES[:2]]
    limit = dict(zip(SIDES, reversed(reached_at(trend)), strict=True))[name] or 0.0
    return left[0], left[1], -side.chance_by(0.0), abs(limit - side.level_at(0.0)[1])


def _or_never(shots: float | None) -> float:
    return math.inf if shots is None else shots


def line_through(shots: Column, values: Column) -> Line | None:
    """Return the line through the readings, or None where they are too few or all at the same shots."""
    if len(shots) < LEAST_READINGS:
        return None
    try:
        return fit_line(shots, values)
    except Refused:
        return None


def line_of(trend: Trend) -> Line | None:
    """Return the face's own line that the row keeps, over weighted shots of its life."""
    if trend.slope is None or trend.intercept is None or trend.mean_shots is None or trend.sxx is None:
        return None
    return Line(
        intercept=trend.intercept,
        slope=trend.slope,
        se_intercept=trend.se_intercept,
        se_slope=trend.se_slope,
        residual_sd=trend.residual_sd,
        n=trend.count,
        df=trend.count - 2,
        mean_x=trend.mean_shots,
        sxx=trend.sxx,
    )


def chance_of_reaching(trend: Trend, extra_shots: int) -> float | None:
    """Return the chance that the face reaches either limit within so many more shots; None where not known."""
    ahead = outlook(trend)
    return None if ahead is None else ahead.chance_by(float(extra_shots))


def shots_left(trend: Trend, chance: float) -> int | None:
    """Return the shots from now until the chance of having reached either limit is this; None is never or not known."""
    kept = {0.1: trend.left_10, 0.5: trend.left_50, 0.9: trend.left_90}
    if chance in kept and trend.chance_now is not None:
        return kept[chance]
    ahead = outlook(trend)
    return None if ahead is None else ahead.left(chance)


def reached_at(trend: Trend) -> tuple[float | None, float | None]:
    """Return where the trend's path leaves its limits, lower and upper.

    A grade given by eye is a whole number and the limit is the last that is let pass: the path leaves it halfway to
    the next.
    """
    halfway = 0.5 if Parameter(trend.parameter).by_eye else 0.0
    return (
        None if trend.lower is None else trend.lower - halfway,
        None if trend.upper is None else trend.upper + halfway,
    )


def wears_towards(trend: Trend) -> bool:
    """Return whether the slope runs towards the nearer limit and is more than scatter."""
    if trend.slope is None or not trend.towards:
        return False
    slope = trend.slope if trend.towards == "upper" else -trend.slope
    return slope > TELLING_T * (trend.se_slope or 0.0)


def _tells(line: Line, side: str) -> bool:
    """Return whether the line runs towards a side by more than scatter."""
    slope = line.slope if side == "upper" else -line.slope
    return slope > TELLING_T * (line.se_slope or 0.0)


def _crossing(line: Line, limit: float, side: str) -> Crossing:
    return crossing(line, limit, "up" if side == "upper" else "down")
