"""How the press room is read."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import TYPE_CHECKING, Any, Self

from django.db.models import Exists, Max, OuterRef, Q, QuerySet, Subquery, Sum

from shop.ledger.models import SupersedingQuerySet

if TYPE_CHECKING:
    from shop.people.models import Plant
    from shop.press.models import ShotEntry
    from shop.tooling.models import Insert, Tool


class RunQuerySet(QuerySet[Any]):
    def running(self) -> Self:
        """Return the runs that have not ended."""
        return self.filter(ended_at__isnull=True)

    def at_time(self, at: datetime) -> Self:
        """Return the runs that ran at `at`; a count taken as a run ends still belongs to it."""
        return self.filter(Q(ended_at__isnull=True) | Q(ended_at__gte=at), began_at__lte=at)

    def in_plant(self, plant: Plant) -> Self:
        """Return the runs of the plant's tools."""
        return self.filter(tool__plant=plant)

    def for_list(self) -> Self:
        """Fetch what a row of a list of runs shows, latest first."""
        return self.select_related("tool", "press", "resin").order_by("-began_at", "-id")


class PlannedRunQuerySet(QuerySet[Any]):
    def standing(self) -> Self:
        """Return the planned runs that were not cancelled."""
        return self.filter(cancelled_at__isnull=True)

    def ahead_of(self, at: datetime) -> Self:
        """Return the planned runs that have not ended by `at`, soonest first."""
        return self.standing().filter(ends_at__gt=at).order_by("starts_at", "id")

    def in_plant(self, plant: Plant) -> Self:
        """Return the planned runs of the plant's tools."""
        return self.filter(tool__plant=plant)


class ShotEntryQuerySet(SupersedingQuerySet):
    def of_tool(self, tool: Tool) -> Self:
        """Return the tool's entries in force, in the order in which they happened."""
        return self.in_force().filter(tool=tool).order_by("at", "id")

    def before(self, entry: ShotEntry) -> Self:
        """Return the entries that come before this one; one not written yet comes after all of its moment."""
        if entry.pk is None:
            return self.filter(at__lte=entry.at)
        return self.filter(Q(at__lt=entry.at) | Q(at=entry.at, id__lt=entry.pk))

    def after(self, entry: ShotEntry) -> Self:
        """Return the entries that come after this one."""
        if entry.pk is None:
            return self.filter(at__gt=entry.at)
        return self.filter(Q(at__gt=entry.at) | Q(at=entry.at, id__gt=entry.pk))

    def in_chain(self, entry: ShotEntry) -> Self:
        """Return the readings of the same counter: the press's, the order's or the tool's."""
        readings = self.filter(counter__isnull=False, source=entry.source)
        if entry.source == "machine counter":
            return readings.filter(press=entry.press_id)
        if entry.source != "job counter":
            return readings
        if entry.run is None:
            return readings.filter(run__isnull=True)
        if entry.run.order_number:
            return readings.filter(run__order_number=entry.run.order_number)
        return readings.filter(run=entry.run)

    def for_log(self) -> Self:
        """Fetch what a row of the press log shows, latest first."""
        return self.select_related("tool", "press", "run", "resin", "by", "worked").order_by("-at", "-id")


class WorkedShotsQuerySet(QuerySet[Any]):
    def totals(self, tool_ids: Iterable[int]) -> dict[int, int]:
        """Return the shots each tool has made in all."""
        rows = self.filter(tool__in=list(tool_ids)).order_by().values("tool").annotate(made=Sum("shots"))
        return {row["tool"]: row["made"] for row in rows}

    def total_at(self, tool: Tool, at: datetime) -> int:
        """Return the shots the tool had made by `at`."""
        row = self.filter(tool=tool, at__lte=at).order_by("-at", "-entry_id").values_list("total", flat=True).first()
        return row or 0


class InsertShotsQuerySet(QuerySet[Any]):
    def totals(self, insert_ids: Iterable[int]) -> dict[int, int]:
        """Return the shots each insert has made in all."""
        rows = self.filter(insert__in=list(insert_ids)).values("insert").annotate(made=Sum("shots"))
        return {row["insert"]: row["made"] for row in rows}

    def position_totals(self, position_ids: Iterable[int]) -> dict[int, int]:
        """Return the shots made in each cavity position, whatever was fitted there.

        Cavity, core and slides of one position share its shots, so each entry counts there once.
        """
        shared = self.model.objects.filter(
            entry=OuterRef("entry"), position=OuterRef("position"), insert__lt=OuterRef("insert")
        )
        rows = self.filter(~Exists(shared), position__in=list(position_ids))
        made = rows.order_by().values("position").annotate(made=Sum("shots"))
        return {row["position"]: row["made"] for row in made}

    def total_at(self, insert: Insert, at: datetime) -> int:
        """Return the shots the insert had made by `at`."""
        rows = self.filter(insert=insert, at__lte=at).order_by("-at", "-entry_id")
        return rows.values_list("total", flat=True).first() or 0

    def total_before(self, insert_ref: str, at_ref: str) -> Subquery:
        """Return a subquery for the total that an outer row's insert had made by an outer row's time."""
        earlier = self.model.objects.filter(insert=OuterRef(insert_ref), at__lte=OuterRef(at_ref))
        return Subquery(earlier.order_by("-at", "-entry_id").values("total")[:1])

    def latest_at(self, insert_ids: Iterable[int]) -> dict[int, datetime]:
        """Return when each insert last made a shot."""
        rows = self.filter(insert__in=list(insert_ids)).values("insert").annotate(last=Max("at"))
        return {row["insert"]: row["last"] for row in rows}


class DamageQuerySet(QuerySet[Any]):
    def of_tool(self, tool: Tool) -> Self:
        """Return the damage seen on the tool, latest first."""
        return self.filter(tool=tool).order_by("-at", "-id")

    def for_list(self) -> Self:
        """Fetch what a row of a list of damage shows."""
        return self.select_related("tool", "face__insert", "photo", "by")
