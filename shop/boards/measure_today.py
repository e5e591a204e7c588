"""What quality has to measure today: planned readings by tool, and the checks that orders wait for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from django.db.models import Prefetch

from shop.bench.models import Line, WorkOrder
from shop.bench.states import IN_WORK, State
from shop.people.models import Plant
from shop.quality import due
from shop.quality.models import Inspection
from shop.tooling.models import Tool


@dataclass(frozen=True)
class DueTool:
    """One tool with what is due on it."""

    tool: Tool
    items: tuple[due.DueItem, ...]
    overdue: int

    @property
    def faces(self) -> tuple[str, ...]:
        """Return the faces that are due, each once, what is overdue first."""
        return tuple(dict.fromkeys(str(item.face) for item in self.items))

    @property
    def in_press(self) -> bool:
        """Return whether its parts can be had now."""
        return self.tool.place == Tool.Place.IN_PRESS


@dataclass(frozen=True)
class WaitingCheck:
    """An order that waits for a check before it can go on."""

    order: WorkOrder
    kind: Inspection.Kind
    faces: int


@dataclass(frozen=True)
class Today:
    """The day's list."""

    checks: tuple[WaitingCheck, ...]
    tools: tuple[DueTool, ...]
    overdue: int
    count: int


def measure_today(plant: Plant, at: datetime) -> Today:
    """Return what is to be measured today; a face that is in work waits for its own check instead."""
    orders = _in_work(plant)
    away = {line.face_id for order in orders for line in order.lines.all() if line.face_id}
    items = due.today(plant, at, leave_out=away)
    tools = _by_tool(items)
    return Today(
        checks=tuple(_checks(orders)),
        tools=tools,
        overdue=sum(tool.overdue for tool in tools),
        count=len(items),
    )


def _in_work(plant: Plant) -> list[WorkOrder]:
    orders = WorkOrder.objects.in_plant(plant).filter(state__in=IN_WORK).select_related("tool")
    return list(orders.prefetch_related(Prefetch("lines", Line.objects.open())).order_by("due_on", "raised_at"))


_KINDS = {State.STEEL_CHECK: Inspection.Kind.STEEL_CHECK, State.PARTS_CHECK: Inspection.Kind.PARTS_CHECK}


def _checks(orders: Iterable[WorkOrder]) -> Iterable[WaitingCheck]:
    for order in orders:
        if kind := _KINDS.get(State(order.state)):
            yield WaitingCheck(order, kind, sum(1 for line in order.lines.all() if line.face_id))


def _by_tool(items: Iterable[due.DueItem]) -> tuple[DueTool, ...]:
    # Tools in a press come first: their parts can be had now, and what is overdue comes before what is due.
    rows = []
    for _pk, group in groupby(sorted(items, key=lambda item: item.tool.pk), key=lambda item: item.tool.pk):
        of_tool = tuple(sorted(group, key=lambda item: (not item.overdue, str(item.face))))
        rows.append(DueTool(of_tool[0].tool, of_tool, sum(item.overdue for item in of_tool)))
    return tuple(sorted(rows, key=lambda row: (not row.in_press, -row.overdue, row.tool.number)))
