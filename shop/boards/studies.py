"""Studies: the list of them, and what one of a gauge says by both methods."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from shop import units
from shop.boards.study_advice import Deciding, next_step
from shop.people import wording
from shop.people.models import Plant
from shop.picture.study_chart import Rule, StudyChart
from shop.quality.models import AgreementStudy, Gauge, GaugeStudy
from shop.quality.study_results import worked_out
from shop.refusal import Refused, Saying, gettext_noop
from shop.standards import msa
from shop.standards.source import Source

NARROW = 362.0
DIGITS = 5  # of the smallest figure, as the handbook prints them
NAMES = {
    "ev": gettext_noop("Repeats, EV"),
    "av": gettext_noop("People, AV"),
    "grr": gettext_noop("Gauge and people, GRR"),
    "pv": gettext_noop("Parts, PV"),
    "tv": gettext_noop("All, TV"),
}
SOURCES = {
    "part": gettext_noop("parts"),
    "person": gettext_noop("people"),
    "interaction": gettext_noop("people from part to part"),
    "repeatability": gettext_noop("repeats"),
    "total": gettext_noop("all"),
}


@dataclass(frozen=True)
class StudyList:
    """The studies in force, latest first; of one gauge there are none of people who judge by eye."""

    of_gauges: tuple[GaugeStudy, ...]
    of_judges: tuple[AgreementStudy, ...]


@dataclass(frozen=True)
class Side:
    """One method: its result, or why it has none; `chosen` is the one that the study goes by."""

    method: str
    label: str
    chosen: bool
    found: msa.GaugeStudy | None
    refused: Refused | None


@dataclass(frozen=True)
class Figure:
    """One standard deviation as words, with its shares."""

    deviation: str
    of_study: str
    of_tolerance: str


@dataclass(frozen=True)
class Table:
    """What one method says, figure by figure, and the categories told apart."""

    side: Side
    lines: tuple[tuple[str, Figure], ...]
    ndc: str


@dataclass(frozen=True)
class AnovaRow:
    """One row of the analysis of variance, as words."""

    name: str
    df: int
    squares: str
    mean: str
    f: str
    p: str


@dataclass(frozen=True)
class GaugeStudyCard:
    """A study of a gauge as its page shows it."""

    study: GaugeStudy
    unit: str
    tables: tuple[Table, ...]
    fitness: tuple[tuple[str, Saying], ...]
    fitness_source: Source
    anova: tuple[AnovaRow, ...]
    interaction: Saying | None
    beyond: tuple[Saying, ...]
    apart: Saying
    next: Saying
    notes: tuple[Saying, ...]
    averages: StudyChart
    ranges: StudyChart
    averages_narrow: StudyChart
    ranges_narrow: StudyChart
    table: tuple[tuple[str, tuple[tuple[str, ...], ...]], ...]
    trials: tuple[int, ...]


def study_list(plant: Plant, gauge: Gauge | None = None) -> StudyList:
    """Return the plant's studies in force, all or those of one gauge."""
    in_force = {"superseded_by__isnull": True, "void": False}
    of_gauges = GaugeStudy.objects.filter(gauge__plant=plant, **in_force).select_related("gauge", "by")
    if gauge is not None:
        return StudyList(tuple(of_gauges.filter(gauge=gauge).order_by("-at", "-id")), ())
    of_judges = AgreementStudy.objects.filter(plant=plant, **in_force).select_related("plaque", "by")
    return StudyList(tuple(of_gauges.order_by("-at", "-id")), tuple(of_judges.order_by("-at", "-id")))


def gauge_study_card(study: GaugeStudy) -> GaugeStudyCard:
    """Return what a study of a gauge says."""
    sides = tuple(_side(study, method) for method in GaugeStudy.Method)
    found = next(side.found for side in sides if side.chosen and side.found)
    places = _places(found)
    anova = next((side.found.anova for side in sides if side.found and side.found.anova), None)
    narrow, wide = (_charts(study, found, width, places) for width in (NARROW, 720.0))
    return GaugeStudyCard(
        study=study, unit=units.LABELS[study.unit], tables=tuple(_table(side, places) for side in sides),
        fitness=_fitness(found), fitness_source=msa.FITNESS_SOURCE,
        anova=_anova_rows(anova.table) if anova else (), interaction=_interaction(anova) if anova else None,
        beyond=_beyond(study, found.chart, places), apart=_apart(found.chart),
        next=next_step(_deciding(study, found, places)), notes=found.notes,
        averages=wide[0], ranges=wide[1], averages_narrow=narrow[0], ranges_narrow=narrow[1],
        table=tuple((part, tuple(_typed(cell) for cell in row)) for part, row in zip(study.parts, study.values,
                                                                                   strict=True)),
        trials=tuple(range(1, found.trials + 1)),
    )  # fmt: skip


