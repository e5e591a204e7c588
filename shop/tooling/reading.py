"""What held for a face at a time: its spec, its life, its concession; and what sat in a tool. Nothing is written."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import Q

from shop.tooling.models import Concession, Face, FinishLife, Fitting, Limit, Spec, Tool


@dataclass(frozen=True)
class EffectiveLimit:
    """A limit of a spec as it holds with a concession; `relaxed` where the concession widened it."""

    limit: Limit
    lower: Decimal | None
    upper: Decimal | None
    relaxed: bool


def spec_at(face: Face, at: datetime) -> Spec | None:
    """Return the revision that held at `at` with its limits, or None before the first."""
    return Spec.objects.filter(face=face, at__lte=at).with_limits().order_by("-revision").first()


def specs_at(face_ids: Iterable[int], at: datetime) -> dict[int, Spec]:
    """Return the revision of each face that held at `at`, with its limits."""
    specs = Spec.objects.filter(face__in=list(face_ids), at__lte=at).with_limits().order_by("face", "revision")
    return {spec.face_id: spec for spec in specs}


def life_at(face: Face, at: datetime) -> FinishLife | None:
    """Return the finish life that ran at `at`; None while the face was in work, and before it was new."""
    return FinishLife.objects.at_time(at).filter(face=face).first()


def concession_at(face: Face, parameter: str, at: datetime, insert_total: int) -> Concession | None:
    """Return the latest concession that held at `at`, when the insert had made `insert_total` shots.

    One that was withdrawn later did hold until then. An end by quantity of parts is for people to watch:
    the parts that were delivered are not known here.
    """
    held = (
        Concession.objects.filter(face=face, parameter=parameter, void=False, at__lte=at)
        .filter(Q(superseded_by__isnull=True) | Q(superseded_by__at__gt=at))
        .filter(Q(until_on__isnull=True) | Q(until_on__gte=local_day(face, at)))
        .filter(Q(until_insert_shots__isnull=True) | Q(until_insert_shots__gte=insert_total))
    )
    return held.order_by("-at", "-id").first()


def limits_of(spec: Spec, concession: Concession | None) -> tuple[EffectiveLimit, ...]:
    """Return the spec's limits as they hold with the concession, which widens and never tightens."""
    return tuple(_effective(limit, concession) for limit in spec.limits.all())


def inserts_at(tool: Tool, at: datetime) -> list[Fitting]:
    """Return what sat in the tool at `at`, by position."""
    fittings = Fitting.objects.at_time(at).filter(position__tool=tool)
    return list(fittings.select_related("insert", "position").order_by("position__number", "kind", "slot"))


def local_day(face: Face, at: datetime) -> date:
    """Return the day that the clock of the face's plant shows at `at`."""
    return at.astimezone(ZoneInfo(face.insert.tool.plant.time_zone)).date()


def _effective(limit: Limit, concession: Concession | None) -> EffectiveLimit:
    lower, upper = limit.lower, limit.upper
    if concession is not None and concession.parameter == limit.parameter:
        if lower is not None and concession.lower is not None:
            lower = min(lower, concession.lower)
        if upper is not None and concession.upper is not None:
            upper = max(upper, concession.upper)
    return EffectiveLimit(limit, lower, upper, (lower, upper) != (limit.lower, limit.upper))
