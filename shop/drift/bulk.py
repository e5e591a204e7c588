"""The lines and crossings of many faces at once, for the sweep; each as `trend` and `crossing` give it."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import stdtr, stdtrit

from shop.drift.crossing import check_chance
from shop.drift.trend import Line
from shop.refusal import Refused, gettext_noop

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Lines:
    """Least squares lines side by side, in the order of their groups.

    Where a group makes no line (fewer than two readings, or all at the same shots) `fitted` is false and its numbers
    are NaN; where a line has no spread (two readings) its spread and standard errors are NaN.
    """

    intercept: Floats
    slope: Floats
    se_intercept: Floats
    se_slope: Floats
    residual_sd: Floats
    n: Ints
    mean_x: Floats
    sxx: Floats
    fitted: Bools

    def line(self, group: int) -> Line | None:
        """Return one group's line, or None where it makes none.

        Parameters
        ----------
        group : int
            Which group, from 0. [index]

        Returns
        -------
        Line or None
            As `fit_line` gives it. [unit of the values]

        References
        ----------
        .. [1] `shop.drift.trend.fit_line`.
        """
        if not self.fitted[group]:
            return None
        n = int(self.n[group])
        spread = n > 2
        return Line(
            float(self.intercept[group]),
            float(self.slope[group]),
            float(self.se_intercept[group]) if spread else None,
            float(self.se_slope[group]) if spread else None,
            float(self.residual_sd[group]) if spread else None,
            n,
            n - 2,
            float(self.mean_x[group]),
            float(self.sxx[group]),
        )


    def seen_from(self, shots: Floats) -> Lines:
        """Return the same lines, each with its shots counted from another start.

        Parameters
        ----------
        shots : array of float
            The new nought of each line. [shots]

        Returns
        -------
        Lines
            Of the same mean and spread at every count. [unit of the values; slope per shot]

        References
        ----------
        .. [1] `shop.drift.trend.Line.seen_from`, with which it agrees.
        """
        away = shots - self.mean_x
        with np.errstate(invalid="ignore", divide="ignore"):
            error = self.residual_sd * np.sqrt(1.0 / self.n + away * away / self.sxx)
        return replace(
            self, intercept=self.intercept + self.slope * shots, se_intercept=error, mean_x=self.mean_x - shots
        )


def fit_lines(shots: ArrayLike, values: ArrayLike, offsets: ArrayLike) -> Lines:
    """Fit a least squares line to each group of readings.

    Parameters
    ----------
    shots : array_like of float
        Shots of the life at each reading, group after group. [shots]
    values : array_like of float
        The readings in the same order. [one unit a group]
    offsets : array_like of int
        Where each group begins, and at the end the count of all readings. [index]

    Returns
    -------
    Lines
        One line a group. [unit of the values; slope per shot]

    Raises
    ------
    Refused
        If lengths or offsets do not fit, or a number is not finite.

    References
    ----------
    .. [1] `shop.drift.trend.fit_line`, with which it agrees.
    """
    x, y = np.asarray(shots, dtype=np.float64), np.asarray(values, dtype=np.float64)
    bounds = np.asarray(offsets, dtype=np.int64)
    _check(x, y, bounds)
    count = np.diff(bounds)
    groups = len(count)
    of = np.repeat(np.arange(groups), count)

    def total(parts: Floats) -> Floats:
        return np.asarray(np.bincount(of, weights=parts, minlength=groups), dtype=np.float64)

    with np.errstate(invalid="ignore", divide="ignore"):
        # The first reading is taken off before the mean, so that long counters keep their digits.
        first_x = np.where(count > 0, x[np.minimum(bounds[:-1], max(len(x) - 1, 0))] if len(x) else 0.0, 0.0)
        first_y = np.where(count > 0, y[np.minimum(bounds[:-1], max(len(y) - 1, 0))] if len(y) else 0.0, 0.0)
        mean_x = first_x + total(x - first_x[of]) / count
        mean_y = first_y + total(y - first_y[of]) / count
        away = x - mean_x[of]
        sxx = total(away * away)
        # Equal shots are told from the readings themselves: a rounded mean would leave a trace in sxx.
        fitted = (count >= 2) & (total((x != first_x[of]).astype(np.float64)) > 0)
        slope = np.where(fitted, total(away * (y - mean_y[of])) / sxx, np.nan)
        intercept = mean_y - slope * mean_x
        residuals = (y - mean_y[of]) - slope[of] * away
        df = np.where(fitted & (count > 2), count - 2.0, np.nan)
        sd = np.sqrt(total(residuals * residuals) / df)
        se_slope = sd / np.sqrt(sxx)
        se_intercept = sd * np.sqrt(1.0 / count + mean_x * mean_x / sxx)
    return Lines(intercept, slope, se_intercept, se_slope, sd, count, mean_x, sxx, fitted)


def shots_at(lines: Lines, limits: ArrayLike, upwards: ArrayLike, probability: float) -> Floats:
    """Return for each line the shots at which the chance of having reached its limit equals a probability.

    Parameters
    ----------
    lines : Lines
        From `fit_lines`.
    limits : array_like of float
        One limit a line; NaN is no limit. [unit of the line's values]
    upwards : array_like of bool
        Whether the limit is an upper one. [yes or no]
    probability : float
        Between 0 and 1, both excluded. [1]

    Returns
    -------
    ndarray of float
        Shots; infinite is never, NaN is not known. [shots]

    Raises
    ------
    Refused
        If the probability lies outside.

    References
    ----------
    .. [1] `shop.drift.crossing.Crossing.shots_at`, with which it agrees.
    """
    check_chance(probability)
    alpha, beta, own, known = _seen(lines, limits, upwards)
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        k = stdtrit(lines.n - 2.0, probability) * lines.residual_sd
        there = alpha - beta * lines.mean_x >= k * np.sqrt(own + lines.mean_x * lines.mean_x / lines.sxx)
        p, q = alpha / np.sqrt(own), beta * np.sqrt(lines.sxx)
        top = np.hypot(p, q)
        w = np.sqrt((top - k) * (top + k))
        cosine = p * k + q * w
        at = np.maximum(0.0, lines.mean_x + np.sqrt(own * lines.sxx) * (q * k - p * w) / cosine)
        never = _falls(lines, alpha, beta, own) | (top < k) | ~(cosine > 0)
    return np.where(~known, np.nan, np.where(there, 0.0, np.where(never, np.inf, at)))


def probability_by(lines: Lines, limits: ArrayLike, upwards: ArrayLike, shots: ArrayLike) -> Floats:
    """Return for each line the chance that its true mean has reached its limit by a count of shots.

    Parameters
    ----------
    lines : Lines
        From `fit_lines`.
    limits : array_like of float
        One limit a line; NaN is no limit. [unit of the line's values]
    upwards : array_like of bool
        Whether the limit is an upper one. [yes or no]
    shots : array_like of float
        One count a line, 0 or more. [shots]

    Returns
    -------
    ndarray of float
        Chance; NaN is not known. [1]

    Raises
    ------
    Refused
        If a count is negative or not a number.

    References
    ----------
    .. [1] `shop.drift.crossing.Crossing.probability_by`, with which it agrees.
    """
    until = np.asarray(shots, dtype=np.float64)
    if not (np.isfinite(until) & (until >= 0)).all():
        raise Refused(
            "crossing.shots",
            gettext_noop("{value} shots cannot be run."),
            next_step=gettext_noop("Give a count of 0 or more."),
            value=float(until[~(np.isfinite(until) & (until >= 0))].flat[0]),
            limit=0,
        )
    alpha, beta, own, known = _seen(lines, limits, upwards)

    def z(at: Floats) -> Floats:
        away = at - lines.mean_x
        beyond = alpha + beta * away
        error = lines.residual_sd * np.sqrt(own + away * away / lines.sxx)
        return np.where(error == 0, np.where(beyond >= 0, np.inf, -np.inf), beyond / error)

    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        start = z(np.zeros_like(lines.mean_x))
        summit = np.where(alpha > 0, lines.mean_x + beta * own * lines.sxx / alpha, np.inf)
        highest = np.maximum(start, z(np.minimum(until, np.maximum(summit, 0.0))))
        falls = (alpha > 0) & _falls(lines, alpha, beta, own)
        chance = stdtr(lines.n - 2.0, np.where(falls, start, highest))
    return np.where(known, chance, np.nan)


def _seen(lines: Lines, limits: ArrayLike, upwards: ArrayLike) -> tuple[Floats, Floats, Floats, Bools]:
    limit = np.asarray(limits, dtype=np.float64)
    sign = np.where(np.asarray(upwards, dtype=np.bool_), 1.0, -1.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        alpha = sign * (lines.intercept + lines.slope * lines.mean_x - limit)
        own = 1.0 / lines.n
    return alpha, sign * lines.slope, own, lines.fitted & (lines.n > 2) & np.isfinite(limit)


def _falls(lines: Lines, alpha: Floats, beta: Floats, own: Floats) -> Bools:
    over = (alpha > 0) & (lines.mean_x * alpha + beta * own * lines.sxx <= 0)
    return np.asarray(over | ((alpha == 0) & (beta <= 0)), dtype=np.bool_)


def _check(x: Floats, y: Floats, bounds: Ints) -> None:
    whole = bounds.ndim == 1 and len(bounds) >= 1 and bounds[0] == 0 and bounds[-1] == x.size
    if x.ndim != 1 or x.shape != y.shape or not whole or (np.diff(bounds) < 0).any():
        raise Refused(
            "trend.lengths_differ",
            gettext_noop("{shots} shot counts and {values} values are no pairs."),
            next_step=gettext_noop("Give one shot count for each value."),
            shots=x.size,
            values=y.size,
        )
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise Refused(
            "trend.not_a_number",
            gettext_noop("A reading or its shot count is not a number."),
            next_step=gettext_noop("Correct the reading."),
        )
