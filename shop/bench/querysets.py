"""How the bench room is read."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Self

from django.db.models import QuerySet

if TYPE_CHECKING:
    from shop.people.models import Person, Plant


class WorkOrderQuerySet(QuerySet[Any]):
    def in_plant(self, plant: Plant) -> Self:
        """Return the work orders of the plant's tools."""
        return self.filter(tool__plant=plant)

    def open(self) -> Self:
        """Return the orders that have not ended."""
        return self.filter(closed_at__isnull=True)

    def for_polisher(self, person: Person) -> Self:
        """Return the orders given to this polisher."""
        return self.filter(polisher=person)

    def due_by(self, day: date) -> Self:
        """Return the orders due on or before the day."""
        return self.filter(due_on__lte=day)


class LineQuerySet(QuerySet[Any]):
    def open(self) -> Self:
        """Return the lines that are not closed."""
        return self.filter(closed_at__isnull=True)
