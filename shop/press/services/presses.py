"""Writing presses."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person, Plant
from shop.press.models import Press
from shop.refusal import Refused, gettext_noop


@transaction.atomic
def add_press(
    *, plant: Plant, name: str, by: Person, at: datetime, most_shots_per_hour: int = 720, counter_digits: int = 7
) -> Press:
    """Enter a press: how fast it can run at most, and how many digits its counter has."""
    name = name.strip()
    if Press.objects.filter(plant=plant, name=name).exists():
        raise Refused(
            "press.name_taken",
            gettext_noop("There is a press {press} already."),
            next_step=gettext_noop("Give another name."),
            field="name",
            press=name,
        )
    press = Press.objects.create(
        plant=plant, name=name, most_shots_per_hour=most_shots_per_hour, counter_digits=counter_digits
    )
    record_change(press, "name", None, name, by=by, at=at, why="entered")
    return press
