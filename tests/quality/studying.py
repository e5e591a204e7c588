"""Gauges and tables for the tests of studies."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from shop.boards.printed import printed
from shop.people.models import Person
from shop.quality.models import Gauge, GaugeStudy
from shop.quality.services.gauges import add_gauge
from shop.quality.services.studies import enter_gauge_study


def stylus(by: Person, at: datetime, number: str = "RT-1", **fields: Any) -> Gauge:
    """Add a stylus gauge; of another kind where the fields say so."""
    given: dict[str, Any] = {"plant": by.plant, "number": number, "kind": "stylus", "resolution": Decimal("0.01")}
    return add_gauge(**{**given, "by": by, "at": at, **fields})


def handbook() -> tuple[list[str], list[str], list[list[list[str]]]]:
    """Return parts, people and values[part][person][trial] of the printed example."""
    found = {(row["part"], row["person"], row["trial"]): row["value"] for row in printed("gauge_study").rows}
    parts = sorted({key[0] for key in found}, key=int)
    people, trials = (sorted({key[place] for key in found}) for place in (1, 2))
    return parts, people, [[[found[a, b, c] for c in trials] for b in people] for a in parts]


def study_of(gauge: Gauge, by: Person, at: datetime, **fields: Any) -> GaugeStudy:
    """Enter the printed example as a study of Ra, unless the fields say otherwise."""
    parts, people, values = handbook()
    given: dict[str, Any] = {
        "gauge": gauge, "parameter": "Ra", "unit": "um", "people": people, "parts": parts,
        "values": [[[Decimal(one) for one in cell] for cell in row] for row in values], "by": by, "at": at,
    }  # fmt: skip
    return enter_gauge_study(**{**given, **fields})
