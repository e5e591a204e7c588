"""How the quality room is read."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any, Self

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from shop.ledger.models import SupersedingQuerySet

if TYPE_CHECKING:
    from shop.people.models import Plant
    from shop.tooling.models import Face, Tool


class GaugeQuerySet(QuerySet[Any]):
    def in_use(self, plant: Plant) -> Self:
        """Return the plant's gauges that are not retired."""
        return self.filter(plant=plant, retired_at__isnull=True)

    def with_due_date(self, at: datetime) -> Self:
        """Annotate `due_on` and `passed` from the latest calibration by `at`; null where there is none."""
        from shop.quality.models import Calibration

        latest = Calibration.objects.filter(gauge=OuterRef("pk"), at__lte=at).order_by("-at", "-id")
        return self.annotate(due_on=Subquery(latest.values("due_on")[:1]), passed=Subquery(latest.values("passed")[:1]))


class PlanQuerySet(QuerySet[Any]):
    def in_force(self) -> Self:
        """Return the plan items that have not ended."""
        return self.filter(ended_at__isnull=True)


class InspectionQuerySet(QuerySet[Any]):
    def of_tool(self, tool: Tool) -> Self:
        """Return the tool's inspections, latest first."""
        return self.filter(tool=tool).order_by("-at", "-id")


class ReadingQuerySet(SupersedingQuerySet):
    def usable(self) -> Self:
        """Return readings in force that were taken under the spec's conditions and are held against its limits.

        Roughness read along the lay stands beside what was read across it in the same inspection, as `lay.deciding`
        says: a trend of both would see a change where only the direction changed.
        """
        here = self.alias(place=Coalesce("spot_id", 0))
        across = (
            self.model._default_manager.in_force()
            .exclude(direction="along")
            .alias(place=Coalesce("spot_id", 0))
            .filter(
                inspection=OuterRef("inspection"),
                face=OuterRef("face"),
                parameter=OuterRef("parameter"),
                where=OuterRef("where"),
                place=OuterRef("place"),
                conditions_agree=True,
            )
        )
        beside = Q(direction="along", parameter__in=["Ra", "Rq", "Rz"]) & Exists(across)
        return here.in_force().filter(~beside, conditions_agree=True)


class VerdictQuerySet(SupersedingQuerySet):
    def deciding(self) -> Self:
        """Return the verdicts in force that decide, not those shown for information."""
        return self.in_force().filter(informative=False)

    def last_good(self, face: Face, before: datetime) -> Any:
        """Return the face's latest conforming verdict before `before`, or None."""
        return self.deciding().filter(face=face, outcome="yes", at__lt=before).order_by("-at", "-id").first()
