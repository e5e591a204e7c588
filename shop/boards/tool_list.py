"""Tool list: every tool, where it is, what it has run, its worst face, may it run."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery

from shop.bench.models import WorkOrder
from shop.bench.states import State
from shop.boards.bars import bar_of
from shop.boards.figures import figured
from shop.boards.fit_to_run import Answer
from shop.people.models import Plant
from shop.picture.finish_bar import Bar
from shop.press.models import WorkedShots
from shop.tooling.models import Face, Fitting, Position, Tool
from shop.watch.models import Call, Evidence, Standing, Trend

_WORST_FIRST = {
    Standing.State.OFF_SPEC: 0,
    Standing.State.DUE: 1,
    Standing.State.AWAITING_PARTS: 2,
    Standing.State.WEARING: 3,
    Standing.State.SOUND: 4,
}
_NOT_ASKING = (Call.Cause.FORECAST, Call.Cause.NOT_MEASURED)
_HERE = (Tool.Place.IN_PRESS, Tool.Place.RACK)
_AT_WORK = (State.ON_THE_BENCH, State.SENT_OUT, State.STOPPED, State.STEEL_CHECK)


@dataclass(frozen=True)
class WorstFace:
    """The face of a tool that asks for attention first."""

    face: Face
    standing: Standing
    bar: Bar | None
    left_10: int | None


@dataclass(frozen=True)
class ToolRow:
    """One tool on the list. `may_run` is the answer for the next shot, without an order in mind."""

    tool: Tool
    shots: int
    worst: WorstFace | None
    faces: int
    may_run: Answer
    order: WorkOrder | None


def tools_of(plant: Plant) -> QuerySet[Tool]:
    """Return the plant's tools with their customer, the shots they have made, and what asks for care when they run."""
    total = WorkedShots.objects.filter(tool=OuterRef("pk")).order_by("-at", "-entry_id").values("total")[:1]
    fitted = Fitting.objects.now()
    empty = Position.objects.filter(tool=OuterRef("pk")).exclude(pk__in=fitted.values("position"))
    near = Trend.objects.of_running_lives().filter(
        face__insert__tool=OuterRef("pk"), face__insert__in=fitted.values("insert"), chance_now__gt=plant.call_chance
    )
    tools: QuerySet[Tool] = Tool.objects.in_plant(plant).select_related("customer")
    return tools.annotate(made=Subquery(total), has_empty_position=Exists(empty), is_near_limit=Exists(near))


def tool_rows(tools: Iterable[Any], plant: Plant) -> list[ToolRow]:
    """Return the rows of a page of `tools_of`: a fixed number of queries, whatever the number of tools."""
    page = list(tools)
    ids = [tool.pk for tool in page]
    standings = _standings(ids)
    orders = _orders(ids)
    look = _Look(
        standings=standings,
        calls=_calls(ids),
        orders=orders,
    )
    return [_row(tool, look, plant) for tool in page]


@dataclass(frozen=True)
class _Look:
    standings: Mapping[int, list[Standing]]
    calls: Mapping[int, list[tuple[str, bool]]]
    orders: Mapping[int, list[WorkOrder]]


def _row(tool: Any, look: _Look, plant: Plant) -> ToolRow:
    standings = look.standings.get(tool.pk, [])
    orders = look.orders.get(tool.pk, [])
    return ToolRow(
        tool=tool,
        shots=tool.made or 0,
        worst=_worst(standings, plant),
        faces=len(standings),
        may_run=_may_run(tool, look),
        order=orders[0] if orders else None,
    )


def _may_run(tool: Any, look: _Look) -> Answer:
    """Return what Fit to run answers where no order is named; a test holds the two together."""
    orders = look.orders.get(tool.pk, [])
    states = {State(order.state) for order in orders}
    calls = look.calls.get(tool.pk, [])
    first_offs = State.PARTS_CHECK in states
    standing = {one.state for one in look.standings.get(tool.pk, [])}
    here = tool.place in _HERE or first_offs or bool(states & {State.ON_THE_BENCH, State.SENT_OUT})
    stopped = any(cause == Call.Cause.OFF_SPEC or stops for cause, stops in calls)
    off_spec = Standing.State.OFF_SPEC in standing
    if tool.status != Tool.Status.PRODUCTION or not here or states & set(_AT_WORK) or stopped or off_spec:
        return Answer.NO
    asks = any(cause not in _NOT_ASKING for cause, _stops in calls)
    awaits = Standing.State.AWAITING_PARTS in standing
    if first_offs or asks or awaits or tool.has_empty_position or tool.is_near_limit:
        return Answer.CONDITIONS
    return Answer.YES


def _worst(standings: list[Standing], plant: Plant) -> WorstFace | None:
    if not standings:
        return None
    worst = min(standings, key=_how_bad)
    run = round(plant.lead_time_days * (worst.shots_per_day or 0.0))
    bar = figured(bar_of(worst.worst, run, float(plant.conformance_required))) if worst.worst else None
    return WorstFace(worst.face, worst, bar, worst.left_10)


def _how_bad(standing: Standing) -> tuple[int, float, bool, int]:
    left = float("inf") if standing.left_10 is None else float(standing.left_10)
    return _WORST_FIRST[Standing.State(standing.state)], left, standing.worst_id is None, standing.face_id


def _standings(ids: list[int]) -> dict[int, list[Standing]]:
    """Return the standings of the faces that are fitted, by tool."""
    rows = Standing.objects.filter(
        face__insert__tool__in=ids, face__insert__fittings__to_at__isnull=True, face__insert__fittings__isnull=False
    ).select_related("face__insert", "worst")
    found: dict[int, list[Standing]] = {}
    for row in rows:
        found.setdefault(row.face.insert.tool_id, []).append(row)
    return found


def _calls(ids: list[int]) -> dict[int, list[tuple[str, bool]]]:
    """Return the open calls by tool as cause and whether a damage stops the run; those in first-offs are answered."""
    rows = (
        Call.objects.open()
        .filter(tool__in=ids)
        .exclude(line_call__line__order__state=State.PARTS_CHECK)
        .filter(Q(face__isnull=True) | Q(face__insert__in=Fitting.objects.now().values("insert")))
        .annotate(stops=Count("evidence", filter=Q(evidence__damage__stops_run=True)))
        .filter(pk__in=Evidence.objects.values("call"))
    )
    found: dict[int, list[tuple[str, bool]]] = {}
    for row in rows:
        found.setdefault(row.tool_id, []).append((row.cause, row.stops > 0))
    return found


def _orders(ids: list[int]) -> dict[int, list[WorkOrder]]:
    found: dict[int, list[WorkOrder]] = {}
    for order in WorkOrder.objects.open().filter(tool__in=ids).order_by("raised_at"):
        found.setdefault(order.tool_id, []).append(order)
    return found
