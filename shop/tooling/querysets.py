"""How the tooling room is read."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, Self

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery

from shop.ledger.models import SupersedingQuerySet

if TYPE_CHECKING:
    from shop.people.models import Person, Plant


class ToolQuerySet(QuerySet[Any]):
    def in_plant(self, plant: Plant) -> Self:
        """Return the plant's tools."""
        return self.filter(plant=plant)

    def seen_by(self, person: Person) -> Self:
        """Return the tools of the person's plant."""
        return self.filter(plant_id=person.plant_id)

    def alive(self) -> Self:
        """Return the tools that are not disposed of."""
        return self.exclude(status="disposed")

    def for_list(self) -> Self:
        """Fetch what a row of the tool list shows of the tool itself."""
        return self.select_related("customer", "plant", "resin")


class InsertQuerySet(QuerySet[Any]):
    def spare(self) -> Self:
        """Return the inserts that are neither fitted nor retired."""
        from shop.tooling.models import Fitting

        sits = Fitting.objects.now().filter(insert=OuterRef("pk"))
        return self.filter(~Exists(sits), retired_at__isnull=True)

    def with_place(self) -> Self:
        """Fetch where each insert sits now, as the list `sits` of none or one fitting with its position."""
        from shop.tooling.models import Fitting

        return self.prefetch_related(Prefetch("fittings", Fitting.objects.now().placed(), to_attr="sits"))


class FittingQuerySet(QuerySet[Any]):
    def at_time(self, at: datetime) -> Self:
        """Return the fittings that held at `at`; one that begins at that moment already does."""
        return self.filter(Q(to_at__isnull=True) | Q(to_at__gt=at), from_at__lte=at)

    def now(self) -> Self:
        """Return the fittings that still hold."""
        return self.filter(to_at__isnull=True)

    def placed(self) -> Self:
        """Fetch the position along, in the order in which they are counted."""
        return self.select_related("position").order_by("position__number", "kind", "slot", "from_at")


class FaceQuerySet(QuerySet[Any]):
    def in_tool(self, tool: Any) -> Self:
        """Return the faces on inserts that belong to the tool, fitted or spare."""
        return self.filter(insert__tool=tool)

    def fitted(self) -> Self:
        """Return the faces on inserts that are fitted now."""
        return self.filter(insert__fittings__isnull=False, insert__fittings__to_at__isnull=True)

    def for_card(self) -> Self:
        """Fetch what the tool's card shows of a face: insert, where it sits, spots."""
        from shop.tooling.models import Fitting

        sits = Prefetch("insert__fittings", Fitting.objects.now().placed(), to_attr="sits")
        return self.select_related("insert").prefetch_related("spots", sits)


class LifeQuerySet(QuerySet[Any]):
    def running(self) -> Self:
        """Return the lives that have not ended."""
        return self.filter(ended_at__isnull=True)

    def at_time(self, at: datetime) -> Self:
        """Return the lives that ran at `at`."""
        return self.filter(Q(ended_at__isnull=True) | Q(ended_at__gt=at), began_at__lte=at)


class SteelQuerySet(SupersedingQuerySet):
    def left_by_face(self, face_ids: Iterable[int]) -> dict[int, Decimal | None]:
        """Return what each face has left to give, in um a side; None where its allowance is not known."""
        from shop.tooling.models import Face

        left = dict(Face.objects.filter(pk__in=face_ids).values_list("pk", "steel_to_give_um"))
        rows = self.in_force().filter(face__in=left).order_by("at", "id").values_list("face_id", "kind", "depth_um")
        for face_id, kind, depth_um in rows:
            had = left[face_id]
            left[face_id] = depth_um if kind == "re-cut" else (None if had is None else had - depth_um)
        return left


class SpecQuerySet(QuerySet[Any]):
    def at_time(self, at: datetime) -> Self:
        """Return, for each face, the revision that held at `at`."""
        latest = self.model.objects.filter(face=OuterRef("face"), at__lte=at).order_by("-revision")
        return self.filter(pk=Subquery(latest.values("pk")[:1]))

    def with_limits(self) -> Self:
        """Fetch the limits and plaque along."""
        return self.select_related("plaque").prefetch_related("limits__spot")


class ConcessionQuerySet(SupersedingQuerySet):
    def running_on(self, day: date) -> Self:
        """Return the concessions whose date has not passed; counts are judged where the shots are known."""
        return self.in_force().filter(Q(until_on__isnull=True) | Q(until_on__gte=day))
