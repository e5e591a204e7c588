"""What held for a face at a time: its spec, and its limits with a concession; what sat in a tool. It only reads."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from shop.tooling.models import Concession, Face, Fitting, Limit, Spec, Tool


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
