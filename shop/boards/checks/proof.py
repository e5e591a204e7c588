"""Conformity: what a value with its uncertainty proves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping

from scipy.optimize import brentq

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards import conformity, risks

AREA = "conformity"


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of this area."""
    yield from _chances(Table(AREA, tables["jcgm106_conformity"]))
    yield from _risks(Table(AREA, tables["jcgm106_risks"]))
    yield from _guard(Table(AREA, tables["iso14253_guard"]))


def _chances(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        lower, upper = (float(row[side]) if row[side] else None for side in ("lower", "upper"))
        chance = of(conformity.conformance_probability, float(row["value"]), float(row["u"]), lower, upper)
        yield table.check(row["example"], "chance to conform, as printed", row["printed"], chance)
        yield table.check(
            row["example"], "chance to conform, further digits", row["recomputed"], chance, tolerance=6e-8
        )


def _risks(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        numbers = {name: float(value) for name, value in row.items() if name != "risk"}
        risk = of(_risk, row["risk"], numbers)
        yield table.check(f"resistors, {row['risk']}", "risk, as printed", row["printed"], risk)
        yield table.check(f"resistors, {row['risk']}", "risk, further digits", row["recomputed"], risk)


def _risk(which: str, n: Mapping[str, float]) -> float:
    tolerance, accepted = (n["lower"], n["upper"]), (n["accept_lower"], n["accept_upper"])
    return float(getattr(risks.global_risks(n["mean"], n["u0"], n["um"], tolerance, accepted), which))


def _guard(table: Table) -> Iterator[Check]:
    guard, enough, provable = table.printed.rows
    for row, compute in ((guard, _guard_factor), (enough, _enough_from), (provable, _provable_from)):
        # The standard rounds 1.645 up to 1.65, to stay on the safe side, and so both of its ratios.
        yield table.check(row["what"], "at 95 %", row["value"], of(_rounded_up, compute), "u")


def _rounded_up(compute: Callable[[], float]) -> float:
    return math.ceil(compute() * 100) / 100


def _guard_factor() -> float:
    """Return the guard of one limit in u."""
    return conformity.guard_factor(0.95)


def _enough_from() -> float:
    """Return the width of two limits, in u, from which the rounded guard of one still proves 95 %."""
    return float(brentq(_missing, 3.0, 10.0, args=(_rounded_up(_guard_factor),), xtol=1e-12))


def _provable_from() -> float:
    """Return the width of two limits, in u, at which their middle is just proven."""
    return float(brentq(_missing, 1.0, 10.0, args=(None,), xtol=1e-12))


def _missing(width: float, guard: float | None) -> float:
    """Return the chance to conform less the 95 % asked for, at a guard from the upper of two limits or midway."""
    value = width / 2 if guard is None else width - guard
    return conformity.conformance_probability(value, 1.0, 0.0, width) - 0.95
