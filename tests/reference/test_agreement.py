"""Kappas: what the tables of print themselves say; each printed answer is one row of the standards check."""

from __future__ import annotations

from shop.boards.checks import uncertainty
from shop.boards.standards_check import every_check
from tests.reference.printed import printed


def test_every_printed_kappa_is_a_row_of_the_standards_check() -> None:
    rows = [check for check in every_check() if check.table == "kappa_answers"]
    assert len(rows) == len(printed("kappa_answers").rows)
    assert {check.area for check in rows} == {uncertainty.AREA}
    assert all(check.tolerance <= 0.05 and "from memory" in check.note for check in rows)


def test_table_of_fleiss_has_its_printed_totals() -> None:
    table = printed("fleiss_1971")
    names = [name for name in table.rows[0] if name != "patient"]
    assert [sum(table.column(name)) for name in names] == [26, 26, 30, 55, 43]
    assert all(sum(int(row[name]) for name in names) == 6 for row in table.rows)
