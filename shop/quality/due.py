"""What must be measured today: the inspection plan held against what was measured since and what was moulded."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Exists, F, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality import doubt
from shop.quality.asked import Sides, asked_of
from shop.quality.models import PlanItem, Reading, UnfitDecision
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Face, FinishLife, Fitting, Limit, Parameter, Spec, Spot, Tool, WhereMeasured
from shop.units import Quantity

# A plan is late when half as much again as was planned has gone by.
LATE = 1.5

TEMPLATES = {
    "due.by_shots": gettext_noop("{parameter} at {spot}: {since} since the last reading; it is planned every {every}."),
    "due.by_days": gettext_noop("{parameter} at {spot}: {since} since the last reading; it is planned every {every}."),
    "due.new_life": gettext_noop("{parameter} at {spot} has not been measured since the finish was made, {since} ago."),
    "due.again": gettext_noop(
        "{parameter} at {spot} is measured again: gauge {gauge}, which read {value}, was unfit."
    ),
}


@dataclass(frozen=True)
class DueItem:
    """One thing to be measured, why, and what it must be; `lower` and `upper` as they are in force.

    What is measured again for an unfit gauge may be in no plan: its `plan_item` is then not one that was saved.
    """

    face: Face
    tool: Tool
    plan_item: PlanItem
    spot: Spot | None
    reason: Saying
    overdue: bool
    limit: Limit | None = None
    spec: Spec | None = None
    sides: Sides | None = None

    @property
    def lower(self) -> Decimal | None:
        """Return the lower side in force."""
        return self.sides.lower if self.sides else None

    @property
    def upper(self) -> Decimal | None:
        """Return the upper side in force."""
        return self.sides.upper if self.sides else None


def today(plant: Plant, at: datetime, *, leave_out: Collection[int] = ()) -> list[DueItem]:
    """Return what is due in the plant, the latest first; faces in `leave_out` (in work, awaiting parts) wait."""
    faces = Face.objects.filter(insert__tool__plant=plant).exclude(pk__in=leave_out)
    return _due(faces.exclude(insert__tool__status=Tool.Status.DISPOSED), at)


def for_faces(faces: Iterable[Face], at: datetime) -> list[DueItem]:
    """Return what is due on these faces."""
    return _due(Face.objects.filter(pk__in=[face.pk for face in faces]), at)


def for_face(face: Face, at: datetime) -> list[DueItem]:
    """Return what is due on this face."""
    return for_faces([face], at)


def _due(faces: Any, at: datetime) -> list[DueItem]:
    found = [(_as_planned(one.reading), _again(one), False) for one in doubt.to_measure_again(faces.fitted(), at)]
    asked_again = {_place(item) for item, _saying, _late in found}
    for item in _with_what_happened(PlanItem.objects.filter(face__in=faces.values("pk")), at):
        reason = _reason(item, at)
        if reason is not None and _place(item) not in asked_again:
            found.append((item, *reason))
    asked = asked_of({item.face for item, _reason, _late in found}, at) if found else {}
    due = []
    for item, reason_, late in found:
        known = asked[item.face_id]
        limit = next(iter(known.limits_for(item.parameter, item.where, item.spot_id)), None)
        sides = known.sides(limit) if limit else None
        due.append(DueItem(item.face, item.face.insert.tool, item, item.spot, reason_, late, limit, known.spec, sides))
    return sorted(due, key=lambda one: (not one.overdue, one.tool.number, str(one.face), one.plan_item.pk or 0))


def _with_what_happened(items: QuerySet[Any], at: datetime) -> QuerySet[Any]:
    """Annotate when it was last measured on this finish, and the insert's shots now, then and at its beginning.

    A steel check before the life began counts: it measured this finish. A gauge out of date does not count.
    """
    life = FinishLife.objects.running().filter(face=OuterRef("face"))
    before = FinishLife.objects.filter(face=OuterRef("face"), ended_at__lte=at).order_by("-number")
    measured = Reading.objects.usable().filter(
        Q(spot=OuterRef("spot")) | Q(Exists(PlanItem.objects.filter(pk=OuterRef(OuterRef("pk")), spot__isnull=True))),
        face=OuterRef("face"),
        parameter=OuterRef("parameter"),
        where=OuterRef("where"),
        gauge_overdue=False,
        at__gte=OuterRef("finish_from"),
        at__lte=at,
    )
    shots_now = InsertShots.objects.filter(insert=OuterRef("face__insert"), at__lte=at).order_by("-at", "-entry_id")
    found: QuerySet[Any] = (
        PlanItem.objects.in_force()
        .filter(pk__in=items.values("pk"))
        .annotate(life_began=Subquery(life.values("began_at")[:1]))
        .filter(life_began__isnull=False)
        .filter(Exists(Fitting.objects.now().filter(insert=OuterRef("face__insert"))))
        .annotate(finish_from=Coalesce(Subquery(before.values("ended_at")[:1]), F("life_began")))
        .annotate(last_at=Subquery(measured.order_by("-at").values("at")[:1]))
        .annotate(
            shots_now=Subquery(shots_now.values("total")[:1]),
            shots_then=InsertShots.objects.total_before("face__insert", "last_at"),
            shots_at_birth=InsertShots.objects.total_before("face__insert", "life_began"),
        )
        .select_related("face__insert__tool__plant", "spot")
        .order_by("pk")
    )
    return found


def _reason(item: Any, at: datetime) -> tuple[Saying, bool] | None:
    """Return why the item is due and whether it is late; None where it is not due."""
    never = item.last_at is None
    since_at = item.life_began if never else item.last_at
    shots = max(0, (item.shots_now or 0) - ((item.shots_at_birth if never else item.shots_then) or 0))
    days = (at - since_at).days
    if item.where == WhereMeasured.PART and shots == 0:
        # Without a shot since there is no other part to measure.
        return None
    by_shots = shots / item.every_shots if item.every_shots else 0.0
    by_days = days / item.every_days if item.every_days else 0.0
    late = max(by_shots, by_days) >= LATE
    if never:
        return _saying("due.new_life", item, since=_since(shots, days)), late
    if max(by_shots, by_days) < 1:
        return None
    if by_shots >= by_days:
        return _saying("due.by_shots", item, since=_shots(shots), every=_shots(item.every_shots)), late
    return _saying("due.by_days", item, since=_days(days), every=_days(item.every_days)), late


def _as_planned(reading: Reading) -> PlanItem:
    """Return what would have to be planned for this reading to be asked for; it is not saved."""
    return PlanItem(face=reading.face, parameter=reading.parameter, spot=reading.spot, where=reading.where)


def _place(item: PlanItem) -> tuple[int, str, int | None, str]:
    return (item.face_id, item.parameter, item.spot_id, item.where)


def _again(decided: UnfitDecision) -> Saying:
    reading = decided.reading
    value = Quantity(reading.value, reading.unit)
    return _saying("due.again", _as_planned(reading), gauge=decided.finding.gauge.number, value=value)


def _since(shots: int, days: int) -> Quantity:
    return _shots(shots) if shots else _days(days)


def _shots(count: int) -> Quantity:
    return Quantity(Decimal(count), "shots")


def _days(count: int) -> Quantity:
    return Quantity(Decimal(count), "days")


def _saying(code: str, item: PlanItem, **values: object) -> Saying:
    spot = item.spot.name if item.spot else str(item.face)
    return Saying(code, TEMPLATES[code], {"parameter": Parameter(item.parameter), "spot": spot, **values})
