"""A shop with one tool of one face."""

from __future__ import annotations

from datetime import datetime

import pytest

from shop.people.models import Person
from tests.factories import satin
from tests.measuring import Shop, open_shop


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """One tool of one face without a spec."""
    return open_shop(lead, press_tech, inspector, at)


@pytest.fixture
def satin_shop(shop: Shop) -> Shop:
    """The face is satin: 2.0 to 4.0 GU at 60 degrees on the part, guarded."""
    satin(shop.face, shop.lead, shop.start)
    return shop
