"""Decide on one value against limits when the value is uncertain: ISO 14253-1 with JCGM 106."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.source import Source, Standing, Stated, need_number, not_in_table

CONFORMITY_SOURCE = Source(
    "JCGM 106", "2012", Standing.PUBLISHED, gettext_noop("Normal distribution about the measured value.")
)
GUARD_SOURCE = Source(
    "ISO 14253-1", "2017", Standing.PUBLISHED, gettext_noop("Default 95 %, guard 1.65 u for one limit.")
)

# T/u below which two limits want more than the guard of one, and below which nothing can be proven, at 95 %. [1]
GUARD_ENOUGH_FROM = 4.93
PROVABLE_FROM = 3.92

NOT_PROVEN_CARRIED_BY = Saying(
    "conformity.not_proven",
    gettext_noop(
        "Neither conformity nor nonconformity is proven. Whoever has to prove it carries the uncertainty: "
        "the plant when it delivers, the customer when parts are refused."
    ),
    {},
)


@dataclass(frozen=True)
class Judgement:
    """What a value means: conforms "yes", "no" or "not proven", and how sure.

    `probability` is the chance that the true value lies inside the limits. `guard` is the guard band of one limit.
    `lower_zone` and `upper_zone` bound the values for which conformity is proven; where both are empty although
    there are limits, no value proves it (`provable` is false). `tolerance_to_u` is T/u of two limits.
    """

    conforms: Literal["yes", "no", "not proven"]
    probability: float
    required: float
    guard: float
    lower_zone: float | None
    upper_zone: float | None
    provable: bool = True
    tolerance_to_u: float | None = None
    note: Saying | None = None


def conformance_probability(value: float, u: float, lower: float | None = None, upper: float | None = None) -> float:
    """Return the probability that the true value lies inside the limits.

    Parameters
    ----------
    value : float
        Measured value. [unit of the limits]
    u : float
        Its standard uncertainty; 0 compares plainly, limits included. [unit of the limits]
    lower, upper : float, optional
        The limits, at least one. [unit of the value]

    Returns
    -------
    float
        Probability. [1]

    Raises
    ------
    Refused
        If a number is not finite, `u` is negative, there is no limit, or the limits are not in order.

    References
    ----------
    .. [1] JCGM 106:2012, 7.2 to 7.4: Phi((U - y)/u) - Phi((L - y)/u).
    """
    _check(value, u, lower, upper)
    if u == 0:
        return float((lower is None or value >= lower) and (upper is None or value <= upper))
    below = -math.inf if lower is None else (lower - value) / u
    above = math.inf if upper is None else (upper - value) / u
    # In the upper tail both terms are near 1; the mirrored tails keep their digits.
    inside = ndtr(-below) - ndtr(-above) if below > 0 else ndtr(above) - ndtr(below)
    return float(inside)


def guard_factor(required: float = 0.95) -> float:
    """Return the guard band of one limit as a multiple of the standard uncertainty.

    Parameters
    ----------
    required : float
        Probability asked for, above 0.5 and below 1. [1]

    Returns
    -------
    float
        Factor, 1.645 for 95 %. [1]

    Raises
    ------
    Refused
        If `required` lies outside 0.5 to 1.

    References
    ----------
    .. [1] ISO 14253-1:2017, which rounds 1.645 to 1.65.
    """
    need_number(required, "Probability", "")
    if not 0.5 < required < 1:
        raise not_in_table("Probability", required, "0.5–1")
    return float(ndtri(required))


def acceptance_zone(
    u: float, lower: float | None = None, upper: float | None = None, required: float = 0.95
) -> tuple[float | None, float | None] | None:
    """Return the values between which conformity is proven, or None where no value proves it.

    Parameters
    ----------
    u : float
        Standard uncertainty. [unit of the limits]
    lower, upper : float, optional
        The limits, at least one. [any one unit]
    required : float
        Probability asked for. [1]

    Returns
    -------
    tuple of float or None
        Lower and upper end, None on a side without limit. [unit of the limits]

    Raises
    ------
    Refused
        As `conformance_probability` and `guard_factor`.

    References
    ----------
    .. [1] JCGM 106:2012, 8.3; ISO 14253-1:2017. Below T/u = 4.93 the guard of one limit is not enough, below 3.92 none.
    """
    factor = guard_factor(required)
    middle = lower if upper is None else upper if lower is None else (lower + upper) / 2
    _check(0.0 if middle is None else middle, u, lower, upper)
    if u == 0:
        return lower, upper
    if lower is None or upper is None:
        return (None if lower is None else lower + factor * u), (None if upper is None else upper - factor * u)
    half = (upper - lower) / (2 * u)

    def short(away: float) -> float:
        return float(ndtr(half - away) - ndtr(-half - away)) - required

    if short(0.0) < 0:
        return None
    # The far limit only ever narrows the zone of the near one; where it takes nothing, that zone is exact.
    away = half - factor
    if short(away) < -1e-15:
        away = float(brentq(short, 0.0, away, xtol=1e-13, rtol=1e-14))
    return (lower + upper) / 2 - away * u, (lower + upper) / 2 + away * u


def judge(
    value: float, u: float, lower: float | None = None, upper: float | None = None, required: float = 0.95
) -> Judgement:
    """Decide whether a value conforms, does not, or proves neither.

    Parameters
    ----------
    value : float
        Measured value. [unit of the limits]
    u : float
        Its standard uncertainty; 0 compares plainly, limits included. [unit of the limits]
    lower, upper : float, optional
        The limits, at least one. [unit of the value]
    required : float
        Probability asked for on either side, above 0.5. [1]

    Returns
    -------
    Judgement
        The decision, its probability [1], guard band and zone [unit of the limits].

    Raises
    ------
    Refused
        As `conformance_probability` and `guard_factor`.

    References
    ----------
    .. [1] ISO 14253-1:2017, default 95 % and guard 1.65 u.
    .. [2] JCGM 106:2012.
    """
    factor = guard_factor(required)
    inside = conformance_probability(value, u, lower, upper)
    zone = acceptance_zone(u, lower, upper, required)
    ratio = (upper - lower) / u if lower is not None and upper is not None and u > 0 else None
    # The chance to lie outside is 1 - inside; comparing `inside` with 1 - required keeps both proofs alike.
    conforms: Literal["yes", "no", "not proven"] = "not proven"
    if inside >= required:
        conforms = "yes"
    elif inside <= 1 - required:
        conforms = "no"
    low, high = zone if zone is not None else (None, None)
    note = _note(ratio, zone is not None, factor, required)
    return Judgement(conforms, inside, required, factor * u, low, high, zone is not None, ratio, note)


def stated() -> tuple[Stated, ...]:
    """Return every value this module holds with where it is from.

    Returns
    -------
    tuple of Stated
        Ratios of tolerance to standard uncertainty. [1]

    References
    ----------
    .. [1] ISO 14253-1:2017.
    """
    return (
        Stated("guard", "T/u from which the guard of one limit is enough", GUARD_ENOUGH_FROM, "1", GUARD_SOURCE),
        Stated("guard", "T/u below which no value is proven", PROVABLE_FROM, "1", GUARD_SOURCE),
    )


def _note(ratio: float | None, provable: bool, factor: float, required: float) -> Saying | None:
    if ratio is None:
        return None
    if not provable:
        return Saying(
            "conformity.never_proven",
            gettext_noop("The tolerance is {ratio} times the uncertainty: no value can be proven at {required}."),
            {"ratio": round(ratio, 2), "required": required},
        )
    # Where the far limit still takes a hundredth of what may be missing, the guard of one limit is not enough.
    if float(ndtr(factor - ratio)) > 1e-2 * (1 - required):
        return Saying(
            "conformity.guard_widens",
            gettext_noop(
                "The tolerance is {ratio} times the uncertainty: both limits share the doubt, the guard is wider."
            ),
            {"ratio": round(ratio, 2)},
        )
    return None


def _check(value: float, u: float, lower: float | None, upper: float | None) -> None:
    for name, number in (("Value", value), ("Uncertainty", u), ("Lower limit", lower), ("Upper limit", upper)):
        if number is not None:
            need_number(number, name, "")
    if u < 0:
        raise not_in_table("Uncertainty", u, "≥ 0")
    if lower is None and upper is None:
        raise Refused(
            "conformity.no_limit",
            gettext_noop("There is no limit to judge {value} by."),
            next_step=gettext_noop("Set a lower or an upper limit."),
            value=value,
        )
    if lower is not None and upper is not None and lower >= upper:
        raise Refused(
            "conformity.limits_crossed",
            gettext_noop("The lower limit {lower} is not below the upper limit {upper}."),
            next_step=gettext_noop("Put the limits in order."),
            lower=lower,
            upper=upper,
        )
