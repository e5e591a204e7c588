"""Control charts: whether values still come from where they came from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from shop.refusal import Refused, gettext_noop

Floats = NDArray[np.float64]
# Mean range of two values in standard deviations, as handbooks print it: 3 / 1.128 is their 2.66.
RANGE_OF_TWO = 1.128


@dataclass(frozen=True)
class Ewma:
    """An exponentially weighted moving average with the limits it has at each value; `alarms` are places from 0."""

    statistic: Floats
    upper: Floats
    lower: Floats
    alarms: tuple[int, ...]


@dataclass(frozen=True)
class Cusum:
    """Two cumulative sums in the values' unit, of what lies above and below the target; `alarms` are places from 0."""

    high: Floats
    low: Floats
    limit: float
    alarms: tuple[int, ...]


@dataclass(frozen=True)
class Individuals:
    """A chart of single values, its spread taken from the moving range of two; `alarms` are places from 0."""

    centre: float
    upper: float
    lower: float
    sigma: float
    alarms: tuple[int, ...]


def ewma(values: Sequence[float], target: float, sigma: float, weight: float, width: float) -> Ewma:
    """Average values so that the newest counts most, and hold each average against its own limits.

    The limits are exact at each value: narrow at first, since an average of few has moved little, and steady later.

    Parameters
    ----------
    values : sequence of float
        In the order they were taken. [any one unit]
    target : float
        Where the average starts and should stay. [unit of the values]
    sigma : float
        Standard deviation of one value. [unit of the values]
    weight : float
        Of the newest value, above 0 and up to 1; with 1 it is a chart of single values. [1]
    width : float
        Of the limits, in standard deviations of the average. [1]

    Returns
    -------
    Ewma
        The average and both limits at each value [unit of the values], and where it lies outside.

    Raises
    ------
    Refused
        If a value is not a number, or sigma, weight or width lies outside.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.4.
    .. [2] Lucas and Saccucci (1990), Technometrics 32:1-12.
    """
    x = finite(values)
    check_design(target, sigma)
    check_weight(weight)
    check_positive(width)
    statistic = lfilter([weight], [1.0, weight - 1.0], x, zi=[(1.0 - weight) * target])[0] if x.size else x
    away = width * sigma * ewma_spread(weight, np.arange(1, x.size + 1))
    alarms = _places(np.abs(statistic - target) > away)
    return Ewma(statistic, target + away, target - away, alarms)


def ewma_spread(weight: float, readings: NDArray[np.int64] | int) -> Floats:
    """Return the standard deviation of the average after some readings, in sigma.

    Parameters
    ----------
    weight : float
        Of the newest value, above 0 and up to 1. [1]
    readings : array of int or int
        How many were averaged. [readings]

    Returns
    -------
    array of float
        Standard deviation. [sigma]

    References
    ----------
    .. [1] Lucas and Saccucci (1990), Technometrics 32:1-12, equation 3.
    """
    gone = np.power(1.0 - weight, 2.0 * np.asarray(readings, dtype=np.float64))
    return np.asarray(np.sqrt(weight / (2.0 - weight) * (1.0 - gone)), dtype=np.float64)


def cusum(values: Sequence[float], target: float, sigma: float, k: float, h: float, head_start: float = 0.0) -> Cusum:
    """Add up what lies above and below a target by more than an allowance.

    Parameters
    ----------
    values : sequence of float
        In the order they were taken. [any one unit]
    target : float
        Where the values should lie. [unit of the values]
    sigma : float
        Standard deviation of one value. [unit of the values]
    k : float
        Allowance: half of the shift that matters. [sigma]
    h : float
        What a sum may reach. [sigma]
    head_start : float
        What both sums begin with, so that a wrong start is found soon; 0 or more, below h. [sigma]

    Returns
    -------
    Cusum
        Both sums and their limit [unit of the values], and where one lies above it.

    Raises
    ------
    Refused
        If a value is not a number, or sigma, k, h or the head start lies outside.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3.
    .. [2] Lucas and Crosier (1982), Technometrics 24:199-205.
    """
    x = finite(values)
    check_design(target, sigma)
    check_cusum(k, h, head_start)
    high, low = np.empty_like(x), np.empty_like(x)
    above = below = head_start * sigma
    for place, value in enumerate(x):
        away = float(value) - target
        above = max(0.0, above + away - k * sigma)
        below = max(0.0, below - away - k * sigma)
        high[place], low[place] = above, below
    limit = h * sigma
    return Cusum(high, low, limit, _places(np.maximum(high, low) > limit))


