"""Run rules: patterns in the order of values that chance seldom makes, each named by what it says."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from shop.drift.charts import Floats, check_design, finite
from shop.refusal import Refused, gettext_noop


class Look(StrEnum):
    """What a rule looks at."""

    ONE_SIDE = "beyond, all on one side"
    EITHER_SIDE = "beyond, on either side"
    WITHIN = "within, on either side"
    TREND = "each above the last, or each below it"
    ALTERNATING = "up and down in turn"


@dataclass(frozen=True)
class RunRule:
    """A rule: `needed` of the last `out_of` values lie beyond (or within) `sigmas` of the centre.

    `says` is the rule in words. Trends and alternating values have no distance, and need all of their values.
    """

    code: str
    says: str
    look: Look
    needed: int
    out_of: int
    sigmas: float = 0.0


ONE_BEYOND_THREE = RunRule("one beyond three", gettext_noop("one value beyond 3 sigma"), Look.ONE_SIDE, 1, 1, 3.0)
TWO_OF_THREE_BEYOND_TWO = RunRule(
    "two of three beyond two", gettext_noop("two of three values beyond 2 sigma on one side"), Look.ONE_SIDE, 2, 3, 2.0
)
FOUR_OF_FIVE_BEYOND_ONE = RunRule(
    "four of five beyond one", gettext_noop("four of five values beyond 1 sigma on one side"), Look.ONE_SIDE, 4, 5, 1.0
)
EIGHT_ON_ONE_SIDE = RunRule(
    "eight on one side", gettext_noop("eight values in a row on one side of the centre"), Look.ONE_SIDE, 8, 8
)
NINE_ON_ONE_SIDE = RunRule(
    "nine on one side", gettext_noop("nine values in a row on one side of the centre"), Look.ONE_SIDE, 9, 9
)
SIX_RISING_OR_FALLING = RunRule(
    "six rising or falling", gettext_noop("six values in a row, each above the last or each below it"), Look.TREND, 6, 6
)
FOURTEEN_ALTERNATING = RunRule(
    "fourteen alternating", gettext_noop("fourteen values in a row, up and down in turn"), Look.ALTERNATING, 14, 14
)
FIFTEEN_WITHIN_ONE = RunRule(
    "fifteen within one", gettext_noop("fifteen values in a row within 1 sigma of the centre"), Look.WITHIN, 15, 15, 1.0
)
EIGHT_OUTSIDE_ONE = RunRule(
    "eight outside one",
    gettext_noop("eight values in a row further than 1 sigma from the centre, on either side"),
    Look.EITHER_SIDE,
    8,
    8,
    1.0,
)
# The sets as they are published: Western Electric (1956), and Nelson (1984).
WESTERN_ELECTRIC = (ONE_BEYOND_THREE, TWO_OF_THREE_BEYOND_TWO, FOUR_OF_FIVE_BEYOND_ONE, EIGHT_ON_ONE_SIDE)
NELSON = (
    ONE_BEYOND_THREE,
    NINE_ON_ONE_SIDE,
    SIX_RISING_OR_FALLING,
    FOURTEEN_ALTERNATING,
    TWO_OF_THREE_BEYOND_TWO,
    FOUR_OF_FIVE_BEYOND_ONE,
    FIFTEEN_WITHIN_ONE,
    EIGHT_OUTSIDE_ONE,
)


@dataclass(frozen=True)
class Broken:
    """A rule, and the places from 0 of the values at which it was broken."""

    rule: RunRule
    alarms: tuple[int, ...]


def run_rules(
    values: Sequence[float], centre: float, sigma: float, rules: Sequence[RunRule] = WESTERN_ELECTRIC
) -> tuple[Broken, ...]:
    """Return the rules that values break, with the places where their pattern is complete.

    Parameters
    ----------
    values : sequence of float
        In the order they were taken. [any one unit]
    centre : float
        Where the values should lie. [unit of the values]
    sigma : float
        Standard deviation of one value. [unit of the values]
    rules : sequence of RunRule
        Which to look for.

    Returns
    -------
    tuple of Broken
        In the order of the rules, only those that are broken.

    Raises
    ------
    Refused
        If a value is not a number, sigma is not above 0, or there is no rule.

    References
    ----------
    .. [1] Western Electric (1956), Statistical Quality Control Handbook.
    .. [2] Nelson (1984), Journal of Quality Technology 16:237-239.
    """
    x = finite(values)
    check_design(centre, sigma)
    check_rules(rules)
    z = (x - centre) / sigma
    found = (Broken(rule, _alarms(rule, z)) for rule in rules)
    return tuple(broken for broken in found if broken.alarms)


def check_rules(rules: Sequence[RunRule]) -> None:
    """Refuse an empty set of rules.

    Parameters
    ----------
    rules : sequence of RunRule
        The set.

    Raises
    ------
    Refused
        If it is empty.

    References
    ----------
    .. [1] `run_rules`.
    """
    if not rules:
        raise Refused(
            "chart.no_rule",
            gettext_noop("No run rule was chosen."),
            next_step=gettext_noop("Choose at least one."),
        )


def _alarms(rule: RunRule, z: Floats) -> tuple[int, ...]:
    if rule.look is Look.TREND:
        patterns = _in_a_row(np.diff(z) > 0, rule), _in_a_row(np.diff(z) < 0, rule)
    elif rule.look is Look.ALTERNATING:
        turns = np.sign(np.diff(z))
        patterns = (_in_a_row(turns[1:] * turns[:-1] < 0, rule),) * 2
    elif rule.look is Look.ONE_SIDE:
        patterns = _often(z > rule.sigmas, rule), _often(z < -rule.sigmas, rule)
    elif rule.look is Look.EITHER_SIDE:
        patterns = (_often(np.abs(z) > rule.sigmas, rule),) * 2
    else:
        patterns = (_often(np.abs(z) <= rule.sigmas, rule),) * 2
    return tuple(sorted(set(patterns[0]) | set(patterns[1])))


def _often(met: NDArray[np.bool_], rule: RunRule) -> list[int]:
    """Return where at least `needed` of the last `out_of` met it, the value there among them."""
    total = np.concatenate(([0], np.cumsum(met)))
    ends = np.arange(1, met.size + 1)
    many = total[ends] - total[np.maximum(ends - rule.out_of, 0)]
    return [int(place) for place in np.flatnonzero(met & (many >= rule.needed))]


def _in_a_row(met: NDArray[np.bool_], rule: RunRule) -> list[int]:
    """Return where steps between values (or turns of steps) fill the rule; a row of n values has n - 1 steps."""
    fewer = 1 if rule.look is Look.TREND else 2
    wanted = rule.needed - fewer
    total = np.concatenate(([0], np.cumsum(met)))
    ends = np.arange(wanted, met.size + 1)
    return [int(end) + fewer - 1 for end in ends if total[end] - total[end - wanted] == wanted]
