"""Straight lines against certified and printed answers."""

from __future__ import annotations

import math

import pytest

from shop.drift.bulk import fit_lines, shots_at
from shop.drift.crossing import crossing
from shop.drift.trend import Line, fit_line
from tests.reference.printed import printed

CERTIFIED = {(row["dataset"], row["parameter"]): row for row in printed("nist_certified").rows}


def digits(found: float, certified: float) -> float:
    """Return how many digits agree: the log relative error, at most 15."""
    return 15.0 if found == certified else min(15.0, -math.log10(abs(found - certified) / abs(certified)))


def nist(name: str, **how: bool) -> Line:
    table = printed(f"nist_{name}")
    return fit_line(table.column("x"), table.column("y"), **how)


# NIST StRD asks 9 digits of good software; published.
@pytest.mark.parametrize(
    ("dataset", "parameter", "field", "origin", "column"),
    [
        ("norris", "B0", "intercept", False, "estimate"),
        ("norris", "B0", "se_intercept", False, "std_err"),
        ("norris", "B1", "slope", False, "estimate"),
        ("norris", "B1", "se_slope", False, "std_err"),
        ("norris", "B1", "residual_sd", False, "resid_sd"),
        ("noint1", "B1", "slope", True, "estimate"),
        ("noint1", "B1", "se_slope", True, "std_err"),
        ("noint1", "B1", "residual_sd", True, "resid_sd"),
    ],
)
def test_line_agrees_with_nist_to_eleven_digits(
    dataset: str, parameter: str, field: str, origin: bool, column: str
) -> None:
    line = nist(dataset, through_origin=origin)
    assert digits(getattr(line, field), float(CERTIFIED[dataset, parameter][column])) > 11


def test_line_of_norris_has_the_certified_r_squared() -> None:
    table, line = printed("nist_norris"), nist("norris")
    y = table.column("y")
    mean = math.fsum(y) / len(y)
    assert line.residual_sd is not None
    r2 = 1 - line.residual_sd**2 * line.df / math.fsum((v - mean) ** 2 for v in y)
    assert digits(r2, float(CERTIFIED["norris", "B1"]["r2"])) > 12


def test_line_of_noint1_begins_at_zero_exactly() -> None:
    line = nist("noint1", through_origin=True)
    assert (line.intercept, line.se_intercept) == (0.0, 0.0)


def test_bulk_lines_agree_with_nist() -> None:
    table = printed("nist_norris")
    lines = fit_lines(table.column("x"), table.column("y"), [0, len(table.rows)])
    for field, parameter, column in [
        ("intercept", "B0", "estimate"),
        ("slope", "B1", "estimate"),
        ("se_intercept", "B0", "std_err"),
        ("se_slope", "B1", "std_err"),
        ("residual_sd", "B1", "resid_sd"),
    ]:
        assert digits(float(getattr(lines, field)[0]), float(CERTIFIED["norris", parameter][column])) > 9, field


# JCGM 100:2008 (GUM) H.3; published, to the decimals printed.
@pytest.mark.parametrize("row", printed("gum_thermometer_answers").rows, ids=lambda row: row["quantity"])
def test_line_agrees_with_the_gum_thermometer(row: dict[str, str]) -> None:
    table = printed("gum_thermometer")
    line = fit_line([t - 20 for t in table.column("t")], table.column("b"))
    mean, error = line.predict(10.0)
    found = {"b(30)": mean, "u(b(30))": error}.get(row["quantity"], getattr(line, row["quantity"], None))
    assert found is not None
    assert round(found, int(row["decimals"])) == pytest.approx(float(row["printed"]), abs=1e-12)


# Graybill and Iyer (1994) p. 431; published. Their bounds are for one new observation, ours for the true mean; both are
# Fieller's with another constant term, so ours are checked by Fieller's equation and theirs by its own.
@pytest.mark.parametrize("row", printed("thermostat_answers").rows, ids=lambda row: row["level"])
def test_inverse_prediction_estimate_agrees_with_print(row: dict[str, str]) -> None:
    table = printed("thermostat")
    line = fit_line(table.column("x"), table.column("y"))
    at = crossing(line, float(row["level"]), "up").shots_at(0.5)
    assert at == pytest.approx(float(row["estimate"]), abs=0.05 if row["level"] == "100" else 0.0005)


def fieller(line: Line, level: float, t: float, extra: float) -> list[float]:
    """Return the roots of Fieller's equation, with the variance of `extra` new observations added."""
    assert line.residual_sd is not None
    k = (t * line.residual_sd) ** 2
    alpha = line.intercept + line.slope * line.mean_x - level
    a, b, c = line.slope**2 - k / line.sxx, 2 * alpha * line.slope, alpha**2 - k * (1 / line.n + extra)
    root = math.sqrt(b * b - 4 * a * c)
    return sorted(line.mean_x + (-b + sign * root) / (2 * a) for sign in (-1, 1))


@pytest.mark.parametrize("row", printed("thermostat_answers").rows, ids=lambda row: row["level"])
def test_fieller_bounds_of_one_observation_agree_with_print(row: dict[str, str]) -> None:
    from scipy.stats import t

    table = printed("thermostat")
    line = fit_line(table.column("x"), table.column("y"))
    factor = float(t.ppf((1 + float(row["confidence"])) / 2, line.df))
    found = fieller(line, float(row["level"]), factor, extra=1.0)
    decimals = len(row["lower"].split(".")[1])
    assert [round(x, decimals) for x in found] == [float(row["lower"]), float(row["upper"])]


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.9, 0.95, 0.99])
@pytest.mark.parametrize("level", [97.0, 100.0, 104.0, 109.0])
def test_shots_by_chance_are_fiellers_bounds_for_the_true_mean(level: float, confidence: float) -> None:
    from scipy.stats import t

    table = printed("thermostat")
    line = fit_line(table.column("x"), table.column("y"))
    face = crossing(line, level, "up")
    bounds = [face.shots_at((1 - confidence) / 2), face.shots_at((1 + confidence) / 2)]
    factor = float(t.ppf((1 + confidence) / 2, line.df))
    assert bounds == pytest.approx(fieller(line, level, factor, extra=0.0), rel=1e-11)


# Meeker and Escobar (1998) example 13.10; data published, lives from memory of the book.
LASERS = printed("laser_degradation")
LIVES = {row["unit"]: float(row["pseudo_failure_h"]) for row in printed("laser_lives").rows}


@pytest.mark.parametrize("unit", LIVES)
def test_laser_reaches_its_limit_at_the_printed_life(unit: str) -> None:
    own = [row for row in LASERS.rows if row["unit"] == unit]
    line = fit_line([float(row["hours"]) for row in own], [float(row["increase"]) for row in own])
    at = crossing(line, 10.0, "up").shots_at(0.5)
    assert at is not None
    assert round(at) == LIVES[unit]


def test_all_lasers_at_once_reach_their_printed_lives() -> None:
    units = [row["unit"] for row in LASERS.rows]
    offsets = [i for i, unit in enumerate(units) if i == 0 or unit != units[i - 1]] + [len(units)]
    lines = fit_lines(LASERS.column("hours"), LASERS.column("increase"), offsets)
    at = shots_at(lines, [10.0] * 15, [True] * 15, 0.5)
    assert [round(float(x)) for x in at] == list(LIVES.values())
