"""Uncertainty budgets and offsets against print; source and what is from memory stand in the tables."""

from __future__ import annotations

import pytest

from shop.standards.budget import Contribution, combine, coverage_factor
from shop.standards.offset import paired_offset
from tests.reference.printed import printed


# JCGM 100:2008 (GUM) H.1 and G.4.1; published, from memory.
@pytest.mark.parametrize(
    "row", printed("gum_budget_answers").rows, ids=lambda row: f"{row['example']} {row['quantity']}"
)
def test_budget_agrees_with_the_gum(row: dict[str, str]) -> None:
    parts = [
        Contribution(part["component"], float(part["uncertainty"]), df=float(part["df"]))
        for part in printed(row["example"]).rows
    ]
    found = getattr(combine(0.0, parts, float(row["confidence"])), row["quantity"])
    if row["example"] == "gum_end_gauge" and row["quantity"] == "effective_df":
        assert found == pytest.approx(float(row["printed"]), abs=0.1)
    else:
        assert round(found, len(row["printed"].partition(".")[2])) == float(row["printed"])


def test_expanded_uncertainty_of_the_end_gauge_agrees_with_the_gum() -> None:
    parts = [
        Contribution(part["component"], float(part["uncertainty"]), df=float(part["df"]))
        for part in printed("gum_end_gauge").rows
    ]
    found = combine(50_000_838.0, parts, 0.99)
    # Printed 93 nm is 2.92 x the combined one rounded to 32 nm; unrounded it is 92.5 nm.
    assert round(found.coverage_k * round(found.combined)) == 93
    assert found.expanded == pytest.approx(93, abs=0.6)


# GUM table G.2; published, from memory.
@pytest.mark.parametrize("row", printed("gum_student").rows, ids=lambda row: row["df"])
@pytest.mark.parametrize(("column", "confidence"), [("t95", 0.95), ("t99", 0.99)])
def test_coverage_factor_agrees_with_the_gum(row: dict[str, str], column: str, confidence: float) -> None:
    found = coverage_factor(float(row["df"]), confidence)
    assert round(found, len(row[column].partition(".")[2])) == float(row[column])


# Bland and Altman (1986); published, from memory.
@pytest.mark.parametrize("row", printed("bland_altman_1986_answers").rows, ids=lambda row: row["quantity"])
def test_offset_agrees_with_print(row: dict[str, str]) -> None:
    table = printed("bland_altman_1986")
    found = paired_offset(table.column("large"), table.column("mini"))
    # They compute the limits and the interval from the rounded mean and s.
    at_two = {"limit at 2 s below": -2.1 - 2 * round(found.sd, 1), "limit at 2 s above": -2.1 + 2 * round(found.sd, 1)}
    own = at_two.get(row["quantity"], getattr(found, row["quantity"], None))
    assert own is not None
    assert own == pytest.approx(float(row["printed"]), abs=0.1 if row["quantity"] in ("lower", "upper") else 0.05)
