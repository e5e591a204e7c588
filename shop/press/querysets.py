"""How the press room is read."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING, Any, Self

from django.db.models import Max, OuterRef, QuerySet, Subquery, Sum

from shop.ledger.models import SupersedingQuerySet

if TYPE_CHECKING:
    from shop.tooling.models import Insert, Tool


class RunQuerySet(QuerySet[Any]):
    def running(self) -> Self:
        """Return the runs that have not ended."""
        return self.filter(ended_at__isnull=True)


class ShotEntryQuerySet(SupersedingQuerySet):
    def of_tool(self, tool: Tool) -> Self:
        """Return the tool's entries in force, in the order in which they happened."""
        return self.in_force().filter(tool=tool).order_by("at", "id")


class InsertShotsQuerySet(QuerySet[Any]):
    def totals(self, insert_ids: Iterable[int]) -> dict[int, int]:
        """Return the shots each insert has made in all."""
        rows = self.filter(insert__in=list(insert_ids)).values("insert").annotate(made=Sum("shots"))
        return {row["insert"]: row["made"] for row in rows}

    def total_at(self, insert: Insert, at: datetime) -> int:
        """Return the shots the insert had made by `at`."""
        row = self.filter(insert=insert, at__lte=at).order_by("-at", "-entry_id").values_list("total", flat=True).first()
        return row or 0

    def total_before(self, insert_ref: str, at_ref: str) -> Subquery:
        """Return a subquery for the total that an outer row's insert had made by an outer row's time."""
        earlier = self.model.objects.filter(insert=OuterRef(insert_ref), at__lte=OuterRef(at_ref))
        return Subquery(earlier.order_by("-at", "-entry_id").values("total")[:1])

    def latest_at(self, insert_ids: Iterable[int]) -> dict[int, datetime]:
        """Return when each insert last made a shot."""
        rows = self.filter(insert__in=list(insert_ids)).values("insert").annotate(last=Max("at"))
        return {row["insert"]: row["last"] for row in rows}


class DamageQuerySet(QuerySet[Any]):
    pass
