"""A shop whose satin face is shot and measured, and looked at as the loop looks."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime

import pytest

from shop.people.models import Person
from shop.tooling.models import Face
from shop.watch.models import Standing
from shop.watch.services import calls, trends
from shop.watch.services.calls import Looked
from tests.factories import satin
from tests.measuring import Shop, open_shop

Look = Callable[..., Looked]


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """One tool of one face without a spec."""
    return open_shop(lead, press_tech, inspector, at)


@pytest.fixture
def satin_shop(shop: Shop) -> Shop:
    """The face is satin: 2.0 to 4.0 GU at 60 degrees on the part, guarded."""
    satin(shop.face, shop.lead, shop.start)
    return shop


@pytest.fixture
def look(shop: Shop) -> Look:
    """Bring the face up to date and look at it, then bring it up to date with what was called."""

    def looked(days: float, *, in_work: Collection[int] = (), awaiting: Collection[int] = ()) -> Looked:
        faces = list(Face.objects.all())
        trends.bring_up_to_date(faces, at=shop.day(days), awaiting=awaiting)
        found = calls.look(faces, by=shop.lead, at=shop.day(days), in_work=in_work)
        trends.bring_up_to_date(faces, at=shop.day(days), awaiting=awaiting)
        return found

    return looked


def wear(shop: Shop, values: list[float], *, shots: int = 5000, from_day: int = 1) -> int:
    """Make so many shots a day and read gloss at the gate each evening; return the last day."""
    for day, value in enumerate(values, start=from_day):
        shop.shoot(day, shots)
        shop.read(day + 0.1, value)
    return from_day + len(values) - 1


def standing(shop: Shop) -> Standing:
    return Standing.objects.select_related("worst").get(face=shop.face)
