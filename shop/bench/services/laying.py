"""Lay the route of a line: which work, which steps, what it takes in minutes and steel."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from shop.bench import suiting
from shop.bench.models import Line, Step, Work
from shop.craft.lightest import lightest_work
from shop.craft.media import STOCKED
from shop.craft.routes import Route, RouteAsk, plan_route
from shop.tooling.models import Spec
from shop.watch.models import Call, Evidence, Standing


def lightest_for(call: Call, spec: Spec | None) -> Work:
    """Return the lightest work that would answer the call on a face with this spec."""
    parameter, side = _what_went(call)
    damage = Evidence.objects.filter(call=call, damage__isnull=False).order_by("-at", "-id").first()
    return Work(
        lightest_work(
            how_made=spec.how_made if spec else "",
            parameter=parameter,
            side=side,
            cause=call.cause,
            micro_matt=spec.micro_matt if spec else False,
            damage_kind=damage.damage.kind if damage and damage.damage else "",
            plated=call.face is not None and call.face.insert.coating not in ("", "nitrided"),
        )
    )


def _what_went(call: Call) -> tuple[str, str]:
    """Return the parameter behind the call and the side on which it leaves its limits."""
    judged = Evidence.objects.filter(call=call, verdict__isnull=False).order_by("-at", "-id").first()
    if judged and judged.verdict:
        verdict = judged.verdict
        over = verdict.upper is not None and verdict.statistic > verdict.upper
        near_upper = verdict.lower is None or (
            verdict.upper is not None and verdict.upper - verdict.statistic < verdict.statistic - verdict.lower
        )
        return verdict.parameter, "upper" if over or (verdict.upper is not None and near_upper) else "lower"
    standing = Standing.objects.filter(face=call.face_id).select_related("worst").first()
    if standing and standing.worst:
        return standing.worst.parameter, standing.worst.towards
    return "", ""


def route_of(line: Line) -> Route:
    """Return the route that the line's spec and work ask for, from the media the shop stocks."""
    face, spec = line.face, line.spec
    if face is None:
        raise ValueError("a job without a face has no route")
    return plan_route(
        RouteAsk(
            how_made=spec.how_made if spec else "",
            work=line.work,
            put_back=line.how,
            scale=spec.scale if spec else "",
            target_code=spec.code if spec else "",
            target_ra_um=_target_ra_um(spec),
            steel=face.insert.steel,
            coating=face.insert.coating,
            area_cm2=float(face.area_cm2) if face.area_cm2 is not None else None,
            pattern_depth_um=float(spec.pattern_depth_um) if spec and spec.pattern_depth_um is not None else None,
            micro_matt=spec.micro_matt if spec else False,
            cause=line.cause,
        ),
        STOCKED,
    )


def lay(line: Line, *, at: datetime) -> Route | None:
    """Write the steps of the line's route behind those already done, and what speaks against the finish by now.

    Steps not begun make room for them.
    """
    line.steps.filter(done_at__isnull=True, bookings__isnull=True).delete()
    if line.face_id is None or not line.work:
        return None
    route = route_of(line)
    kept = list(line.steps.all())
    number = max((step.number for step in kept), default=0)
    Step.objects.bulk_create(
        Step(
            line=line,
            number=number + place,
            kind=step.kind,
            medium=step.medium,
            grading=step.grading,
            grain=step.grain,
            direction=step.direction,
            target=step.target,
            planned_minutes=step.minutes,
            planned_steel_um=step.steel_um,
        )
        for place, step in enumerate(route.steps, start=1)
    )
    line.planned_minutes = route.minutes
    line.planned_steel_um = Decimal(route.steel_um) + sum((step.planned_steel_um for step in kept), Decimal(0))
    line.suits = suiting.suits_of(line, at)
    line.save(update_fields=["planned_minutes", "planned_steel_um", "suits"])
    return route


def _target_ra_um(spec: Spec | None) -> float | None:
    """Return the middle of the spec's Ra limits, else its upper limit, where it has one."""
    limit = spec.limits.filter(parameter="Ra").order_by("id").first() if spec else None
    if limit is None:
        return None
    sides = [float(side) for side in (limit.lower, limit.upper) if side is not None]
    return sum(sides) / len(sides)
