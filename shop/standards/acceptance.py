"""Several values of one surface against a limit: the acceptance rules of the drawing editions."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing, need_number, not_in_table

RULES = ("16 %", "Tmax", "T16", "Tmed", "mean", "simple")
SIDES = ("upper", "lower")
SINGLE_VALUE_SHARE = 0.7

RULE_SOURCES: dict[str, Source] = {
    "16 %": Source("ISO 4288", "1996", Standing.PUBLISHED, "Allows for scatter over the surface already."),
    "Tmax": Source("ISO 21920-1", "2021", Standing.SEVERAL, "No value over."),
    "T16": Source("ISO 21920-1", "2021", Standing.SEVERAL, "Where written on the drawing."),
    "Tmed": Source("ISO 21920-1", "2021", Standing.SEVERAL, "Where written on the drawing."),
    "mean": Source("House rule", "", Standing.COMMON, "No standard behind it."),
    "simple": Source("ASME drawings", "", Standing.COMMON, "No default rule and no guard band unless agreed."),
}
_DEFAULTS = {"ISO 4288:1996": "16 %", "ISO 21920-3:2021": "Tmax", "ASME B46.1": "simple"}


@dataclass(frozen=True)
class Acceptance:
    """What a rule says of the values taken.

    `statistic` is what was held against the limit, in the values' unit. `wanted` is how many values in all
    would let the rule decide where it has not accepted and not rejected yet; 0 is decided.
    """

    conforms: bool
    statistic: float
    rule: str
    side: str
    count: int
    beyond: int
    wanted: int = 0


def default_rule(edition: str) -> str:
    """Return the acceptance rule that holds where the drawing names none.

    Parameters
    ----------
    edition : str
        "ISO 4288:1996", "ISO 21920-3:2021" or "ASME B46.1".

    Returns
    -------
    str
        One of `RULES`.

    Raises
    ------
    Refused
        If the edition is not known.

    References
    ----------
    .. [1] ISO 4288:1996, 5.2, the 16 % rule.
    .. [2] ISO 21920-1:2021, Tmax; ASME B46.1 and Y14.36 carry no default.
    """
    if edition not in _DEFAULTS:
        raise not_in_table("Edition", edition, ", ".join(_DEFAULTS))
    return _DEFAULTS[edition]


def accept(values: Sequence[float], limit: float, rule: str, side: str = "upper") -> Acceptance:
    """Decide by an acceptance rule whether the values of one surface meet a limit.

    Parameters
    ----------
    values : sequence of float
        The values in the order taken. [unit of the limit]
    limit : float
        The limit, itself allowed. [unit of the values]
    rule : str
        "16 %" and "T16": mean plus standard deviation inside, or no more beyond than 0 of 3, 1 of 6, 2 of 12, 16 % of
        more; a single value only up to 70 % of an upper limit. "Tmax" and "simple": no value beyond. "Tmed": the
        median. "mean": the mean.
    side : str
        "upper" or "lower".

    Returns
    -------
    Acceptance
        The decision, with the statistic held against the limit. [unit of the values]

    Raises
    ------
    Refused
        If there is no value, one is not a number, or rule or side are not known.

    References
    ----------
    .. [1] ISO 4288:1996, 5.2 and annex A.
    .. [2] ISO 21920-1:2021, tolerance acceptance rules.
    """
    _check(values, limit, rule, side)
    # A lower limit is an upper limit seen in the mirror: one set of rules serves both.
    sign = 1.0 if side == "upper" else -1.0
    seen, bound = [sign * value for value in values], sign * limit
    beyond = sum(value > bound for value in seen)
    if rule in ("16 %", "T16"):
        statistic = _sixteen_statistic(seen)
        conforms = statistic <= bound
        if len(seen) == 1:
            conforms = side == "upper" and seen[0] <= SINGLE_VALUE_SHARE * bound
        wanted = 0 if conforms else _wanted(len(seen), beyond)
        return Acceptance(conforms, sign * statistic, rule, side, len(seen), beyond, wanted)
    if rule == "Tmed":
        statistic = statistics.median(seen)
    elif rule == "mean":
        statistic = math.fsum(seen) / len(seen)
    else:
        statistic = max(seen)
    return Acceptance(statistic <= bound, sign * statistic, rule, side, len(seen), beyond)


def _sixteen_statistic(seen: list[float]) -> float:
    """Return the smallest figure by which the rule may accept: mean + s, or the value after those it forgives."""
    if len(seen) == 1:
        return seen[0]
    figures = [math.fsum(seen) / len(seen) + statistics.stdev(seen)]
    if len(seen) >= 3:
        figures.append(sorted(seen, reverse=True)[_forgiven(len(seen))])
    return min(figures)


def _forgiven(count: int) -> int:
    if count >= 12:
        return max(2, count * 16 // 100)
    return 1 if count >= 6 else 0


def _wanted(count: int, beyond: int) -> int:
    for milestone in (3, 6, 12):
        if count < milestone and beyond <= _forgiven(milestone):
            return milestone
    return 0


def _check(values: Sequence[float], limit: float, rule: str, side: str) -> None:
    if rule not in RULES:
        raise not_in_table("Rule", rule, ", ".join(RULES))
    if side not in SIDES:
        raise not_in_table("Side", side, ", ".join(SIDES))
    if not values:
        raise Refused(
            "acceptance.no_value",
            gettext_noop("There is no value to hold against the limit {limit}."),
            next_step=gettext_noop("Measure first."),
            limit=limit,
        )
    need_number(limit, "Limit", "")
    for value in values:
        need_number(value, "Value", "")
