"""Writing the houses that work is sent out to."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from shop.bench.models import OutsideHouse
from shop.ledger.services import record_change
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop


@transaction.atomic
def add_house(
    *, plant: Plant, name: str, kind: str, by: Person, at: datetime, lead_time_days: int = 21
) -> OutsideHouse:
    """Enter a texture house or plater, and how long it usually keeps a tool."""
    name = name.strip()
    if OutsideHouse.objects.filter(name=name).exists():
        raise Refused(
            "house.name_taken",
            gettext_noop("There is an outside house {name} already."),
            next_step=gettext_noop("Give another name."),
            field="name",
            name=name,
        )
    house = OutsideHouse.objects.create(
        plant=plant, name=name, kind=OutsideHouse.Kind(kind), lead_time_days=lead_time_days
    )
    record_change(house, "name", None, name, by=by, at=at, why="entered")
    return house
