"""How far readings lie from their trend, each in the spread that its own prediction has."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.special import ndtri, stdtr

from shop.drift.charts import Floats, finite
from shop.drift.trend import Line
from shop.refusal import Refused, gettext_noop

# Scatter within a thousandth of a millionth of the values is rounding, not scatter.
_ROUNDING = 1e-9


def standardised(line: Line, shots: Sequence[float], values: Sequence[float]) -> Floats:
    """Return how far each reading of a line lies from the line through the others, as normal scores.

    Each is held against the predictive spread that the others give it, so with few readings a far one counts for less;
    Student's chance of it is then read as a standard normal's, so that the limits of any chart mean what they say.

    Parameters
    ----------
    line : Line
        The line through exactly these readings.
    shots : sequence of float
        Shots of the life at each reading. [shots]
    values : sequence of float
        The readings. [unit of the line's values]

    Returns
    -------
    array of float
        Scores, each standard normal while nothing has changed. [1]

    Raises
    ------
    Refused
        If the readings are not the line's, or so few that the others leave no spread.

    References
    ----------
    .. [1] Cook and Weisberg (1982), Residuals and Influence in Regression, 2.2, externally studentised residuals.
    .. [2] Quesenberry (1991), Journal of Quality Technology 23:213-224, normal scores of such residuals.
    """
    x, y = _pairs(shots, values)
    if x.size != line.n:
        raise Refused(
            "residuals.other_readings",
            gettext_noop("{count} readings are not the {limit} of the line."),
            next_step=gettext_noop("Give the readings the line was fitted to."),
            count=int(x.size),
            limit=line.n,
        )
    if line.residual_sd is None or line.df < 2:
        raise _too_few(x.size, line.n - line.df + 2)
    # A line through the origin has no mean to be uncertain about.
    own = 0.0 if line.through_origin else 1.0 / line.n
    leverage = own + (x - line.mean_x) ** 2 / line.sxx
    residual = y - (line.intercept + line.slope * x)
    free = np.maximum(1.0 - leverage, 0.0)
    squares = line.residual_sd**2 * line.df
    alone = free <= _ROUNDING  # such a reading carries the line by itself; the others say nothing of it
    gone = np.where(alone, 0.0, residual**2 / np.where(alone, 1.0, free))
    left = np.sqrt(np.maximum(squares - gone, 0.0) / (line.df - 1))
    error = np.where(alone, math.inf, left * np.sqrt(free))
    return _scores(residual, error, np.full(x.size, line.df - 1.0), float(np.abs(y).max()))


def one_step_ahead(
    shots: Sequence[float], values: Sequence[float], pooled_sd: float = 0.0, pooled_df: float = 0.0
) -> Floats:
    """Return how far each reading lies from the line through those before it, as normal scores.

    While nothing has changed the scores are independent standard normals, whatever the line and the scatter: what a
    control chart asks for. A reading that the ones before cannot predict yet scores 0, which says nothing.

    Parameters
    ----------
    shots : sequence of float
        Shots of the life at each reading, in the order they were taken. [shots]
    values : sequence of float
        The readings. [any one unit]
    pooled_sd : float
        Scatter that is known from other faces, by gauge and parameter. [unit of the values]
    pooled_df : float
        Degrees of freedom behind it; 0 where nothing is known. [1]

    Returns
    -------
    array of float
        Scores, one a reading. [1]

    Raises
    ------
    Refused
        If lengths differ, a number is not finite, or the pooled scatter is negative.

    References
    ----------
    .. [1] Brown, Durbin and Evans (1975), J. R. Stat. Soc. B 37:149-192, recursive residuals.
    .. [2] Quesenberry (1991), Journal of Quality Technology 23:213-224, Q statistics.
    """
    x, y = _pairs(shots, values)
    if not (math.isfinite(pooled_sd) and pooled_sd >= 0 and math.isfinite(pooled_df) and pooled_df >= 0):
        raise Refused(
            "residuals.pooled",
            gettext_noop("A pooled scatter of {value} with {count} degrees of freedom is none; both are 0 or more."),
            next_step=gettext_noop("Leave it out."),
            value=pooled_sd,
            count=pooled_df,
            limit=0,
        )
    away, error, df = _ahead(x, y, pooled_df * pooled_sd**2, pooled_df)
    return _scores(away, error, df, float(np.abs(y).max(initial=0.0)))


def _ahead(x: Floats, y: Floats, squares: float, known: float) -> tuple[Floats, Floats, Floats]:
    """Return how far each reading is from what those before it say, the error of that, and the freedom behind it."""
    away, error, df = np.zeros(x.size), np.full(x.size, math.inf), np.ones(x.size)
    others = np.flatnonzero(x != x[0]) if x.size else np.array([], dtype=np.int64)
    # Readings repeated at the first shots show scatter, and the first at other shots only makes the line.
    first = int(others[0]) + 1 if len(others) else x.size
    repeated = y[: max(first - 1, 1)]
    squares = squares + float(((repeated - repeated.mean()) ** 2).sum()) if repeated.size else squares
    known += max(repeated.size - 1, 0)
    if first >= x.size:
        return away, error, df
    mean_x, sxx, mean_y, sxy = _running(x, y)
    before = np.arange(first - 1, x.size - 1)
    shot = x[first:] - mean_x[before]
    off = y[first:] - mean_y[before] - sxy[before] / sxx[before] * shot
    grown = 1.0 + 1.0 / (before + 1) + shot**2 / sxx[before]
    # The square of a recursive residual is exactly what the reading adds to the squares about the line.
    added = np.concatenate([[0.0], np.cumsum(off * off / grown)[:-1]])
    free = known + np.arange(off.size)
    told = free > 0
    with np.errstate(invalid="ignore", divide="ignore"):
        error[first:] = np.where(told, np.sqrt((squares + added) / free * grown), math.inf)
    away[first:], df[first:] = np.where(told, off, 0.0), np.where(told, free, 1.0)
    return away, error, df


def _running(x: Floats, y: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Return, after each reading, the means and the sums of squares and products about them.

    Each reading adds a product of its distances from the means before and after it: no large sums are taken apart.
    """
    count = np.arange(1, x.size + 1)
    mean_x = x[0] + np.cumsum(x - x[0]) / count
    mean_y = y[0] + np.cumsum(y - y[0]) / count
    from_before = x - np.concatenate([[x[0]], mean_x[:-1]])
    return mean_x, np.cumsum(from_before * (x - mean_x)), mean_y, np.cumsum(from_before * (y - mean_y))


def _scores(away: Floats, error: Floats, df: Floats, size: float) -> Floats:
    # A trend without scatter predicts without error; then only what rounding cannot explain counts as far away.
    t = away / np.maximum(error, _ROUNDING * size + np.finfo(np.float64).tiny)
    tail = stdtr(df, -np.abs(t))
    score = -ndtri(np.maximum(tail, np.finfo(np.float64).tiny))
    return np.asarray(np.copysign(score, away), dtype=np.float64)


def _pairs(shots: Sequence[float], values: Sequence[float]) -> tuple[Floats, Floats]:
    x, y = finite(shots), finite(values)
    if x.size != y.size:
        raise Refused(
            "residuals.lengths_differ",
            gettext_noop("{shots} shot counts and {values} values are no pairs."),
            next_step=gettext_noop("Give one shot count for each value."),
            shots=int(x.size),
            values=int(y.size),
        )
    return x, y


def _too_few(count: int, least: int) -> Refused:
    return Refused(
        "residuals.too_few",
        gettext_noop("{count} readings leave no spread when one is left out; {limit} are needed."),
        next_step=gettext_noop("Measure again after more shots."),
        count=int(count),
        limit=least,
    )
