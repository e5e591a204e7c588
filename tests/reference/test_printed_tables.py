"""Every printed table says where it is from and how far it can be trusted."""

from __future__ import annotations

import math

import pytest

from shop.standards.source import Standing
from tests.reference.printed import printed, table_names

TABLES = table_names()


def test_there_are_printed_tables() -> None:
    assert len(TABLES) >= 20


@pytest.mark.parametrize("name", TABLES)
def test_printed_table_names_its_source_edition_and_standing(name: str) -> None:
    table = printed(name)
    assert table.source
    assert table.edition
    assert table.standing in set(Standing)
    assert table.rows


@pytest.mark.parametrize("name", TABLES)
def test_printed_table_has_full_rows(name: str) -> None:
    table = printed(name)
    for row in table.rows:
        assert None not in row, row
        assert None not in row.values(), row
        for value in row.values():
            assert value.lower() not in {"nan", "inf"} or not math.isfinite(float(value))


def test_answers_from_memory_are_named_so() -> None:
    assert "from memory" in printed("laser_lives").note
