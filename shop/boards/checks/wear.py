"""Straight-line fits, crossings and lives."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from functools import cache

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.drift.bulk import fit_lines
from shop.drift.crossing import crossing
from shop.drift.trend import Line, fit_line

LINES, CROSSINGS, LIVES = "straight-line fits", "crossings", "lives"
# NIST certifies 15 digits, and asks 9 of good software; ours must keep 11.
CERTIFIED_TO = 1e-11
BULK_TO = 1e-9
_LIMIT_PERCENT = 10.0


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of these areas."""
    yield from _certified(tables)
    yield from _thermometer(Table(LINES, tables["gum_thermometer_answers"]), tables["gum_thermometer"])
    yield from _thermostat(Table(CROSSINGS, tables["thermostat_answers"]), tables["thermostat"])
    yield from _lasers(Table(LIVES, tables["laser_lives"]), tables["laser_degradation"])


def _certified(tables: Mapping[str, Printed]) -> Iterator[Check]:
    table = Table(LINES, tables["nist_certified"])
    for row in table.printed.rows:
        name, data = row["dataset"], tables[f"nist_{row['dataset']}"]
        line = _line(data.column("x"), data.column("y"), through_origin=name == "noint1")
        label = f"{name} {row['parameter']}"
        field = "intercept" if row["parameter"] == "B0" else "slope"
        for what, column in ((field, "estimate"), (f"se_{field}", "std_err"), ("residual_sd", "resid_sd")):
            near = CERTIFIED_TO * abs(float(row[column]))
            yield table.check(label, what.replace("_", " "), row[column], of(line, at=what), tolerance=near)
            if name == "norris":
                yield table.check(
                    label,
                    f"{what.replace('_', ' ')}, many lines at once",
                    row[column],
                    _in_bulk(data, what),
                    tolerance=BULK_TO * abs(float(row[column])),
                )
        if row["parameter"] == "B1":
            y, origin = data.column("y"), name == "noint1"
            yield table.check(label, "R²", row["r2"], of(_r_squared, line, y, origin), tolerance=CERTIFIED_TO)


def _line(x: list[float], y: list[float], *, through_origin: bool = False) -> Callable[[], Line]:
    return cache(lambda: fit_line(x, y, through_origin=through_origin))


def _in_bulk(data: Printed, what: str) -> Callable[[], float]:
    def found() -> float:
        lines = fit_lines(data.column("x"), data.column("y"), [0, len(data.rows)])
        return float(getattr(lines, what)[0])

    return found


def _r_squared(fitted: Callable[[], Line], y: list[float], uncentred: bool) -> float:
    line = fitted()
    middle = 0.0 if uncentred else math.fsum(y) / len(y)
    left = float(line.residual_sd or 0) ** 2 * line.df
    return 1 - left / math.fsum((value - middle) ** 2 for value in y)


def _thermometer(table: Table, data: Printed) -> Iterator[Check]:
    line = _line([t - 20 for t in data.column("t")], data.column("b"))
    for row in table.printed.rows:
        quantity = row["quantity"]
        at_30 = {"b(30)": 0, "u(b(30))": 1}.get(quantity)
        found = of(line, at=quantity) if at_30 is None else of(_predicted, line, 10.0, at=at_30)
        yield table.check("thermometer", quantity, row["printed"], found)


def _predicted(line: Callable[[], Line], x: float) -> tuple[float, float]:
    mean, error = line().predict(x)
    return mean, math.nan if error is None else error


def _thermostat(table: Table, data: Printed) -> Iterator[Check]:
    line = _line(data.column("x"), data.column("y"))
    for row in table.printed.rows:
        yield table.check(
            f"level {row['level']}", "reached at", row["estimate"], of(_reached, line, float(row["level"]))
        )


def _lasers(table: Table, data: Printed) -> Iterator[Check]:
    for row in table.printed.rows:
        own = [each for each in data.rows if each["unit"] == row["unit"]]
        line = _line([float(each["hours"]) for each in own], [float(each["increase"]) for each in own])
        yield table.check(
            f"laser {row['unit']}", "life", row["pseudo_failure_h"], of(_reached, line, _LIMIT_PERCENT), "h"
        )


def _reached(line: Callable[[], Line], level: float) -> float:
    at = crossing(line(), level, "up").shots_at(0.5)
    return float("nan") if at is None else float(at)
