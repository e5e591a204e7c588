"""The columns as tables for the README, from the same table that reads the files."""

from __future__ import annotations

from collections.abc import Sequence

from shop.bring.columns import FILES
from shop.bring.sheet import Column


def as_markdown() -> str:
    """Return a table for each file, in English, as the README holds them."""
    return "\n".join(f"### `{kind}.csv`\n\n{_table(columns)}" for kind, columns in FILES.items())


def _table(columns: Sequence[Column]) -> str:
    rows = ["| Column | Must | Means |", "| --- | --- | --- |"]
    rows += [f"| {_names(column)} | {'yes' if column.must else ''} | {_plain(column.means)} |" for column in columns]
    return "\n".join(rows) + "\n"


def _names(column: Column) -> str:
    return " or ".join(f"`{name}`" for name in (column.name, *column.also))


def _plain(text: str) -> str:
    return str(text).replace("|", "\\|")
