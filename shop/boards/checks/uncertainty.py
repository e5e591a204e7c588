"""Uncertainty budgets, coverage factors, the offset of two gauges and agreement by eye, against what is printed."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import cache, partial

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards.budget import Budget, Contribution, combine, coverage_factor
from shop.standards.kappa import Kappa, cohen_kappa, fleiss_kappa
from shop.standards.offset import PairedOffset, paired_offset

AREA = "uncertainty and agreement"
# Worked from the components as they are printed, which are rounded themselves.
DEGREES_FROM_ROUNDED = 0.1
# The paper takes its limits and its interval from a mean and a deviation that it has rounded.
FROM_ROUNDED = {"lower": 0.1, "upper": 0.1}
AT_TWO = {"limit at 2 s below": -2, "limit at 2 s above": 2}
FLEISS = "fleiss_1971"


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of this area."""
    yield from _budgets(Table(AREA, tables["gum_budget_answers"]), tables)
    yield from _student(Table(AREA, tables["gum_student"]))
    yield from _offset(Table(AREA, tables["bland_altman_1986_answers"]), tables["bland_altman_1986"])
    yield from _kappas(Table(AREA, tables["kappa_answers"]), tables)


def _budgets(table: Table, tables: Mapping[str, Printed]) -> Iterator[Check]:
    for row in table.printed.rows:
        budget = partial(_budget, tables[row["example"]], float(row["confidence"]))
        rounded = (row["example"], row["quantity"]) == ("gum_end_gauge", "effective_df")
        yield table.check(
            row["example"].replace("_", " "), row["quantity"].replace("_", " "), row["printed"],
            of(budget, at=row["quantity"]), tolerance=DEGREES_FROM_ROUNDED if rounded else None,
        )  # fmt: skip


def _budget(data: Printed, confidence: float) -> Budget:
    parts = [Contribution(row["component"], float(row["uncertainty"]), df=float(row["df"])) for row in data.rows]
    return combine(0.0, parts, confidence)


def _student(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        for column, confidence in (("t95", 0.95), ("t99", 0.99)):
            yield table.check(f"{row['df']} degrees of freedom", column, row[column],
                              of(coverage_factor, float(row["df"]), confidence))  # fmt: skip


def _offset(table: Table, data: Printed) -> Iterator[Check]:
    found = cache(partial(paired_offset, data.column("large"), data.column("mini")))
    for row in table.printed.rows:
        name = row["quantity"]
        compute = of(_limit_at_two, found, AT_TWO[name]) if name in AT_TWO else of(found, at=name)
        yield table.check("peak flow, two meters", name.replace("_", " "), row["printed"], compute, "l/min",
                          tolerance=FROM_ROUNDED.get(name, 0.05))  # fmt: skip


def _limit_at_two(found: Callable[[], PairedOffset], times: int) -> float:
    own = found()
    return round(own.offset, 1) + times * round(own.sd, 1)


def _kappas(table: Table, tables: Mapping[str, Printed]) -> Iterator[Check]:
    fleiss = cache(partial(_fleiss, tables[FLEISS]))
    cohen = cache(partial(_cohen, tables["kappa_tables"]))
    for row in table.printed.rows:
        study = fleiss if row["example"] == FLEISS else partial(cohen, row["example"], row["weights"])
        weights = "" if row["weights"] == "none" else f", {row['weights']} weights"
        yield table.check(
            f"{row['example'].replace('_', ' ')}{weights}", row["quantity"].replace("_", " "), row["printed"],
            of(_kappa_of, study, row["quantity"]),
        )  # fmt: skip


def _fleiss(data: Printed) -> Kappa:
    names = [name for name in data.rows[0] if name != "patient"]
    ratings = [[name for name in names for _ in range(int(row[name]))] for row in data.rows]
    return fleiss_kappa(ratings, categories=names)


def _cohen(data: Printed, example: str, weights: str) -> Kappa:
    cells = [row for row in data.rows if row["example"] == example]
    pairs = [(row["first"], row["second"]) for row in cells for _ in range(int(row["count"]))]
    names = sorted({row["first"] for row in cells})
    return cohen_kappa([one for one, _ in pairs], [other for _, other in pairs], categories=names, weights=weights)


def _kappa_of(study: Callable[[], Kappa], quantity: str) -> float:
    own = study()
    found = getattr(own, quantity) if hasattr(own, quantity) else dict(own.categories)[quantity]
    return float(found or 0)