def individuals(values: Sequence[float]) -> Individuals:
    """Set limits to single values by their own moving range of two.

    Parameters
    ----------
    values : sequence of float
        In the order they were taken. [any one unit]

    Returns
    -------
    Individuals
        Mean, limits at 2.66 mean moving ranges and sigma [unit of the values], and which values lie outside.

    Raises
    ------
    Refused
        If a value is not a number or there are fewer than two.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
    """
    x = finite(values)
    least = 2
    if x.size < least:
        raise Refused(
            "chart.too_few",
            gettext_noop("{count} values have no moving range; {limit} are needed."),
            next_step=gettext_noop("Measure again."),
            count=int(x.size),
            limit=least,
        )
    centre = math.fsum(x) / x.size
    sigma = math.fsum(np.abs(np.diff(x))) / (x.size - 1) / RANGE_OF_TWO
    upper, lower = centre + 3.0 * sigma, centre - 3.0 * sigma
    return Individuals(centre, upper, lower, sigma, _places((x > upper) | (x < lower)))


def finite(values: Sequence[float]) -> Floats:
    """Return values as an array, each of them a number.

    Parameters
    ----------
    values : sequence of float
        Values of one chart. [any one unit]

    Returns
    -------
    array of float
        The same. [unit of the values]

    Raises
    ------
    Refused
        If they are no plain row of numbers.

    References
    ----------
    .. [1] `ewma`.
    """
    x = np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or not np.isfinite(x).all():
        raise Refused(
            "chart.not_a_number",
            gettext_noop("A value of the chart is not a number."),
            next_step=gettext_noop("Correct the reading."),
        )
    return x


def check_design(target: float, sigma: float) -> None:
    """Refuse a target that is not a number and a sigma that is not above 0.

    Parameters
    ----------
    target : float
        Where the values should lie. [unit of the values]
    sigma : float
        Standard deviation of one value. [unit of the values]

    Raises
    ------
    Refused
        If either is so.

    References
    ----------
    .. [1] `ewma`.
    """
    if not math.isfinite(target):
        raise Refused(
            "chart.target",
            gettext_noop("The target {value} is not a number."),
            next_step=gettext_noop("Give the value the chart should hold."),
            value=target,
        )
    if not (math.isfinite(sigma) and sigma > 0):
        raise Refused(
            "chart.sigma",
            gettext_noop("A standard deviation of {value} sets no limits; it lies above 0."),
            next_step=gettext_noop("Take it from readings that scatter, or from the gauge study."),
            value=sigma,
            limit=0,
        )


def check_weight(weight: float) -> None:
    """Refuse a weight that does not lie above 0 and up to 1.

    Parameters
    ----------
    weight : float
        Of the newest value. [1]

    Raises
    ------
    Refused
        If it is so.

    References
    ----------
    .. [1] `ewma`.
    """
    if not 0 < weight <= 1:
        raise Refused(
            "chart.weight",
            gettext_noop("A weight of {value} is none; it lies above 0 and up to {limit}."),
            next_step=gettext_noop("Give 0.2."),
            value=weight,
            limit=1,
        )


def check_positive(width: float) -> None:
    """Refuse a width of limits that is not above 0.

    Parameters
    ----------
    width : float
        Of the limits. [sigma]

    Raises
    ------
    Refused
        If it is so.

    References
    ----------
    .. [1] `ewma`.
    """
    if not (math.isfinite(width) and width > 0):
        raise Refused(
            "chart.width",
            gettext_noop("Limits {value} standard deviations wide let nothing through; give more than {limit}."),
            next_step=gettext_noop("Give 3."),
            value=width,
            limit=0,
        )


def check_cusum(k: float, h: float, head_start: float) -> None:
    """Refuse an allowance below 0, a limit that is not above 0, and a head start that does not lie between 0 and it.

    Parameters
    ----------
    k, h, head_start : float
        Allowance, limit and head start. [sigma]

    Raises
    ------
    Refused
        If one is so.

    References
    ----------
    .. [1] `cusum`.
    """
    check_positive(h)
    if not (math.isfinite(k) and k >= 0):
        raise Refused(
            "chart.allowance",
            gettext_noop("An allowance of {value} standard deviations is none; it is {limit} or more."),
            next_step=gettext_noop("Give half of the shift that matters, such as 0.5."),
            value=k,
            limit=0,
        )
    if not 0 <= head_start < h:
        raise Refused(
            "chart.head_start",
            gettext_noop("A head start of {value} does not lie between 0 and the limit {limit}."),
            next_step=gettext_noop("Give half of the limit, or 0."),
            value=head_start,
            limit=h,
        )


def _places(outside: NDArray[np.bool_]) -> tuple[int, ...]:
    return tuple(int(place) for place in np.flatnonzero(outside))
