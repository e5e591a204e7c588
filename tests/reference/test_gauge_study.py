"""The handbook's gauge study, both methods, to every printed digit."""

from __future__ import annotations

from functools import cache

import pytest

from shop.standards.msa import GaugeStudy, gauge_study
from shop.standards.range_factors import chart_factors, d2, d2_star, d3
from tests.reference.printed import printed

ANSWERS = printed("gauge_study_answers").rows


def table() -> list[list[list[float]]]:
    values = [[[0.0] * 3 for _ in range(3)] for _ in range(10)]
    for row in printed("gauge_study").rows:
        values[int(row["part"]) - 1]["ABC".index(row["person"])][int(row["trial"]) - 1] = float(row["value"])
    return values


@cache
def study(method: str) -> GaugeStudy:
    return gauge_study(table(), method)


def found(method: str, quantity: str) -> float:
    own = study(method)
    kind, _, name = quantity.partition("_")
    if own.anova and kind == "ss":
        return next(row.sum_of_squares for row in own.anova.table if row.source == name)
    if own.anova and kind == "f":
        f = next(row.f for row in own.anova.table if row.source == name)
        assert f is not None
        return f
    if own.anova and kind == "var":
        return own.anova.component(name).variance
    return float(getattr(own if hasattr(own, quantity) else own.range_work, quantity))


# AIAG MSA, 4th ed.; published, rows from memory are named in the table's note.
@pytest.mark.parametrize("row", ANSWERS, ids=lambda row: f"{row['method']} {row['quantity']}")
def test_gauge_study_agrees_with_print_to_every_digit(row: dict[str, str]) -> None:
    decimals = len(row["printed"].partition(".")[2])
    assert round(found(row["method"], row["quantity"]), decimals) == float(row["printed"])


def test_rounding_of_the_form_is_all_that_parts_it_from_the_unrounded_study() -> None:
    form, full = study("range"), gauge_study(table(), "range", figures=None)
    for name in ("ev", "av", "grr", "pv", "tv", "percent_grr"):
        assert getattr(full, name) == pytest.approx(getattr(form, name), rel=1e-3)
    assert full.ndc == form.ndc


def test_handbook_study_is_conditional_by_both_methods() -> None:
    for method in ("range", "anova"):
        assert study(method).fitness.verdict == "conditional"
    assert study("range").fitness.enough_categories
    assert study("anova").fitness.enough_categories is False


# AIAG MSA, 4th ed.; published.
@pytest.mark.parametrize("row", printed("range_factors").rows, ids=lambda row: f"{row['factor']} of {row['values']}")
def test_range_factor_agrees_with_print(row: dict[str, str]) -> None:
    ranges = 30 if row["factor"] == "K1" else 1
    assert round(1 / d2_star(int(row["values"]), ranges), 4) == float(row["printed"])


# ASTM MNL 7; published to three decimals, the last of them sometimes rounded twice.
@pytest.mark.parametrize("row", printed("chart_constants").rows, ids=lambda row: row["n"])
@pytest.mark.parametrize("name", ["A2", "d2", "d3", "D3", "D4"])
def test_chart_factor_agrees_with_print(row: dict[str, str], name: str) -> None:
    n = int(row["n"])
    factors = chart_factors(n)
    own = {"A2": factors.a2, "d2": d2(n), "d3": d3(n), "D3": factors.d3, "D4": factors.d4}[name]
    assert own == pytest.approx(float(row[name]), abs=0.0006)
