"""Several values of one surface against a limit: the acceptance rules of the drawing editions."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from shop.refusal import Refused, gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

RULES = ("16 %", "Tmax", "T16", "Tmed", "mean", "simple")
SIDES = ("upper", "lower")
SINGLE_VALUE_SHARE = 0.7

RULE_SOURCES: dict[str, Source] = {
    "16 %": Source(
        "ISO 4288", "1996", Standing.PUBLISHED, gettext_noop("Allows for scatter over the surface already.")
    ),
    "Tmax": Source(
        "ISO 21920-1", "2021", Standing.SEVERAL, gettext_noop("No value over; the max rule of ISO 4288 says the same.")
    ),
    "T16": Source("ISO 21920-1", "2021", Standing.SEVERAL, gettext_noop("Where written on the drawing.")),
    "Tmed": Source("ISO 21920-1", "2021", Standing.SEVERAL, gettext_noop("Where written on the drawing.")),
    "mean": Source("House rule", NO_EDITION, Standing.COMMON, gettext_noop("No standard behind it.")),
    "simple": Source(
        gettext_noop("ASME Y14.36 and B46.1 drawings"),
        NO_EDITION,
        Standing.COMMON,
        gettext_noop("No default rule and no guard band unless agreed."),
    ),
}
# The quick procedure: so many values taken, so many of them may lie beyond. [1]
QUICK_PROCEDURE = ((3, 0), (6, 1), (12, 2))
SHARE_FORGIVEN_PERCENT = 16
# As the rules are written on drawings and said aloud, spaces and case left out.
_SPELLINGS = {
    "16%": "16 %", "16": "16 %", "16%rule": "16 %", "16percent": "16 %", "max": "Tmax", "maxrule": "Tmax",
    "median": "Tmed", "house": "mean", "housemean": "mean", "asme": "simple",
    **{rule.lower().replace(" ", ""): rule for rule in RULES},
}  # fmt: skip
_DEFAULTS = {"ISO 4288:1996": "16 %", "ISO 21920-3:2021": "Tmax", "ASME B46.1": "simple"}


@dataclass(frozen=True)
class Acceptance:
    """What a rule says of the values taken.

    `statistic` is what was held against the limit, in the values' unit. `wanted` is how many values in all
    would let the rule decide where it has not accepted and not rejected yet; 0 is decided. `by` is which part of the
    16 % rule accepted: "first", "three", "six", "twelve", "share" or "mean + s"; empty where it did not, or by
    another rule.
    """

    conforms: bool
    statistic: float
    rule: str
    side: str
    count: int
    beyond: int
    wanted: int = 0
    by: str = ""


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
        more; a single value only up to 70 % of an upper limit, itself included. Values taken after the quick procedure
        could have stopped count too. "Tmax" (also written "max") and "simple": no value beyond. "Tmed": the median.
        "mean": the mean.
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
    rule = rule_named(rule)
    _check(values, limit, side)
    # A lower limit is an upper limit seen in the mirror: one set of rules serves both.
    sign = 1.0 if side == "upper" else -1.0
    seen, bound = [sign * value for value in values], sign * limit
    beyond = sum(value > bound for value in seen)
    if rule in ("16 %", "T16"):
        statistic = _sixteen_statistic(seen)
        conforms = statistic <= bound
        if len(seen) == 1:
            conforms = side == "upper" and within_share(seen[0], bound)
        wanted = 0 if conforms else _wanted(len(seen), beyond)
        by = _accepted_by(len(seen), beyond) if conforms else ""
        return Acceptance(conforms, sign * statistic, rule, side, len(seen), beyond, wanted, by)
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
    by_table = max((forgiven for taken, forgiven in QUICK_PROCEDURE if count >= taken), default=0)
    return max(by_table, count * SHARE_FORGIVEN_PERCENT // 100) if count >= QUICK_PROCEDURE[-1][0] else by_table


def _wanted(count: int, beyond: int) -> int:
    for milestone, _ in QUICK_PROCEDURE:
        if count < milestone and beyond <= _forgiven(milestone):
            return milestone
    return 0


def _accepted_by(count: int, beyond: int) -> str:
    if count == 1:
        return "first"
    if count < 3 or beyond > _forgiven(count):
        return "mean + s"
    return {3: "three", 6: "six", 12: "twelve"}.get(count, "share")


def within_share(value: float, limit: float) -> bool:
    """Return whether a first value is small enough for the 16 % rule to stop at it.

    Parameters
    ----------
    value, limit : float
        The value and its upper limit. [any one unit]

    Returns
    -------
    bool
        True up to 70 % of the limit, itself included however it rounds in binary: 0.77 is 70 % of 1.1.

    References
    ----------
    .. [1] ISO 4288:1996, annex A.
    """
    bound = SINGLE_VALUE_SHARE * limit
    return value <= bound or math.isclose(value, bound, rel_tol=1e-12)


def rule_named(written: str) -> str:
    """Return a rule from the way it is written.

    Parameters
    ----------
    written : str
        For instance "16 %", "16%", "max", "Tmax", "T16", "Tmed" or "mean".

    Returns
    -------
    str
        One of `RULES`.

    Raises
    ------
    Refused
        If there is no such rule.

    References
    ----------
    .. [1] ISO 4288:1996; ISO 21920-1:2021.
    """
    rule = _SPELLINGS.get(written.lower().replace(" ", "").replace("\u00a0", ""))
    if rule is None:
        raise not_in_table("Rule", written, ", ".join(RULES))
    return rule


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's rules with where it is from.

    Returns
    -------
    tuple of Stated
        Shares [1] and counts [values].

    References
    ----------
    .. [1] ISO 4288:1996, 5.2 and annex A.
    """
    source = RULE_SOURCES["16 %"]
    quick = [
        Stated("16 % rule", name.format(taken=taken), figure, "values", source)
        for taken, forgiven in QUICK_PROCEDURE
        for name, figure in (("values taken", taken), ("beyond of {taken}", forgiven))
    ]
    return (
        Stated("16 % rule", "share of the limit for a first value", SINGLE_VALUE_SHARE, "1", source),
        Stated("16 % rule", "share of many that may lie beyond", SHARE_FORGIVEN_PERCENT, "percent", source),
        *quick,
        *(Stated("default rule", edition, rule, "", RULE_SOURCES[rule]) for edition, rule in _DEFAULTS.items()),
    )


def _check(values: Sequence[float], limit: float, side: str) -> None:
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
