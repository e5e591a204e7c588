"""Lives that ended, still run, or ended between two looks."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from functools import cache

from shop.boards.checks.check import Check, Table, of
from shop.boards.checks.wear import LIVES
from shop.boards.printed import Printed
from shop.drift.lives import (
    KaplanMeier,
    Weibull,
    kaplan_meier,
    lives,
    log_rank,
    ratio_of_lives,
    weibull,
    weibull_interval,
)

# Printed searches that stopped short of the peak, as the tables' notes say.
_SCALE_STOPPED, _BOUND_STOPPED = 5e-4, 1.5
_EXPONENTIAL = 1.0
_THOUSAND = 1000.0
Ended = tuple[list[float], list[bool]]


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of this area."""
    yield from _nist(Table(LIVES, tables["nist_lives_answers"]), tables)
    fans = Table(LIVES, tables["nelson_fan_answers"])
    for row in fans.printed.rows:
        found = of(_fans, tables["nelson_fan"], row["quantity"])
        yield fans.check("generator fans", row["quantity"], row["printed"], found)
    yield from _meeker(Table(LIVES, tables["meeker_lives_answers"]), tables)
    yield from _two_arms(Table(LIVES, tables["remission_answers"]), tables["remission"])


def _ended(data: Printed) -> Ended:
    """Return each life of a table with counts, and whether it has ended."""
    times: list[float] = []
    observed: list[bool] = []
    for row in data.rows:
        times += [float(row["hours"])] * int(row["count"])
        observed += [row["failed"] == "1"] * int(row["count"])
    return times, observed


def _nist(table: Table, tables: Mapping[str, Printed]) -> Iterator[Check]:
    @cache
    def law() -> Weibull:
        return weibull(*_ended(tables["nist_weibull"]))

    @cache
    def curve() -> KaplanMeier:
        return kaplan_meier(*_ended(tables["nist_kaplan_meier"]))

    quantities: dict[str, Callable[[], float]] = {
        "scale": lambda: law().scale,
        "shape": lambda: law().shape,
        "log likelihood": lambda: law().log_likelihood,
        "mean": lambda: law().mean().estimate,
        "standard deviation": lambda: _spread(law()),
    }
    for row in table.printed.rows:
        quantity = row["quantity"]
        found = of(quantities[quantity]) if quantity in quantities else of(_outlasting, curve, quantity)
        near = _SCALE_STOPPED if quantity == "scale" else None
        yield table.check(row["dataset"].replace("_", " "), quantity, row["printed"], found, tolerance=near)


def _spread(law: Weibull) -> float:
    return law.scale * math.sqrt(math.gamma(1 + 2 / law.shape) - math.gamma(1 + 1 / law.shape) ** 2)


def _outlasting(curve: Callable[[], KaplanMeier], quantity: str) -> float:
    return curve().survival_at(float(quantity.split()[-1])) or 0.0


def _fans(data: Printed, quantity: str) -> float:
    law = weibull(*_ended(data))
    return law.scale / _THOUSAND if quantity == "scale" else law.shape


def _meeker(table: Table, tables: Mapping[str, Printed]) -> Iterator[Check]:
    @cache
    def cages() -> Weibull:
        return weibull(*_ended(tables["bearing_cage"]))

    @cache
    def spans() -> Weibull:
        rows = [row for row in tables["interval_lives"].rows for _ in range(int(row["count"]))]
        return weibull_interval([float(r["lower"]) for r in rows], [float(r["upper"]) for r in rows], _EXPONENTIAL)

    quantities: dict[str, Callable[[], float]] = {
        "shape": lambda: cages().shape,
        "scale": lambda: cages().scale,
        "10 % life": lambda: cages().quantile(0.1).estimate,
        "10 % life at least": lambda: cages().quantile(0.1).lower,
        "10 % life at most": lambda: cages().quantile(0.1).upper,
        "mean": lambda: spans().mean().estimate,
        "standard error": lambda: spans().se_scale,
        "mean at least": lambda: spans().mean().lower,
        "mean at most": lambda: spans().mean().upper,
    }
    for row in table.printed.rows:
        near = _BOUND_STOPPED if row["quantity"] == "10 % life at least" else None
        found = of(quantities[row["quantity"]])
        yield table.check(row["dataset"].replace("_", " "), row["quantity"], row["printed"], found, tolerance=near)


def _two_arms(table: Table, data: Printed) -> Iterator[Check]:
    arms: dict[str, Ended] = {"control": ([], []), "treated": ([], [])}
    for row in data.rows:
        arms[row["arm"]][0].append(float(row["weeks"]))
        arms[row["arm"]][1].append(row["ended"] == "1")
    control, treated = arms["control"], arms["treated"]

    @cache
    def together() -> tuple[float, float]:
        found = ratio_of_lives(lives(*control), lives(*treated))
        return math.log(found.ratio), found.shape

    quantities: dict[str, Callable[[], float]] = {
        "log-rank chi-square": lambda: log_rank(*control, *treated).chi_square,
        "expected control": lambda: log_rank(*control, *treated).expected[0],
        "expected treated": lambda: log_rank(*control, *treated).expected[1],
        "log of the ratio of lives": lambda: together()[0],
        "common shape": lambda: together()[1],
        "median control": lambda: kaplan_meier(*control).median()[0] or 0.0,
        "median treated": lambda: kaplan_meier(*treated).median()[0] or 0.0,
    }
    for row in table.printed.rows:
        quantity = row["quantity"]
        found = of(quantities[quantity]) if quantity in quantities else of(_of_curve, treated, quantity)
        yield table.check("remission", quantity, row["printed"], found)


def _of_curve(arm: Ended, quantity: str) -> float:
    curve = kaplan_meier(*arm)
    place = curve.times.tolist().index(float(quantity.split()[-1]))
    return float((curve.survival if quantity.startswith("survival") else curve.standard_error)[place])
