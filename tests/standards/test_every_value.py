"""No number of the standards package stands without its source, edition and standing."""

from __future__ import annotations

import ast
import importlib
import inspect
import pkgutil

import pytest

from shop.standards.source import Standing
from shop.standards.tables import TABLES, every_value, from_memory, of_standing

# Bounds of arithmetic and not values of the trade: a search range, a grain that counts as the same, a rounding.
NOT_OF_A_TABLE = {
    "abrasives": {"_DIAMOND_MAX_UM", "SAME_WITHIN", "GRAINS_FROM_MEMORY", "PASTES_OF_GRADES_UM"},
    "hardness": {"PRINTED_HRC"},
}
# Editions and marks beside a value, not values.
SOURCES = ("SOURCE", "SOURCES")


def numbers_in_tables(module: str) -> set[float]:
    """Return every number written in a module's tables."""
    found: set[float] = set()
    for node in ast.parse(inspect.getsource(importlib.import_module(f"shop.standards.{module}"))).body:
        targets = (
            node.targets if isinstance(node, ast.Assign) else [node.target] if isinstance(node, ast.AnnAssign) else []
        )
        names = [ast.unparse(target) for target in targets]
        if not names or not names[0].isupper() or names[0].endswith(SOURCES):
            continue
        if names[0] in NOT_OF_A_TABLE.get(module, set()):
            continue
        value = node.value  # type: ignore[union-attr]
        for inner in ast.walk(value) if value is not None else ():
            if isinstance(inner, ast.Constant) and type(inner.value) in (int, float):
                found.add(float(inner.value))
    return found


@pytest.mark.parametrize("module", TABLES)
def test_every_value_of_a_table_has_source_edition_and_standing(module: str) -> None:
    stated = TABLES[module]()
    assert stated
    for value in stated:
        assert value.table, value
        assert value.what, value
        assert value.source.title, value
        assert value.source.edition, value
        assert value.source.standing in set(Standing), value
        assert value.unit or isinstance(value.value, str), value


@pytest.mark.parametrize("module", TABLES)
def test_no_number_of_a_table_is_left_out_of_the_walk(module: str) -> None:
    written = numbers_in_tables(module)
    said = {float(value.value) for value in TABLES[module]() if not isinstance(value.value, str)}
    # Counts that only address a table (years of an edition, numbers of a grain, variants) are keys of it.
    keys = {float(word.strip("°#,")) for value in TABLES[module]() for word in f"{value.what} {value.value}".split()
            if word.strip("°#,").replace(".", "", 1).isdigit()}  # fmt: skip
    assert written - said - keys == set()


def test_walk_sees_the_numbers_of_a_table() -> None:
    assert {0.4, 45.0, 18.0, 7.0} <= numbers_in_tables("roughness")
    assert 697.0 in numbers_in_tables("hardness")


def test_what_is_from_memory_claims_no_more_than_common_practice() -> None:
    assert from_memory()
    assert {value.source.standing for value in from_memory()} == {Standing.COMMON}


def test_values_divide_by_standing() -> None:
    assert sum(len(of_standing(standing)) for standing in Standing) == len(every_value())
    assert {value.table for value in of_standing(Standing.CONFLICTING)} == {"grade Ra", "draft of texture"}


# Their numbers are arithmetic or belong to a file format; what they hold of the trade carries its own source.
ARITHMETIC = {
    "agreement", "budget", "kappa", "offset", "profile", "range_factors", "risks", "smd", "trace", "trace_header",
}  # fmt: skip


def test_every_module_with_a_table_is_walked() -> None:
    package = importlib.import_module("shop.standards")
    names = {found.name.split(".")[2] for found in pkgutil.walk_packages(package.__path__, "shop.standards.")}
    unwalked = {name for name in names - TABLES.keys() - ARITHMETIC if len(numbers_in_tables(name)) > 0}
    assert unwalked == set()
