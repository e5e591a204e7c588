"""What the range of a few values says of their standard deviation: d2, d3, d2* and the factors made from them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache

import numpy as np
from scipy.special import ndtr

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing

D2_SOURCE = Source(
    gettext_noop("Duncan (1974), Quality Control and Industrial Statistics, table D3; AIAG MSA appendix C"),
    "4th ed., 2010",
    Standing.PUBLISHED,
    gettext_noop("Computed from the normal distribution; agrees with every printed factor K1, K2 and K3."),
)

# Duncan's table, and with it the handbook's, ends at 20 values; up to 15 ranges it is read with the number of ranges.
MOST_VALUES, MOST_RANGES_TABLED = 20, 15


@dataclass(frozen=True)
class ChartFactors:
    """Factors of an average and range chart: limits at average +- `a2` x mean range, ranges `d3` to `d4` x it."""

    a2: float
    d3: float
    d4: float


def d2(values: int) -> float:
    """Return the mean range of that many values of a normal distribution of standard deviation 1.

    Parameters
    ----------
    values : int
        How many, 2 to 20. [1]

    Returns
    -------
    float
        d2. [standard deviations]

    Raises
    ------
    Refused
        If there are fewer than 2 values or more than 20.

    References
    ----------
    .. [1] Tippett (1925), Biometrika 17; tabled in ASTM MNL 7, table of control chart constants.
    """
    return _moments(values)[0]


def d3(values: int) -> float:
    """Return the standard deviation of the range of that many values of a normal distribution.

    Parameters
    ----------
    values : int
        How many, 2 to 20. [1]

    Returns
    -------
    float
        d3. [standard deviations]

    Raises
    ------
    Refused
        If there are fewer than 2 values or more than 20.

    References
    ----------
    .. [1] Tippett (1925), Biometrika 17; tabled in ASTM MNL 7, table of control chart constants.
    """
    mean, square = _moments(values)
    return math.sqrt(square - mean * mean)


def d2_star(values: int, ranges: int) -> float:
    """Return d2*, by which a mean range is divided so that its square estimates a variance without bias.

    Parameters
    ----------
    values : int
        Values in each range, 2 to 20. [1]
    ranges : int
        Ranges averaged, at least 1; above 15 the handbook reads d2, and so does this. [1]

    Returns
    -------
    float
        d2*. [standard deviations]

    Raises
    ------
    Refused
        If there are fewer than 2 values or more than 20, or no range.

    References
    ----------
    .. [1] Duncan (1974), table D3: d2*^2 = d2^2 + d3^2 / number of ranges.
    .. [2] AIAG MSA, 4th ed., appendix C.
    """
    if ranges < 1:
        raise _refused(ranges)
    if ranges > MOST_RANGES_TABLED:
        return d2(values)
    return math.sqrt(d2(values) ** 2 + d3(values) ** 2 / ranges)


def chart_factors(values: int) -> ChartFactors:
    """Return the factors of an average and range chart of groups of that many values.

    Parameters
    ----------
    values : int
        Values in each group, 2 to 20. [1]

    Returns
    -------
    ChartFactors
        A2, D3 and D4. [mean ranges]

    Raises
    ------
    Refused
        If there are fewer than 2 values or more than 20.

    References
    ----------
    .. [1] ISO 7870-2:2013; ASTM MNL 7: A2 = 3 / (d2 sqrt n), D3 = 1 - 3 d3 / d2 not below 0, D4 = 1 + 3 d3 / d2.
    """
    spread = 3 * d3(values) / d2(values)
    return ChartFactors(3 / (d2(values) * math.sqrt(values)), max(0.0, 1 - spread), 1 + spread)


@cache
def _moments(values: int) -> tuple[float, float]:
    """Return the mean and the mean square of the range, from its distribution function."""
    if not 2 <= values <= MOST_VALUES:
        raise _refused(values)
    nodes, weights = np.polynomial.legendre.leggauss(160)
    # The smallest value lies within 9 of the middle and the range below 14, but for less than a double can tell.
    low, low_weight = 9 * nodes, 9 * weights
    ranges, range_weight = 7 * (nodes + 1), 7 * weights
    density = np.exp(-low * low / 2) / math.sqrt(2 * math.pi)
    inside = ndtr(low[None, :] + ranges[:, None]) - ndtr(low)[None, :]
    beyond = 1 - values * (inside ** (values - 1)) @ (density * low_weight)
    return float(beyond @ range_weight), float(2 * (ranges * beyond) @ range_weight)


def _refused(found: int) -> Refused:
    return Refused(
        "range_factors.outside",
        gettext_noop("{found} values in a range are outside the tables, which hold {limit}."),
        next_step=gettext_noop("Use the analysis of variance."),
        found=found,
        limit=f"2–{MOST_VALUES}",
    )
