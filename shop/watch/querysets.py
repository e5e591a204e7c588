"""How the watch room is read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Self

from django.db.models import F, QuerySet

if TYPE_CHECKING:
    from shop.people.models import Plant


class TrendQuerySet(QuerySet[Any]):
    def of_running_lives(self) -> Self:
        """Return the trends of lives that have not ended."""
        return self.filter(life__ended_at__isnull=True)


class StandingQuerySet(QuerySet[Any]):
    def in_plant(self, plant: Plant) -> Self:
        """Return the standings of the plant's faces on tools that are not disposed of."""
        return self.filter(face__insert__tool__plant=plant).exclude(face__insert__tool__status="disposed")

    def soonest_first(self) -> Self:
        """Order by the shots left until the 10 % chance; faces with none come last."""
        return self.order_by(F("left_10").asc(nulls_last=True), "face_id")


class CallQuerySet(QuerySet[Any]):
    def open(self) -> Self:
        """Return the calls that are not closed."""
        return self.filter(closed_at__isnull=True)

    def wanting_bench_work(self) -> Self:
        """Return the calls that ask for work on the steel."""
        return self.exclude(cause__in=["not measured", "not proven", "own pattern"])


class PoolQuerySet(QuerySet[Any]):
    def in_plant(self, plant: Plant) -> Self:
        """Return the plant's groups."""
        return self.filter(plant=plant)


class QuestionQuerySet(QuerySet[Any]):
    def open(self) -> Self:
        """Return the questions that nobody has answered and that still stand."""
        return self.filter(answered_at__isnull=True, gone_at__isnull=True)

    def in_plant(self, plant: Plant) -> Self:
        """Return the questions about the plant's tools."""
        return self.filter(tool__plant=plant)
