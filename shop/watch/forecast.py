"""What a trend says of the shots to come. Numbers only; nothing is read or written."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shop.drift.crossing import Crossing, crossing
from shop.drift.trend import Line, fit_line
from shop.refusal import Refused
from shop.tooling.models import Parameter
from shop.watch.models import Trend

LEAST_READINGS = 3
# Beyond this many shots no tool lives: a crossing there is none.
FARTHEST_SHOTS = 1e12
# A slope is told from none when it is twice its own standard error.
TELLING_T = 2.0
CHANCES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Forecast:
    """Shots from now to the chances of `CHANCES`, towards the nearer limit; None is never, or not known yet."""

    towards: str
    chance_now: float | None
    left: tuple[int | None, int | None, int | None]


def line_through(shots: Sequence[float], values: Sequence[float]) -> Line | None:
    """Return the line through the readings, or None where they are too few or all at the same shots."""
    if len(shots) < LEAST_READINGS:
        return None
    try:
        return fit_line(shots, values)
    except Refused:
        return None


def line_of(trend: Trend) -> Line | None:
    """Return the line that the row keeps."""
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


def forecast(line: Line, lower: float | None, upper: float | None, life_shots: int) -> Forecast:
    """Return what the line says of the limit that comes first, seen from `life_shots`.

    The chance runs from now on: where the line, drawn back to the first shot, would have stood beyond a limit that
    the face wears away from, says nothing of the shots to come.
    """
    ahead = line.seen_from(float(life_shots))
    found = []
    for side, limit in (("upper", upper), ("lower", lower)):
        if limit is None:
            continue
        to_limit = _crossing(ahead, limit, side)
        left = tuple(_left(to_limit, chance) for chance in CHANCES)
        chance_now = to_limit.probability_by(0.0)
        away = abs(limit - ahead.intercept)
        first = [math.inf if shots is None else shots for shots in left]
        found.append((first[0], first[1], -chance_now, away, Forecast(side, chance_now, (left[0], left[1], left[2]))))
    if not found:
        return Forecast("", None, (None, None, None))
    return min(found, key=lambda one: one[:4])[4]


def chance_of_reaching(trend: Trend, extra_shots: int) -> float | None:
    """Return the chance that the face reaches either limit within so many more shots; None where not known."""
    chances = [to_limit.probability_by(float(extra_shots)) for to_limit in crossings(trend)]
    return max(chances, default=None)


def shots_left(trend: Trend, chance: float) -> int | None:
    """Return the shots from now until the chance of having reached either limit is this; None is never or not known."""
    left = [_left(to_limit, chance) for to_limit in crossings(trend)]
    return min((shots for shots in left if shots is not None), default=None)


def crossings(trend: Trend) -> list[Crossing]:
    """Return the crossings of the row's line with its limits, in shots from now; none where there is no line."""
    line = line_of(trend)
    if line is None:
        return []
    ahead = line.seen_from(float(trend.life_shots))
    lower, upper = reached_at(trend)
    return [_crossing(ahead, limit, side) for side, limit in (("upper", upper), ("lower", lower)) if limit is not None]


def reached_at(trend: Trend) -> tuple[float | None, float | None]:
    """Return where the trend's line leaves its limits, lower and upper.

    A grade given by eye is a whole number and the limit is the last that is let pass: the line leaves it halfway to
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


def _crossing(line: Line, limit: float, side: str) -> Crossing:
    return crossing(line, limit, "up" if side == "upper" else "down")


def _left(to_limit: Crossing, chance: float) -> int | None:
    shots = to_limit.shots_at(chance)
    if shots is None or not math.isfinite(shots) or shots > FARTHEST_SHOTS:
        return None
    return math.floor(shots)
