"""Kappas against print; source and what is from memory stand in the tables."""

from __future__ import annotations

from functools import cache

import pytest

from shop.standards.kappa import Kappa, cohen_kappa, fleiss_kappa
from tests.reference.printed import printed


@cache
def fleiss() -> Kappa:
    rows = printed("fleiss_1971").rows
    names = [name for name in rows[0] if name != "patient"]
    return fleiss_kappa([[name for name in names for _ in range(int(row[name]))] for row in rows], categories=names)


@cache
def cohen(example: str, weights: str) -> Kappa:
    cells = [row for row in printed("kappa_tables").rows if row["example"] == example]
    pairs = [(row["first"], row["second"]) for row in cells for _ in range(int(row["count"]))]
    names = sorted({row["first"] for row in cells})
    return cohen_kappa([one for one, _ in pairs], [other for _, other in pairs], categories=names, weights=weights)


# Fleiss (1971, 1979, 1981), AIAG MSA; published, from memory.
@pytest.mark.parametrize("row", printed("kappa_answers").rows, ids=lambda row: " ".join(list(row.values())[:3]))
def test_kappa_agrees_with_print(row: dict[str, str]) -> None:
    own = fleiss() if row["example"] == "fleiss_1971" else cohen(row["example"], row["weights"])
    found = getattr(own, row["quantity"]) if hasattr(own, row["quantity"]) else dict(own.categories)[row["quantity"]]
    assert round(found, len(row["printed"].partition(".")[2])) == float(row["printed"])


def test_table_of_fleiss_has_its_printed_totals() -> None:
    table = printed("fleiss_1971")
    names = [name for name in table.rows[0] if name != "patient"]
    assert [sum(table.column(name)) for name in names] == [26, 26, 30, 55, 43]
    assert all(sum(int(row[name]) for name in names) == 6 for row in table.rows)
