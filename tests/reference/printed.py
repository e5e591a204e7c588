"""Read the tables of numbers that standards and handbooks print."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

FOLDER = Path(__file__).resolve().parents[2] / "fixtures" / "printed"


@dataclass(frozen=True)
class Printed:
    """A printed table with its source and standing; rows as text, so that every printed digit is kept."""

    name: str
    source: str
    standing: str
    note: str
    rows: list[dict[str, str]]

    def column(self, name: str) -> list[float]:
        """Return a column as numbers."""
        return [float(row[name]) for row in self.rows]


def printed(name: str) -> Printed:
    """Return one table of fixtures/printed by its name."""
    lines = (FOLDER / f"{name}.csv").read_text(encoding="utf-8").splitlines()
    said = dict(line[2:].split(": ", 1) for line in lines if line.startswith("# "))
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return Printed(name, said.get("source", ""), said.get("standing", ""), said.get("note", ""), rows)
