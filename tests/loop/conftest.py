"""A satin face in a press: gloss on the part to be proven, roughness on the steel to be passed at the bench."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

import pytest

from shop.people.models import Person
from shop.tooling.services.spec_checks import LimitDraft
from tests.factories import specify
from tests.measuring import Shop, open_shop


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    made = open_shop(lead, press_tech, inspector, at, cavities=2, spares=1)
    limits = [
        LimitDraft("gloss", "part", Decimal(2), Decimal(4), "GU", geometry_deg=60),
        LimitDraft("Ra", "steel", Decimal("0.4"), Decimal("1.4"), "um"),
    ]
    for face in made.built.faces.values():
        specify(face, lead, at, limits, how_made="blasted", tolerance_rule="Tmax")
    return made