def rounded(value: float, places: int) -> Decimal:
    """Return a figure of the core with so many decimals, to be worded."""
    return Decimal(repr(value)).quantize(Decimal(1).scaleb(-places))


def figure(value: float | None, places: int) -> str:
    """Return a figure with so many decimals and the reader's sign."""
    return wording.NOTHING if value is None else signed(rounded(value, places))


def signed(value: Decimal) -> str:
    """Return a number with the reader's decimal sign and a minus that is one."""
    return wording.number(value).replace("-", units.MINUS)


def probability(p: float | None) -> str:
    """Return a probability as people write it."""
    if p is None:
        return ""
    return f"< {wording.number(Decimal('0.001'))}" if p < 0.001 else figure(p, 3)


def _side(study: GaugeStudy, method: GaugeStudy.Method) -> Side:
    label, chosen = str(method.label), method == study.method
    try:
        return Side(method.value, label, chosen, worked_out(study, method.value), None)
    except Refused as refused:
        return Side(method.value, label, chosen, None, refused)


def _places(found: msa.GaugeStudy) -> int:
    smallest = min((value for value in (found.ev, found.av, found.grr, found.pv) if value > 0), default=found.tv)
    return min(max(0, DIGITS - 1 - math.floor(math.log10(smallest))), 9)


def _table(side: Side, places: int) -> Table:
    if side.found is None:
        return Table(side, (), "")
    found = side.found
    ndc = _("no scatter seen") if found.ndc is None else str(found.ndc)
    return Table(side, tuple((NAMES[name], _figure(found, name, places)) for name in NAMES), ndc)


def _figure(found: msa.GaugeStudy, name: str, places: int) -> Figure:
    of_study = figure(100.0 if name == "tv" else getattr(found, f"percent_{name}"), 2)
    of_tolerance = None if name == "tv" else getattr(found, f"tolerance_percent_{name}")
    if name == "tv" and found.tolerance:
        of_tolerance = 600 * found.tv / found.tolerance
    return Figure(figure(getattr(found, name), places), of_study, figure(of_tolerance, 2))


def _fitness(found: msa.GaugeStudy) -> tuple[tuple[str, Saying], ...]:
    """Return the words of the study with their rules; the first decides."""
    said = []
    if found.tolerance_fitness is not None:
        said.append((found.tolerance_fitness.verdict, Saying("study.fitness_of_tolerance", gettext_noop(
            "GRR takes {percent} % of the tolerance. Under 10 % is fit, to 30 % conditional, above it not fit; the "
            "tolerance decides here, because verdicts ask whether a face keeps it."
        ), {"percent": rounded(found.tolerance_fitness.percent, 2)})))  # fmt: skip
    template = gettext_noop(
        "GRR takes {percent} % of what the study saw. Under 10 % is fit if 5 or more categories are told apart, to "
        "30 % conditional, above it not fit."
    )
    values = {"percent": rounded(found.fitness.percent, 2)}
    said.append((found.fitness.verdict, Saying("study.fitness_of_study", template, values)))
    return tuple((str(GaugeStudy.Fitness(verdict).label), saying) for verdict, saying in said)


def _anova_rows(table: Sequence[msa.TableRow]) -> tuple[AnovaRow, ...]:
    return tuple(
        AnovaRow(SOURCES.get(row.source, row.source), row.df, figure(row.sum_of_squares, 4),
                 "" if row.mean_square is None else figure(row.mean_square, 5),
                 "" if row.f is None else figure(row.f, 3), probability(row.p))
        for row in table
    )  # fmt: skip


def _interaction(anova: msa.Anova) -> Saying | None:
    if anova.interaction_p is None:
        return None
    values = {"p": probability(anova.interaction_p), "limit": rounded(anova.alpha, 2)}
    if anova.pooled:
        template = gettext_noop(
            "People do not differ from part to part (p {p}, at or above {limit}): the interaction is pooled with the "
            "repeats."
        )
        return Saying("study.interaction_pooled", template, values)
    template = gettext_noop(
        "People differ from part to part (p {p}, below {limit}): the interaction is kept and counts as people's part."
    )
    return Saying("study.interaction_kept", template, values)


