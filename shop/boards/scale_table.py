"""A published table as the pages draw it: columns, cells of one kind or several, sources."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shop.standards.source import Source
from shop.units import Quantity


@dataclass(frozen=True)
class Column:
    """The head of a column; figures stand to the right."""

    name: Any
    number: bool = False


@dataclass(frozen=True)
class Lay:
    """A cell with the drawn lay of a finish before its words."""

    how_made: str
    grade: str
    words: str


@dataclass(frozen=True)
class Table:
    """Columns, rows of cells, and where the values are from. A cell is a quantity, words, a lay or several of them."""

    columns: Sequence[Column]
    rows: Sequence[Sequence[Any]]
    sources: Sequence[Source]
    note: Any = ""
    wide: bool = False

    @property
    def lines(self) -> list[list[tuple[Column, Any]]]:
        """Return the rows, each cell with its column."""
        return [list(zip(self.columns, row, strict=True)) for row in self.rows]


def um(value: float) -> Quantity:
    """Return micrometres."""
    return Quantity(Decimal(str(value)), "um")


def span(low: float, high: float, unit: str) -> tuple[Any, ...]:
    """Return a range as a cell."""
    return Quantity(Decimal(str(low)), unit), "–", Quantity(Decimal(str(high)), unit)
