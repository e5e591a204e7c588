"""What a gauge and an acceptance interval cost over a whole process: wrongly accepted, wrongly refused."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.integrate import quad
from scipy.special import ndtr

from shop.standards.source import need_number, not_in_table

_WIDEST = 10.0  # standard deviations of the process beyond which nothing is left to count


@dataclass(frozen=True)
class Risks:
    """Shares of everything made: outside the tolerance yet accepted, and inside it yet refused. [1]"""

    consumer: float
    producer: float


def global_risks(
    mean: float, u0: float, um: float, tolerance: tuple[float, float], acceptance: tuple[float, float]
) -> Risks:
    """Return the risks of consumer and producer where a process is measured and judged by an acceptance interval.

    Parameters
    ----------
    mean : float
        Middle of the process. [unit of the limits]
    u0 : float
        Standard deviation of the process, above nought. [unit of the limits]
    um : float
        Standard uncertainty of a measurement, above nought. [unit of the limits]
    tolerance : tuple of float
        Lower and upper tolerance limit. [any one unit]
    acceptance : tuple of float
        Lower and upper acceptance limit. [unit of the limits]

    Returns
    -------
    Risks
        Shares of all that is made. [1]

    Raises
    ------
    Refused
        If a number is not finite, a deviation not above nought, or limits are not in order.

    References
    ----------
    .. [1] JCGM 106:2012, 9.5.
    """
    for name, value in (("Mean", mean), *(("Limit", limit) for limit in (*tolerance, *acceptance))):
        need_number(value, name, "")
    need_number(u0, "Standard deviation", "", above=0)
    need_number(um, "Uncertainty", "", above=0)
    for lower, upper in (tolerance, acceptance):
        if lower >= upper:
            raise not_in_table("Lower limit", lower, f"< {upper:g}")
    low, high = ((limit - mean) / u0 for limit in tolerance)
    inside = (max(low, -_WIDEST), min(high, _WIDEST))

    def accepted(z: float) -> float:
        true = mean + z * u0
        density = math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
        return density * float(ndtr((acceptance[1] - true) / um) - ndtr((acceptance[0] - true) / um))

    def share(start: float, end: float) -> float:
        return float(quad(accepted, start, end, epsabs=1e-13, limit=200)[0]) if start < end else 0.0

    consumer = share(-_WIDEST, inside[0]) + share(inside[1], _WIDEST)
    producer = max(0.0, float(ndtr(high) - ndtr(low)) - share(*inside))
    return Risks(consumer, producer)
