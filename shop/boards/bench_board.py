"""The bench: every work order by its place in the way."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import F, QuerySet
from django.utils import timezone

from shop.bench.models import Line, Move, WorkOrder
from shop.bench.states import State
from shop.boards.order_sheet import lines_with_steps
from shop.people.models import Plant
from shop.refusal import Saying
from shop.watch import reasons
from shop.watch.models import Evidence

# What waits for the lead comes first, then what waits for somebody else, in the order of the way.
PLACES = (
    State.STOPPED,
    State.RAISED,
    State.ACCEPTED,
    State.PLANNED,
    State.ON_THE_BENCH,
    State.SENT_OUT,
    State.STEEL_CHECK,
    State.PARTS_CHECK,
)


@dataclass(frozen=True)
class OrderRow:
    """One order in the list."""

    order: WorkOrder
    lines: tuple[Line, ...]
    why: tuple[Saying, ...]
    since: datetime
    stopped_because: str
    steps_done: int
    steps: int
    late: bool
    raised_because: str

    @property
    def works(self) -> tuple[tuple[str, int], ...]:
        """Return each kind of work with how many faces have it, in the order in which they come."""
        return tuple(Counter(str(line.get_work_display()) for line in self.lines if line.face_id).items())

    @property
    def planned_minutes(self) -> int:
        """Return the minutes that the routes of its lines ask for."""
        return sum(line.planned_minutes or 0 for line in self.lines)

    @property
    def days_here(self) -> int:
        """Return how many days the order has been where it is."""
        return max(0, (timezone.now() - self.since).days)


@dataclass(frozen=True)
class BenchPlace:
    """One place in the way with the orders that are there."""

    state: State
    rows: tuple[OrderRow, ...]


def bench_board(orders: QuerySet[WorkOrder], today: date) -> list[BenchPlace]:
    """Return the places that have orders in them: four queries, whatever their number."""
    found = list(
        orders.select_related("tool__customer", "polisher", "outside_house")
        .prefetch_related(lines_with_steps())
        .order_by(F("due_on").asc(nulls_last=True), "raised_at")
    )
    why = _why(found)
    moves = _moves(found)
    places: dict[str, list[OrderRow]] = defaultdict(list)
    for order in found:
        places[order.state].append(_row(order, why, moves, today))
    return [BenchPlace(state, tuple(places[state])) for state in PLACES if places[state]]


def open_orders(plant: Plant) -> QuerySet[WorkOrder]:
    """Return the plant's orders that have not ended."""
    orders: QuerySet[WorkOrder] = WorkOrder.objects.in_plant(plant).open()
    return orders


def ended_orders(plant: Plant, most: int = 40) -> list[WorkOrder]:
    """Return the latest orders that have ended."""
    ended = WorkOrder.objects.in_plant(plant).filter(closed_at__isnull=False)
    return list(ended.select_related("tool", "polisher", "outside_house").order_by("-closed_at")[:most])


def _row(order: Any, why: Mapping[int, list[Saying]], moves: Mapping[int, list[Move]], today: date) -> OrderRow:
    steps = [step for line in order.kept_lines for step in line.steps.all()]
    way = moves.get(order.pk, [])
    last = way[-1] if way else None
    return OrderRow(
        order=order,
        lines=tuple(order.kept_lines),
        why=tuple(why.get(order.pk, ())),
        since=last.at if last else order.raised_at,
        stopped_because=last.why if last and last.to_state == State.STOPPED else "",
        steps_done=sum(1 for step in steps if step.done_at is not None),
        steps=len(steps),
        late=order.due_on is not None and order.due_on < today,
        raised_because=way[0].why if way else "",
    )


def _why(orders: Sequence[WorkOrder]) -> dict[int, list[Saying]]:
    """Return the latest reason of each call behind each order."""
    latest: dict[int, tuple[int, Saying]] = {}
    rows = (
        Evidence.objects.filter(call__line_call__line__order__in=orders)
        .select_related("call__line_call__line")
        .order_by("at", "id")
    )
    for one in rows:
        latest[one.call_id] = (one.call.line_call.line.order_id, reasons.saying(one))
    found: dict[int, list[Saying]] = defaultdict(list)
    for order_id, said in latest.values():
        found[order_id].append(said)
    return found


def _moves(orders: Sequence[WorkOrder]) -> dict[int, list[Move]]:
    found: dict[int, list[Move]] = defaultdict(list)
    for move in Move.objects.filter(order__in=orders).order_by("id"):
        found[move.order_id].append(move)
    return found
