"""How the bench room is read."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING, Any, Self

from django.db.models import QuerySet

from shop.bench.states import IN_WORK, OPEN_TO_PLANNING, State

if TYPE_CHECKING:
    from shop.people.models import Person, Plant
    from shop.tooling.models import Tool


class WorkOrderQuerySet(QuerySet[Any]):
    def in_plant(self, plant: Plant) -> Self:
        """Return the work orders of the plant's tools."""
        return self.filter(tool__plant=plant)

    def open(self) -> Self:
        """Return the orders that have not ended."""
        return self.filter(closed_at__isnull=True)

    def not_begun(self) -> Self:
        """Return the orders that no work has begun on, which may still take lines."""
        return self.filter(state__in=OPEN_TO_PLANNING)

    def for_polisher(self, person: Person) -> Self:
        """Return the orders given to this polisher."""
        return self.filter(polisher=person)

    def due_by(self, day: date) -> Self:
        """Return the orders due on or before the day."""
        return self.filter(due_on__lte=day)

    def for_board(self) -> Self:
        """Fetch along what a list of orders shows."""
        beside = self.select_related("tool__customer", "polisher", "outside_house")
        return beside.prefetch_related("lines__face__insert")


class LineQuerySet(QuerySet[Any]):
    def open(self) -> Self:
        """Return the lines that are not closed."""
        return self.filter(closed_at__isnull=True)

    def of_faces(self, faces: Iterable[Any]) -> Self:
        """Return the lines on these faces."""
        return self.filter(face__in=faces)

    def in_work(self) -> Self:
        """Return the open lines whose order has begun: the face is not to be judged by old readings now."""
        return self.open().filter(order__state__in=IN_WORK)

    def awaiting_parts(self) -> Self:
        """Return the open lines whose steel has passed and whose parts have not been seen."""
        return self.open().filter(order__state=State.PARTS_CHECK, face__isnull=False)

    def changing_finish(self) -> Self:
        """Return the lines whose work ends the life of a finish; cleaning does not."""
        return self.filter(face__isnull=False).exclude(work="clean")

    def on_tool(self, tool: Tool) -> Self:
        """Return the lines of the tool's orders."""
        return self.filter(order__tool=tool)