def _beyond(study: GaugeStudy, chart: msa.PartChart, places: int) -> tuple[Saying, ...]:
    said = []
    for part, person in chart.ranges_beyond:
        high = chart.ranges[part][person] > chart.range_upper
        template = (
            gettext_noop("{person} at part {part}: range {value}, above the limit {limit}.")
            if high
            else gettext_noop("{person} at part {part}: range {value}, below the limit {limit}.")
        )
        said.append(Saying("study.range_beyond", template, {
            "person": study.people[person], "part": study.parts[part],
            "value": rounded(chart.ranges[part][person], min(places, 4)).normalize(),
            "limit": rounded(chart.range_upper if high else chart.range_lower, min(places, 4)),
        }))  # fmt: skip
    return tuple(said)


def _apart(chart: msa.PartChart) -> Saying:
    values = {"n": len(chart.averages_outside), "all": len(chart.averages) * len(chart.averages[0])}
    if chart.share_outside >= 0.5:
        template = gettext_noop("{n} of {all} averages lie outside the limits: the gauge tells these parts apart.")
        return Saying("study.tells_apart", template, values)
    template = gettext_noop(
        "Only {n} of {all} averages lie outside the limits: the gauge hardly tells these parts apart, or they are too "
        "much alike."
    )
    return Saying("study.hardly_tells_apart", template, values)


def _deciding(study: GaugeStudy, found: msa.GaugeStudy, places: int) -> Deciding:
    means = found.chart.person_averages
    low, high = (means.index(pick(means)) for pick in (min, max))
    return Deciding(
        found=found, verdict=study.fitness, highest=study.people[high], lowest=study.people[low],
        difference=rounded(means[high] - means[low], min(places, 4)), unit=units.LABELS[study.unit],
        beyond=tuple(_cell(study, *cell) for cell in found.chart.ranges_beyond),
    )  # fmt: skip


def _cell(study: GaugeStudy, part: int, person: int) -> Saying:
    values = {"person": study.people[person], "part": study.parts[part]}
    return Saying("study.cell", gettext_noop("{person} at part {part}"), values)


def _charts(study: GaugeStudy, found: msa.GaugeStudy, width: float, places: int) -> tuple[StudyChart, StudyChart]:
    """Return the chart of averages and that of ranges, both by part and person."""
    chart, who = found.chart, wording.reader()
    comma = bool(who and who.decimal_comma)
    parts, people = tuple(study.parts), tuple(study.people)
    shown = {name: figure(getattr(chart, name), min(places, 4))
             for name in ("centre", "lower", "upper", "mean_range", "range_lower", "range_upper")}  # fmt: skip
    limit, mean = (_("limit %(value)s"), _("mean %(value)s")) if width > NARROW else ("%(value)s", "%(value)s")
    averages = StudyChart(
        parts, people, tuple(zip(*chart.averages, strict=True)),
        (Rule(chart.upper, limit % {"value": shown["upper"]}), Rule(chart.lower, limit % {"value": shown["lower"]})),
        (), _("Average of each part by person, with the limits %(lower)s and %(upper)s; %(n)d of %(all)d outside.") % {
            **shown, "n": len(chart.averages_outside), "all": len(parts) * len(people)}, comma, width,
    )  # fmt: skip
    rules = [Rule(chart.range_upper, limit % {"value": shown["range_upper"]}),
             Rule(chart.mean_range, mean % {"value": shown["mean_range"]}, is_limit=False)]  # fmt: skip
    if chart.range_lower > 0:
        rules.append(Rule(chart.range_lower, limit % {"value": shown["range_lower"]}))
    ranges = StudyChart(
        parts, people, tuple(zip(*chart.ranges, strict=True)), tuple(rules), chart.ranges_beyond,
        _("Range of each part by person, with the limit %(range_upper)s; %(n)d beyond it.") % {
            **shown, "n": len(chart.ranges_beyond)}, comma, width,
    )  # fmt: skip
    return averages, ranges


def _typed(cell: Sequence[str]) -> tuple[str, ...]:
    return tuple(signed(Decimal(value)) for value in cell)
