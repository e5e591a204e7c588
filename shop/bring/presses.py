"""presses.csv: one row a press."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from functools import partial

from shop.bring.answer import Brought
from shop.bring.one_by_one import FileOf
from shop.bring.sheet import Row
from shop.people.models import Person, Plant
from shop.press.models import Press
from shop.press.services import presses

FIELDS = {"most shots per hour": "most_shots_per_hour", "counter digits": "counter_digits"}


def take(rows: Sequence[Row], plant: Plant, by: Person, at: datetime) -> Brought:
    """Enter the presses that are new; a press that is there otherwise is a fault of its row."""
    there = {press.name: press for press in Press.objects.filter(plant=plant)}
    file = FileOf("presses", rows, plant, by, at, ref_of_row=lambda row: ("press", row["name"]))
    for row in file.new_rows():
        fields = {field: row[column] for column, field in FIELDS.items() if row[column] is not None}
        press = there.get(row["name"])
        if press is None:
            file.tried(row, "name", partial(presses.add_press, plant=plant, name=row["name"], by=by, at=at, **fields))
        elif not file.differs(row, press, FIELDS):
            file.brought.known += 1
    return file.done()
