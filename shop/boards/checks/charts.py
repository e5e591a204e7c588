"""Control charts and their run lengths."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.drift.charts import Cusum, Ewma, Individuals, cusum, ewma, individuals
from shop.drift.run_lengths import cusum_run_length, ewma_run_length, run_rules_run_length
from shop.drift.run_rules import (
    EIGHT_ON_ONE_SIDE,
    FOUR_OF_FIVE_BEYOND_ONE,
    ONE_BEYOND_THREE,
    TWO_OF_THREE_BEYOND_TWO,
    RunRule,
)

CHARTS, RUN_LENGTHS = "control charts", "run lengths"
_EWMA = {"target": 50.0, "sigma": 2.0539, "weight": 0.3, "width": 3.0}
_TARGET, _SIGMA, _ALLOWANCE, _LIMIT = 325.0, 0.635, 0.3175, 4.1959
_LIMITS_CUT = 1e-4
_EARLY_ROUNDING = 0.006
_DESIGNS = {"wide": (0.5, 3.071), "narrow": (0.03, 2.437)}
_SETS: dict[str, tuple[RunRule, ...]] = {
    "C1": (ONE_BEYOND_THREE,),
    "C12": (ONE_BEYOND_THREE, TWO_OF_THREE_BEYOND_TWO),
    "C13": (ONE_BEYOND_THREE, FOUR_OF_FIVE_BEYOND_ONE),
    "C14": (ONE_BEYOND_THREE, EIGHT_ON_ONE_SIDE),
}


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of these areas."""

    @cache
    def averaged() -> Ewma:
        return ewma(tables["nist_ewma"].column("x"), **_EWMA)

    @cache
    def summed() -> Cusum:
        return cusum(tables["nist_cusum"].column("x"), _TARGET, _SIGMA, _ALLOWANCE / _SIGMA, _LIMIT / _SIGMA)

    @cache
    def single() -> Individuals:
        return individuals(tables["nist_individuals"].column("x"))

    yield from _series(Table(CHARTS, tables["nist_ewma"]), {"ewma": lambda: averaged().statistic})
    yield from _series(
        Table(CHARTS, tables["nist_cusum"]), {"s_hi": lambda: summed().high, "s_lo": lambda: summed().low}
    )
    yield from _answers(Table(CHARTS, tables["nist_charts_answers"]), averaged, summed, single)
    yield from _averages(tables)


def _series(table: Table, series: Mapping[str, Callable[[], object]]) -> Iterator[Check]:
    for place, row in enumerate(table.printed.rows):
        label = f"value {place + 1}"
        for column, found in series.items():
            yield table.check(label, column.replace("_", " "), row[column], of(found, at=place))


def _answers(
    table: Table, averaged: Callable[[], Ewma], summed: Callable[[], Cusum], single: Callable[[], Individuals]
) -> Iterator[Check]:
    for row in table.printed.rows:
        dataset, quantity, near = row["dataset"], row["quantity"], None
        if dataset == "ewma":
            near = _LIMITS_CUT
            found = of(lambda side: getattr(averaged(), side)[-1], quantity)
        elif dataset == "cusum":
            found = of(lambda: summed().alarms[0] + 1)
        else:
            found = of(single, at=quantity)
        yield table.check(dataset, quantity, row["printed"], found, tolerance=near)


def _averages(tables: Mapping[str, Printed]) -> Iterator[Check]:
    table = Table(RUN_LENGTHS, tables["arl_ewma"])
    for row in table.printed.rows:
        for column, (weight, width) in _DESIGNS.items():
            what = f"EWMA of weight {weight} and width {width}"
            found = of(_steady, weight, width, float(row["mu"]))
            yield table.check(f"shift {row['mu']}", what, row[column], found, "readings")
    table = Table(RUN_LENGTHS, tables["arl_cusum"])
    for row in table.printed.rows:
        for column, ahead in (("plain", 0.0), ("head_start", 2.0)):
            found = of(cusum_run_length, 0.5, 4.0, float(row["mu"]), ahead)
            near = _EARLY_ROUNDING if row[column] == "1.32" else None
            what = f"CUSUM, {column.replace('_', ' ')}"
            yield table.check(f"shift {row['mu']}", what, row[column], found, "readings", tolerance=near)
    table = Table(RUN_LENGTHS, tables["arl_runs_rules"])
    for row in table.printed.rows:
        for column, rules in _SETS.items():
            found = of(run_rules_run_length, rules, float(row["mu"]))
            what = f"run rules {column}"
            yield table.check(f"shift {row['mu']}", what, row[column], found, "readings")


def _steady(weight: float, width: float, shift: float) -> float:
    return ewma_run_length(weight, width, shift, steady=True)
