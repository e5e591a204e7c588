"""People at the bench, and stoned faces with a limit of Ra on the steel and of gloss on the part."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest

from shop.people.models import Person
from shop.tooling.services.spec_checks import LimitDraft
from tests.bench.orders import Hands
from tests.factories import Built, build_tool, specify

LIMITS = [
    LimitDraft("Ra", "steel", None, Decimal("0.6"), "um"),
    LimitDraft("gloss", "part", Decimal(2), Decimal(4), "GU", geometry_deg=60),
]


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    """A tool of two cavities and a spare, each with one stoned face."""
    began = at - timedelta(days=30)
    made = build_tool(lead, began, cavities=2, spares=1)
    for face in made.faces.values():
        specify(face, lead, began, LIMITS, acceptance="simple")
    return made
