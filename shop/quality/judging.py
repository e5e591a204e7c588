"""From values to a verdict: the drawing edition's rule, the customer's acceptance rule, the gauge's uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf
from statistics import fmean

from shop.standards import acceptance as rules
from shop.standards import budget, conformity
from shop.standards.budget import Budget, Offset

YES, NO, NOT_PROVEN = "yes", "no", "not proven"
GUARDED = "guarded"
MEAN, WORST = "mean", "worst"
# Rules whose statistic is a mean, so that what differs from reading to reading grows smaller with their number.
OVER_ALL = frozenset({MEAN, "16 %"})
BY_EYE = frozenset({"look gloss", "look roughness"})


@dataclass(frozen=True)
class GaugeUncertainty:
    """What is known of a gauge in its unit: certificate, the step it reads in, repeatability at one fixed spot.

    The certificate says U = a + b x value at coverage k, and of some `ranges` something of their own.
    """

    expanded_a: float = 0.0
    expanded_b: float = 0.0
    coverage_k: float = 2.0
    resolution: float = 0.0
    ranges: tuple[budget.CalibrationRange, ...] = ()
    repeatability: float = 0.0
    repeatability_df: float = inf

    def certificate(self, value: float) -> budget.CalibrationRange | tuple[budget.CalibrationRange, ...]:
        """Return what the certificate says at this value: of the ranges that hold it, else overall."""
        return self._holding(value) or self._overall

    @property
    def _overall(self) -> budget.CalibrationRange:
        return budget.CalibrationRange(self.expanded_a, self.expanded_b, self.coverage_k)

    def _holding(self, value: float) -> tuple[budget.CalibrationRange, ...]:
        return tuple(one for one in self.ranges if (one.lower or 0.0) <= value <= (one.upper or inf))

    def budget(self, value: float, repeats: int = 1, offset: Offset | None = None) -> Budget:
        """Return the budget of a reading of this size, or of the mean of so many at one spot.

        Values repeated with one gauge share its calibration, and a steady part is rounded alike each
        time: neither part grows smaller with the number of readings. Repeatability does. The scatter over
        the surface is no part of it: the acceptance rule allows for that.
        """
        return budget.reading_budget(
            value, self.certificate(value), repeatability=self.repeatability, repeatability_df=self.repeatability_df,
            repeats=repeats, resolution=self.resolution, offset=offset,
        )  # fmt: skip

    def difference(self, high: float, low: float, repeats: int = 1) -> Budget:
        """Return the budget of a difference of two readings: what the calibration does not know cancels.

        Where one of them lies outside all ranges, the certificate as a whole speaks for both.
        """
        inside = all(self._holding(value) for value in (high, low))
        return budget.difference_budget(
            high, low, self.ranges if inside else self._overall, repeatability=self.repeatability,
            repeatability_df=self.repeatability_df, repeats=repeats, resolution=self.resolution,
        )  # fmt: skip

    def at(self, value: float, repeats: int = 1) -> float:
        """Return the standard uncertainty of a reading of this size, or of the mean of so many."""
        return self.budget(value, repeats).combined


@dataclass(frozen=True)
class Terms:
    """What values are held against: the two sides in force, and by which rules."""

    parameter: str
    lower: float | None
    upper: float | None
    edition: str
    tolerance_rule: str = ""
    acceptance: str = GUARDED
    required: float = 0.95

    @property
    def rule(self) -> str:
        """Return the acceptance rule as it is applied, never a default."""
        if self.parameter in BY_EYE:
            return WORST
        if self.parameter == "gloss":
            return MEAN
        return self.tolerance_rule or rules.default_rule(self.edition)


@dataclass(frozen=True)
class Judged:
    """The numbers of a verdict. `statistic` is the one held against the side that decided."""

    outcome: str
    rule: str
    statistic: float
    count: int
    standard_uncertainty: float
    conformance: float | None


def judge_values(values: Sequence[float], terms: Terms, gauge: GaugeUncertainty | None = None) -> Judged:
    """Judge the values of one parameter at one spot.

    Raises ValueError where there is no value.
    """
    if not values:
        raise ValueError("nothing to judge")
    over, enough_over = statistic_for(values, terms, upper=True)
    under, enough_under = statistic_for(values, terms, upper=False)
    sides: list[Judged] = []
    if terms.lower is not None and terms.upper is not None and over == under:
        sides.append(_held(over, terms, terms.lower, terms.upper, gauge, len(values), enough_over and enough_under))
    else:
        if terms.upper is not None:
            sides.append(_held(over, terms, None, terms.upper, gauge, len(values), enough_over))
        if terms.lower is not None:
            sides.append(_held(under, terms, terms.lower, None, gauge, len(values), enough_under))
    return _together(sides, over, terms, len(values))


def statistic_for(values: Sequence[float], terms: Terms, *, upper: bool) -> tuple[float, bool]:
    """Return what stands for the values against one side, and whether they are enough to pass on."""
    seen = [float(value) for value in values]
    if terms.rule == WORST:
        return (max if upper else min)(seen), True
    limit = terms.upper if upper else terms.lower
    if terms.rule == MEAN or limit is None:
        return round(fmean(seen), 9), True
    found = rules.accept(seen, float(limit), terms.rule, "upper" if upper else "lower")
    # One value that is neither well inside nor outside calls for more of them before it can pass. Rounded, since
    # 70 % of 0.8 is a hair below 0.56 in binary.
    well_inside = upper and round(found.statistic - rules.SINGLE_VALUE_SHARE * float(limit), 9) <= 0
    return round(found.statistic, 9), found.conforms or well_inside or found.count > 1


def judge_statistic(
    statistic: float, u: float, lower: float | None, upper: float | None, *, acceptance: str, required: float
) -> tuple[str, float | None]:
    """Hold one number against its sides; return the outcome and, where there is uncertainty, the chance to conform."""
    inside = (lower is None or statistic >= lower) and (upper is None or statistic <= upper)
    plain = YES if inside else NO
    if u <= 0:
        return plain, None
    chance = float(conformity.conformance_probability(statistic, u, lower=lower, upper=upper))
    if acceptance != GUARDED:
        return plain, chance
    return conformity.judge(statistic, u, lower=lower, upper=upper, required=required).conforms, chance


def repeats_of(terms: Terms, count: int) -> int:
    """Return over how many readings the statistic of the rule is a mean; one where a single reading decides."""
    return count if terms.rule in OVER_ALL else 1


def guard(limit: float, u: float, required: float, *, upper: bool) -> float:
    """Return where the guard band of a limit ends: what lies beyond it, seen from the limit, is proven to conform."""
    width = conformity.guard_factor(required) * u
    return limit - width if upper else limit + width


def _held(
    statistic: float,
    terms: Terms,
    lower: float | None,
    upper: float | None,
    gauge: GaugeUncertainty | None,
    count: int,
    enough: bool,
) -> Judged:
    # A comparison by eye is the plaque's own word: it has no uncertainty that could be stated.
    u = 0.0 if gauge is None or terms.parameter in BY_EYE else gauge.at(statistic, repeats_of(terms, count))
    outcome, chance = judge_statistic(statistic, u, lower, upper, acceptance=terms.acceptance, required=terms.required)
    if outcome == YES and not enough:
        outcome = NOT_PROVEN
    return Judged(outcome, terms.rule, statistic, count, u, chance)


def _together(sides: Sequence[Judged], statistic: float, terms: Terms, count: int) -> Judged:
    if not sides:
        return Judged(YES, terms.rule, statistic, count, 0.0, None)
    rank = {NO: 0, NOT_PROVEN: 1, YES: 2}
    worst = min(sides, key=lambda side: (rank[side.outcome], 1.0 if side.conformance is None else side.conformance))
    if len(sides) == 1 or any(side.conformance is None for side in sides):
        return worst
    # Both sides must hold: together they are at least as likely as this, whatever ties them to one another.
    chance = max(0.0, sum(side.conformance or 0.0 for side in sides) - (len(sides) - 1))
    return Judged(worst.outcome, worst.rule, worst.statistic, worst.count, worst.standard_uncertainty, chance)
