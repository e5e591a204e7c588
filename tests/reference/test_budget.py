"""Uncertainty budgets and offsets: each printed answer is one row of the standards check, and how far it may differ."""

from __future__ import annotations

import pytest

from shop.boards.checks.check import half_digit
from shop.boards.standards_check import every_check
from shop.standards.budget import Contribution, combine
from tests.reference.printed import printed

WIDER = {("gum_budget_answers", "effective df"): 0.1, ("bland_altman_1986_answers", "lower"): 0.1,
         ("bland_altman_1986_answers", "upper"): 0.1}  # fmt: skip


@pytest.mark.parametrize("table", ["gum_budget_answers", "gum_student", "bland_altman_1986_answers"])
def test_every_printed_answer_is_a_row_of_the_standards_check(table: str) -> None:
    rows = [check for check in every_check() if check.table == table]
    assert len(rows) == len(printed(table).rows) * (2 if table == "gum_student" else 1)
    assert all("from memory" in check.note for check in rows)


def test_only_what_print_rounded_on_the_way_may_differ_by_more_than_half_a_digit() -> None:
    wider = {
        (check.table, check.what): check.tolerance
        for table in ("gum_budget_answers", "bland_altman_1986_answers", "kappa_answers")
        for check, row in zip([one for one in every_check() if one.table == table], printed(table).rows, strict=True)
        if check.tolerance > half_digit(row["printed"]) * (1 + 1e-9)
    }
    assert wider == WIDER


def test_expanded_uncertainty_of_the_end_gauge_agrees_with_the_gum() -> None:
    parts = [
        Contribution(part["component"], float(part["uncertainty"]), df=float(part["df"]))
        for part in printed("gum_end_gauge").rows
    ]
    found = combine(50_000_838.0, parts, 0.99)
    # Printed 93 nm is 2.92 x the combined one rounded to 32 nm; unrounded it is 92.5 nm.
    assert round(found.coverage_k * round(found.combined)) == 93
    assert found.expanded == pytest.approx(93, abs=0.6)
