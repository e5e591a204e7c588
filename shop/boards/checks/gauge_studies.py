"""Gauge studies: the handbook's worked example by both methods, and the factors they stand on."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache, partial

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards import msa, range_factors

AREA = "gauge studies"
# The printed factors carry three decimals, the last of them sometimes rounded twice.
ROUNDED_TWICE = 6e-4
# More ranges than the table of d2* distinguishes: K1 is taken from d2 itself.
MANY_RANGES = 30
_CHART = {"A2": "a2", "D3": "d3", "D4": "d4"}


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of this area."""
    yield from _study(Table(AREA, tables["gauge_study_answers"]), tables["gauge_study"])
    yield from _factors(Table(AREA, tables["range_factors"]))
    yield from _chart_factors(Table(AREA, tables["chart_constants"]))


def _study(table: Table, data: Printed) -> Iterator[Check]:
    studies = {method: cache(partial(_studied, data, method)) for method in ("range", "anova")}
    for row in table.printed.rows:
        yield table.check(
            f"worked example, {row['method']}", row["quantity"].replace("_", " "), row["printed"],
            of(_quantity, studies[row["method"]], row["quantity"]),
        )  # fmt: skip


def _studied(data: Printed, method: str) -> msa.GaugeStudy:
    found = {(row["part"], row["person"], row["trial"]): float(row["value"]) for row in data.rows}
    parts, people, trials = (sorted({key[place] for key in found}, key=_in_order) for place in range(3))
    return msa.gauge_study([[[found[a, b, c] for c in trials] for b in people] for a in parts], method)


def _in_order(label: str) -> tuple[int, str]:
    return (len(label), label)


def _quantity(study: Callable[[], msa.GaugeStudy], quantity: str) -> float:
    own = study()
    kind, _, name = quantity.partition("_")
    if own.anova and kind in ("ss", "f"):
        row = next(row for row in own.anova.table if row.source == name)
        return float(row.sum_of_squares if kind == "ss" else row.f or 0)
    if own.anova and kind == "var":
        return own.anova.component(name).variance
    return float(getattr(own if hasattr(own, quantity) else own.range_work, quantity))


def _factors(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        ranges = MANY_RANGES if row["factor"] == "K1" else 1
        yield table.check(f"{row['factor']} of {row['values']}", "factor", row["printed"],
                          of(_k, int(row["values"]), ranges))  # fmt: skip


def _k(values: int, ranges: int) -> float:
    return 1 / range_factors.d2_star(values, ranges)


def _chart_factors(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        n = int(row["n"])
        computed = {name: of(range_factors.chart_factors, n, at=field) for name, field in _CHART.items()}
        computed |= {"d2": of(range_factors.d2, n), "d3": of(range_factors.d3, n)}
        for name, compute in computed.items():
            yield table.check(f"groups of {n}", name, row[name], compute, tolerance=ROUNDED_TWICE)
