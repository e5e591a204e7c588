"""One face taken round the loop through `shop.loop` alone, as the doors would."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from shop import loop
from shop.bench.models import WorkOrder
from shop.bench.services import planning, working
from shop.people.models import Person
from shop.press.models import Run
from shop.press.services import runs
from shop.quality.models import Inspection
from shop.tooling.models import Face
from shop.watch.models import Call, Standing
from tests.measuring import Shop


def shoot(shop: Shop, days: float, count: int) -> None:
    """Log so many shots made by that day."""
    loop.shots_logged(tool=shop.tool, by=shop.press_tech, at=shop.day(days), source="by hand", count=count)


def read(shop: Shop, days: float, value: Any, kind: str = "routine", **given: Any) -> Inspection:
    """Take one reading at the gate of the first face: gloss on the part unless said otherwise."""
    return loop.reading_taken(
        tool=shop.tool, by=shop.inspector, at=shop.day(days), kind=kind, drafts=[shop.draft(value, **given)]
    )


def wear(shop: Shop, values: list[float], shots: int = 5000) -> int:
    """Make so many shots a day and read the gloss each evening; return the last day."""
    for day, value in enumerate(values, start=1):
        shoot(shop, day, shots)
        read(shop, day + 0.1, value)
    return len(values)


def pull(shop: Shop, days: float) -> None:
    """Take the tool out of the press."""
    runs.end_run(run=Run.objects.running().get(tool=shop.tool), by=shop.press_tech, at=shop.day(days))


def into_press(shop: Shop, days: float) -> None:
    """Put the tool into the press again."""
    runs.start_run(tool=shop.tool, press=shop.press, by=shop.press_tech, at=shop.day(days), lot="L2")


def given_to(order: WorkOrder, polisher: Person, lead: Person, at: datetime) -> None:
    """Let the lead accept the order and give it to the polisher for today."""
    planning.accept(order=order, by=lead, at=at)
    planning.give_to(order=order, polisher=polisher, due_on=at.date(), by=lead, at=at)


def worked(order: WorkOrder, polisher: Person, at: datetime) -> None:
    """Let the polisher start, sign and book every step, and hand over."""
    loop.started(order=order, by=polisher, at=at)
    for line in order.lines.open():
        for step in line.steps.all():
            working.finish_step(step=step, minutes=20, by=polisher, at=at)
    loop.handed_over(order=order, by=polisher, at=at)


def the_order() -> WorkOrder:
    """Return the only open order."""
    return WorkOrder.objects.get(closed_at__isnull=True)


def causes() -> list[str]:
    """Return the causes of the open calls."""
    return sorted(Call.objects.open().values_list("cause", flat=True))


def standing(face: Face) -> Standing:
    """Return how the face stands now."""
    return Standing.objects.get(face=face)
