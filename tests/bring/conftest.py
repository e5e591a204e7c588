"""A plant that has a gauge, and a hand that brings files into it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop.bring.answer import Brought
from shop.bring.service import bring
from shop.people.models import Person
from shop.quality.services import gauges


@pytest.fixture
def later(at: datetime) -> datetime:
    """A month after everything in the files."""
    return at + timedelta(days=30)


@pytest.fixture
def brings(lead: Person, inspector: Person, at: datetime, later: datetime) -> Callable[..., Brought]:
    """Bring a file as the lead, new names included; a stylus G-1 in date is there."""
    gauge = gauges.add_gauge(
        plant=lead.plant, number="G-1", kind="stylus", resolution=Decimal("0.001"), by=inspector, at=at
    )
    gauges.calibrate(
        gauge=gauge,
        due_on=later.date(),
        expanded_a=Decimal("0.002"),
        by=inspector,
        at=at - timedelta(days=10),
    )

    def bringing(kind: str, text: str, **more: Any) -> Brought:
        return bring(kind, text.encode(), plant=lead.plant, by=lead, at=later, **{"new_names": True, **more})

    return bringing
