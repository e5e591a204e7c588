"""Gauge studies: how much of what is seen comes from the gauge and the people, and how much from the parts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.msa_anova import ANOVA_SOURCE, Anova, Component, TableRow, analyse
from shop.standards.range_factors import MOST_VALUES, chart_factors, d2_star
from shop.standards.source import Source, Standing, need_number, not_in_table
from shop.standards.study_table import number_table

__all__ = [
    "ANOVA_SOURCE",
    "FITNESS_RULES",
    "FITNESS_SOURCE",
    "MSA_SOURCE",
    "Anova",
    "Component",
    "Fitness",
    "FitnessRule",
    "GaugeStudy",
    "PartChart",
    "RangeWork",
    "TableRow",
    "fitness",
    "gauge_study",
]

MSA_SOURCE = Source(
    gettext_noop("AIAG Measurement Systems Analysis, average and range method"),
    "4th ed., 2010",
    Standing.PUBLISHED,
    gettext_noop("Averages and factors are carried at four significant figures, as on the handbook's form."),
)
FITNESS_SOURCE = Source(
    gettext_noop("AIAG Measurement Systems Analysis, acceptance of a measuring system"),
    "4th ed., 2010",
    Standing.PUBLISHED,
    gettext_noop("A guideline: from 10 to 30 % it depends on what the gauge is for, its cost and that of repair."),
)

Verdict = Literal["fit", "conditional", "not fit"]
_FEWEST_CATEGORIES = 5


@dataclass(frozen=True)
class FitnessRule:
    """The verdict that holds up to this percentage, itself included except under 10 %, from that many categories."""

    verdict: Verdict
    to_percent: float
    ndc_from: int | None
    source: Source = FITNESS_SOURCE


FITNESS_RULES: tuple[FitnessRule, ...] = (
    FitnessRule("fit", 10.0, _FEWEST_CATEGORIES),
    FitnessRule("conditional", 30.0, None),
    FitnessRule("not fit", math.inf, None),
)


@dataclass(frozen=True)
class Fitness:
    """What a percentage means, of the study or of the tolerance; `enough_categories` is None where not asked."""

    verdict: Verdict
    of: Literal["study", "tolerance"]
    percent: float
    enough_categories: bool | None
    source: Source = FITNESS_SOURCE


@dataclass(frozen=True)
class PartChart:
    """Averages and ranges by part and person, with the limits of the average and range chart.

    Cells are (part, person), counted from 0. `ranges_beyond` want a look: that person, that part, measured otherwise.
    `averages_outside` are parts that the gauge can tell apart; `share_outside` should be half or more.
    """

    averages: tuple[tuple[float, ...], ...]
    ranges: tuple[tuple[float, ...], ...]
    part_averages: tuple[float, ...]
    person_averages: tuple[float, ...]
    centre: float
    lower: float
    upper: float
    mean_range: float
    range_lower: float
    range_upper: float
    ranges_beyond: tuple[tuple[int, int], ...]
    averages_outside: tuple[tuple[int, int], ...]
    share_outside: float


@dataclass(frozen=True)
class RangeWork:
    """The hand calculation: factors, mean range, range of the people's averages and of the parts' averages."""

    k1: float
    k2: float | None
    k3: float
    mean_range: float
    people_difference: float
    part_range: float
    figures: int | None


@dataclass(frozen=True)
class GaugeStudy:
    """Result of a gauge study; standard deviations in the unit of the values.

    `ev` repeatability, `av` reproducibility, `grr` both, `pv` parts, `tv` all; each in percent of `tv` and, where a
    tolerance is given, six of each in percent of it. `ndc` counts the categories that the gauge tells apart, None
    where it shows no scatter of its own. `av_floored` is true where the term under the root of AV was negative.
    """

    method: Literal["range", "anova"]
    parts: int
    people: int
    trials: int
    ev: float
    av: float
    grr: float
    pv: float
    tv: float
    percent_ev: float
    percent_av: float
    percent_grr: float
    percent_pv: float
    ndc: int | None
    ev_df: int
    av_floored: bool
    tolerance: float | None
    tolerance_percent_ev: float | None
    tolerance_percent_av: float | None
    tolerance_percent_grr: float | None
    tolerance_percent_pv: float | None
    fitness: Fitness
    tolerance_fitness: Fitness | None
    chart: PartChart
    range_work: RangeWork | None
    anova: Anova | None
    notes: tuple[Saying, ...]
    source: Source


def gauge_study(
    values: Sequence[Sequence[Sequence[float]]],
    method: str,
    *,
    tolerance: float | None = None,
    figures: int | None = 4,
    alpha: float = 0.25,
    confidence: float = 0.95,
) -> GaugeStudy:
    """Return what a gauge study says of the gauge, by average and range or by analysis of variance.

    Parameters
    ----------
    values : sequence of sequence of sequence of float
        values[part][person][trial]; every person measures every part as often. [any one unit]
    method : str
        "range" or "anova".
    tolerance : float, optional
        Width of the tolerance, upper less lower limit. [unit of the values]
    figures : int, optional
        Significant figures that the range method carries, 4 as on the handbook's form, so that each printed digit is
        met; the result is within 0.1 % of the unrounded one. None carries all. The other method never rounds. [1]
    alpha : float
        The interaction is kept where its p is below this, else pooled. [1]
    confidence : float
        Of the intervals of the variance components. [1]

    Returns
    -------
    GaugeStudy
        Standard deviations [unit of the values], percentages, categories, verdicts, chart, and the working.

    Raises
    ------
    Refused
        If the table is ragged, a value is missing or not a number, there are fewer than 2 parts or 2 trials, all
        values are equal, more than 20 parts, people or trials are asked of the range method, or the tolerance is
        not positive.

    References
    ----------
    .. [1] AIAG MSA, 4th ed. (2010): average and range method; analysis of variance method. A negative term under
       the root makes AV 0. ndc = 1.41 PV / GRR, cut to a whole number.
    """
    if method not in ("range", "anova"):
        raise not_in_table("Method", method, "range, anova")
    if tolerance is not None:
        tolerance = need_number(float(tolerance), "Tolerance", "", above=0)
    table = number_table(values)
    if method == "range":
        work, ev, av, pv, floored = _by_range(table, figures)
        return _study("range", table, (ev, av, pv), tolerance, floored, work, None)
    anova = analyse(table, alpha, confidence)
    ev, av, pv = (math.sqrt(anova.component(name).variance) for name in ("repeatability", "reproducibility", "part"))
    floored = any(found.name in ("person", "interaction") and found.floored for found in anova.components)
    return _study("anova", table, (ev, av, pv), tolerance, floored, None, anova)


def fitness(
    percent: float, ndc: int | None = None, *, of: Literal["study", "tolerance"] = "study", categories: bool = True
) -> Fitness:
    """Return the verdict on a gauge: fit under 10 %, conditional to 30 %, not fit above.

    Parameters
    ----------
    percent : float
        GRR in percent of the study's variation or of the tolerance. [percent]
    ndc : int, optional
        Categories told apart; None where the gauge shows no scatter. Fewer than 5 are never simply fit. [1]
    of : str
        What it is a percentage of; the categories are asked of a study only.
    categories : bool
        Whether to ask for them.

    Returns
    -------
    Fitness
        The verdict and its source.

    Raises
    ------
    Refused
        If the percentage is negative or not a number.

    References
    ----------
    .. [1] AIAG MSA, 4th ed. (2010), table of GRR criteria; at least 5 categories.
    """
    need_number(percent, "GRR", "%", above=-1e-12)
    asked = of == "study" and categories
    enough = (ndc is None or ndc >= _FEWEST_CATEGORIES) if asked else None
    fit, conditional, not_fit = FITNESS_RULES
    if percent < fit.to_percent and enough is not False:
        return Fitness(fit.verdict, of, percent, enough)
    rule = conditional if percent <= conditional.to_percent else not_fit
    return Fitness(rule.verdict, of, percent, enough)


def _study(
    method: Literal["range", "anova"],
    table: NDArray[np.float64],
    found: tuple[float, float, float],
    tolerance: float | None,
    floored: bool,
    work: RangeWork | None,
    anova: Anova | None,
) -> GaugeStudy:
    ev, av, pv = found
    parts, people, trials = table.shape
    grr = math.hypot(ev, av)
    tv = math.hypot(grr, pv)
    if tv == 0:
        raise Refused(
            "gauge_study.range_sees_nothing",
            gettext_noop("The averages and ranges show no variation, although the values differ."),
            next_step=gettext_noop("Use the analysis of variance, which sees people differ from part to part."),
        )
    ndc = int(1.41 * pv / grr) if grr > 0 else None
    percent = {name: 100 * x / tv for name, x in (("ev", ev), ("av", av), ("grr", grr), ("pv", pv))}
    of_tolerance = {name: None if tolerance is None else share * 6 * tv / tolerance for name, share in percent.items()}
    ev_df = parts * people * (trials - 1) + ((parts - 1) * (people - 1) if anova and anova.pooled else 0)
    return GaugeStudy(
        method=method, parts=parts, people=people, trials=trials, ev=ev, av=av, grr=grr, pv=pv, tv=tv,
        percent_ev=percent["ev"], percent_av=percent["av"], percent_grr=percent["grr"], percent_pv=percent["pv"],
        ndc=ndc, ev_df=ev_df, av_floored=floored, tolerance=tolerance,
        tolerance_percent_ev=of_tolerance["ev"], tolerance_percent_av=of_tolerance["av"],
        tolerance_percent_grr=of_tolerance["grr"], tolerance_percent_pv=of_tolerance["pv"],
        fitness=fitness(percent["grr"], ndc),
        tolerance_fitness=None if tolerance is None else fitness(600 * grr / tolerance, of="tolerance"),
        chart=_chart(table), range_work=work, anova=anova, notes=_notes(people, floored, grr, method),
        source=MSA_SOURCE if method == "range" else ANOVA_SOURCE,
    )  # fmt: skip


def _notes(people: int, floored: bool, grr: float, method: str) -> tuple[Saying, ...]:
    notes = []
    if people == 1:
        notes.append(
            Saying(
                "gauge_study.one_person",
                gettext_noop("One person measured: what people add to the scatter is not in this study."),
                {},
            )
        )
    if floored:
        notes.append(
            Saying(
                "gauge_study.av_floored",
                gettext_noop("People differ no more than repeats explain: their part came out negative, counts as 0."),
                {"method": method},
            )
        )
    if grr == 0:
        notes.append(
            Saying(
                "gauge_study.no_scatter",
                gettext_noop("Every repeat reads the same: the gauge's resolution may hide its scatter."),
                {},
            )
        )
    return tuple(notes)


def _by_range(table: NDArray[np.float64], figures: int | None) -> tuple[RangeWork, float, float, float, bool]:
    parts, people, trials = table.shape
    for name, count in (("Parts", parts), ("People", people), ("Trials", trials)):
        if count > MOST_VALUES:
            raise not_in_table(name, count, f"2–{MOST_VALUES}")
    # Averages are rounded on the grid of their largest distance from the middle, so an offset costs no digits.
    middle = float(table.mean())
    averages = [table.mean(axis=axes) for axes in ((0, 2), (1, 2))]
    people_difference, part_range = (
        float(np.ptp(_carried(found, float(np.abs(found - middle).max()), figures))) for found in averages
    )
    mean_range = float(np.ptp(table, axis=2).mean())
    mean_range = float(_carried(np.float64(mean_range), mean_range, figures))
    k1, k3 = _factor(trials, parts * people, figures), _factor(parts, 1, figures)
    k2 = _factor(people, 1, figures) if people > 1 else None
    ev = mean_range * k1
    under = (people_difference * (k2 or 0.0)) ** 2 - ev**2 / (parts * trials)
    floored = people > 1 and under < 0
    work = RangeWork(k1, k2, k3, mean_range, people_difference, part_range, figures)
    return work, ev, math.sqrt(max(0.0, under)) if people > 1 else 0.0, part_range * k3, floored


def _factor(values: int, ranges: int, figures: int | None) -> float:
    factor = 1 / d2_star(values, ranges)
    return float(_carried(np.float64(factor), factor, figures))


def _carried(found: NDArray[np.float64] | np.float64, scale: float, figures: int | None) -> NDArray[np.float64]:
    """Return the numbers with that many significant figures, counted on the scale."""
    if figures is None or scale == 0:
        return np.asarray(found)
    return np.asarray(np.round(found, figures - 1 - math.floor(math.log10(scale))))


def _chart(table: NDArray[np.float64]) -> PartChart:
    trials = table.shape[2]
    averages, ranges = table.mean(axis=2), np.ptp(table, axis=2)
    centre, mean_range = float(table.mean()), float(ranges.mean())
    # The chart's factors end where those of the range do; more trials than that are charted as that many.
    factors = chart_factors(min(trials, MOST_VALUES))
    lower, upper = centre - factors.a2 * mean_range, centre + factors.a2 * mean_range
    low, high = factors.d3 * mean_range, factors.d4 * mean_range
    outside = np.argwhere((averages < lower) | (averages > upper))
    beyond = np.argwhere((ranges < low) | (ranges > high))
    return PartChart(
        averages=tuple(tuple(map(float, row)) for row in averages),
        ranges=tuple(tuple(map(float, row)) for row in ranges),
        part_averages=tuple(map(float, averages.mean(axis=1))),
        person_averages=tuple(map(float, averages.mean(axis=0))),
        centre=centre, lower=lower, upper=upper, mean_range=mean_range, range_lower=low, range_upper=high,
        ranges_beyond=tuple((int(part), int(person)) for part, person in beyond),
        averages_outside=tuple((int(part), int(person)) for part, person in outside),
        share_outside=len(outside) / averages.size,
    )  # fmt: skip
