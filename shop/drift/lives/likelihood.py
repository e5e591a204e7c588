"""The likelihood of Weibull lives: its peak, the curvature there, and how far from it is still likely."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from shop.drift.lives.given import Floats, Lives
from shop.refusal import Refused, gettext_noop

_LEAST_ENDED = 2
_ROUNDS, _STILL, _TINY_STEP = 200, 1e-9, 1e-5
# A shape beyond these is no wear: all lives are one length, or the lives say nothing of their spread.
_LEAST_SHAPE, _MOST_SHAPE = 0.02, 500.0
# A likelihood flatter than this at its end has no peak: it creeps on for ever.
_LEAST_CURVATURE = 1e-4
_WIDENED, _WIDENINGS = 1.5, 16


@dataclass(frozen=True)
class Peak:
    """Where the likelihood is highest; `covariance` is that of log scale and log shape."""

    scale: float
    shape: float
    log_likelihood: float
    covariance: NDArray[np.float64]


def log_likelihood(given: Lives, log_scale: float, log_shape: float) -> float:
    """Return the logarithm of the likelihood of lives.

    Parameters
    ----------
    given : Lives
        The lives.
    log_scale : float
        Natural logarithm of the scale. [log of the unit of the lives]
    log_shape : float
        Natural logarithm of the shape. [1]

    Returns
    -------
    float
        Sum over all lives, of densities where ends were seen. [1]

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 2.4 and 8.2.
    """
    u, low, high = _hazards(given, log_scale, log_shape)
    exact, between = given.exact, given.between
    each = -low
    each[exact] += log_shape + u[exact] - given.log_bounds[0][exact]
    if between.any():
        with np.errstate(divide="ignore"):
            each[between] += np.log(-np.expm1(low[between] - high[between]))
    return float(max(np.dot(given.count, each), -1e300))


def fit(given: Lives, shape: float | None = None, near: Peak | None = None) -> Peak:
    """Find where the likelihood of lives is highest.

    Parameters
    ----------
    given : Lives
        The lives.
    shape : float, optional
        Held where it is given. [1]
    near : Peak, optional
        Of lives that are much the same, to begin the search at.

    Returns
    -------
    Peak
        Scale [unit of the lives], shape [1].

    Raises
    ------
    Refused
        If too few lives have ended, or they are all of one length, so that there is no highest place.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.2.
    """
    free = 2 if shape is None else 1
    _check_enough(given, free)
    at = np.array([_exponential(given), 0.0 if shape is None else math.log(shape)])
    if near is not None:
        at = np.log([near.scale, near.shape if shape is None else shape])
    reached = log_likelihood(given, at[0], at[1])
    for _ in range(_ROUNDS):
        step = np.zeros(2)
        step[:free] = _uphill(_slope(given, at)[:free], _bend(given, at)[:free, :free])
        # Half the step until it does not lead down: far from the peak the curve is no parabola.
        share, then = 1.0, -math.inf
        while share > _STILL and (then := log_likelihood(given, *(at + share * step))) < reached:
            share /= 2.0
        if then < reached:
            break
        at, reached = at + share * step, then
        if np.abs(share * step).max() < _STILL or not _LEAST_SHAPE < math.exp(at[1]) < _MOST_SHAPE:
            break
    if shape is None and not _LEAST_SHAPE < math.exp(at[1]) < _MOST_SHAPE:
        raise _no_spread()
    curvature = -_bend(given, at)[:free, :free]
    if np.linalg.eigvalsh(curvature).min() < _LEAST_CURVATURE:
        raise _no_spread()
    covariance = np.zeros((2, 2))
    covariance[:free, :free] = np.linalg.inv(curvature)
    return Peak(math.exp(at[0]), math.exp(at[1]), reached, covariance)


def bounds(profile: Callable[[float], float], at: float, step: float, top: float, width: float) -> tuple[float, float]:
    """Return how far below and above its peak a likelihood stays near enough to it.

    Parameters
    ----------
    profile : callable
        Log-likelihood at a value, all else at its best. [1]
    at : float
        Where it is highest. [any one unit]
    step : float
        About how far the bounds lie away. [unit of `at`]
    top : float
        Log-likelihood there. [1]
    width : float
        Standard errors of the confidence: half its square is how far the log-likelihood may fall. [1]

    Returns
    -------
    tuple of float
        Lower and upper bound; infinite where the likelihood never falls so far. [unit of `at`]

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.3.
    """
    fall = 0.5 * width * width

    def over(value: float) -> float:
        return top - profile(value) - fall

    found = []
    for side in (-1.0, 1.0):
        near, far = at, at + side * step
        for _ in range(_WIDENINGS):
            if over(far) > 0:
                found.append(float(brentq(over, near, far, xtol=1e-8)))
                break
            near, far = far, at + (far - at) * _WIDENED
        else:
            found.append(side * math.inf)
    return found[0], found[1]


def _hazards(given: Lives, log_scale: float, log_shape: float) -> tuple[Floats, Floats, Floats]:
    """Return u at the lower bounds, and exp(u), the cumulative hazard, at both; u = shape * log(t / scale)."""
    shape = math.exp(log_shape)
    log_lower, log_upper = given.log_bounds
    u, above = shape * (log_lower - log_scale), shape * (log_upper - log_scale)
    return u, np.exp(np.minimum(u, 690.0)), np.exp(np.minimum(above, 691.0))


def _slope(given: Lives, at: Floats) -> Floats:
    """Return how the log-likelihood grows with log scale and with log shape."""
    shape = math.exp(at[1])
    u, low, high = _hazards(given, at[0], at[1])
    above = np.log(np.maximum(high, 1e-300))
    by_shape = low * np.where(np.isfinite(u), u, 0.0)
    exact, between = given.exact, given.between
    scale_wards, shape_wards = shape * low, -by_shape
    scale_wards[exact] -= shape
    shape_wards[exact] += 1.0 + u[exact]
    gap = np.maximum(high[between] - low[between], 1e-300)
    odds = 1.0 / np.expm1(np.minimum(gap, 690.0))
    scale_wards[between] -= shape * gap * odds
    shape_wards[between] += (high * above - by_shape)[between] * odds
    return np.array([np.dot(given.count, scale_wards), np.dot(given.count, shape_wards)])


def _bend(given: Lives, at: Floats) -> NDArray[np.float64]:
    """Return the second derivatives, by differences of the first."""
    columns = []
    for place in range(2):
        aside = np.zeros(2)
        aside[place] = _TINY_STEP
        columns.append((_slope(given, at + aside) - _slope(given, at - aside)) / (2.0 * _TINY_STEP))
    bend = np.column_stack(columns)
    return np.asarray((bend + bend.T) / 2.0, dtype=np.float64)


def _uphill(slope: Floats, bend: NDArray[np.float64]) -> Floats:
    """Return Newton's step, turned uphill where the curve is not yet a hill, and no longer than 1."""
    values, ways = np.linalg.eigh(bend)
    step = ways @ ((ways.T @ slope) / np.maximum(np.abs(values), 1e-9))
    return np.asarray(step / max(1.0, float(np.abs(step).max())), dtype=np.float64)


def _exponential(given: Lives) -> float:
    """Return the log of the mean life as if lives failed by chance, spans taken at their middle: a sure start."""
    middle = np.where(given.running, given.lower, 0.5 * (given.lower + given.upper))
    return math.log(float(np.dot(given.count, middle)) / given.ended)


def _check_enough(given: Lives, free: int) -> None:
    least = _LEAST_ENDED if free == _LEAST_ENDED else 1
    if given.ended < least:
        raise Refused(
            "lives.too_few_ended",
            gettext_noop("{count} ended lives tell no law; {limit} are needed."),
            next_step=gettext_noop("Wait for more lives to end, or look at a wider group."),
            count=int(given.ended),
            limit=least,
        )
    # Where one and the same length would do for all, the likelihood grows for ever with the shape.
    if free == _LEAST_ENDED and given.lower.max() <= given.upper.min():
        raise _no_spread()


def _no_spread() -> Refused:
    return Refused(
        "lives.no_spread",
        gettext_noop("The ended lives are all of one length, or say nothing of their spread: no shape can be found."),
        next_step=gettext_noop("Look at a wider group, or give the shape."),
    )
