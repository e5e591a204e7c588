"""The standards check: every printed value recomputed. Floor: the printed tables read, nothing worked out."""

from __future__ import annotations

import csv
from pathlib import Path

from django.conf import settings

from shop.boards import standards_check
from tests.benchmarks.measuring import Case, Room


def _read(_given: object) -> int:
    rows = 0
    for path in sorted((Path(settings.BASE_DIR) / "fixtures" / "printed").glob("*.csv")):
        lines = [line for line in path.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
        rows += sum(1 for _row in csv.reader(lines))
    return rows


ROOM = Room(
    "Standards",
    (Case("every printed value recomputed", lambda: None, lambda _: standards_check.run(), "the tables read", _read),),
)
