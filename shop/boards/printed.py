"""Read the tables of numbers that standards and handbooks print, from fixtures/printed."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings

FOLDER = Path(settings.BASE_DIR) / "fixtures" / "printed"


@dataclass(frozen=True)
class Printed:
    """A printed table with its source, edition and standing; rows as text, so that every printed digit is kept."""

    name: str
    source: str
    edition: str
    standing: str
    note: str
    rows: list[dict[str, str]]

    def column(self, name: str) -> list[float]:
        """Return a column as numbers."""
        return [float(row[name]) for row in self.rows]


def printed(name: str) -> Printed:
    """Return one table by its name."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    said = dict(line[2:].split(": ", 1) for line in lines if line.startswith("# ") and ": " in line)
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return Printed(
        name, said.get("source", ""), said.get("edition", ""), said.get("standing", ""), said.get("note", ""), rows
    )


def table_names() -> list[str]:
    """Return the names of all printed tables."""
    return sorted(path.stem for path in FOLDER.glob("*.csv"))


def every_table() -> dict[str, Printed]:
    """Return all printed tables by name."""
    return {name: printed(name) for name in table_names()}
