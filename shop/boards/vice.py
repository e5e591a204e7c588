"""At my vice: one polisher's work in order, the present step large, and the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, Max

from shop.bench.models import Booking, Line, Move, Step, WorkOrder
from shop.bench.states import State
from shop.boards.order_sheet import LineRow, line_rows, lines_with_steps
from shop.craft.cautions import cautions_for
from shop.people.models import Person

MINE = (State.ON_THE_BENCH, State.STOPPED, State.PLANNED, State.STEEL_CHECK, State.PARTS_CHECK)
# A clock that was left running overnight proposes no more than this.
LONGEST_MINUTES = 480


@dataclass(frozen=True)
class ViceOrder:
    """One order of the polisher's."""

    order: WorkOrder
    lines: tuple[Line, ...]
    steps_done: int
    steps: int


@dataclass(frozen=True)
class Present:
    """The order on the vice, its lines, the step that is next and how long it has taken so far."""

    order: WorkOrder
    rows: tuple[LineRow, ...]
    row: LineRow | None
    step: Step | None
    after: Step | None
    since: datetime
    minutes: int
    cautions: tuple[str, ...]

    @property
    def all_done(self) -> bool:
        """Return whether every step of every line is signed."""
        return self.step is None


@dataclass(frozen=True)
class Vice:
    """What stands on the page."""

    orders: tuple[ViceOrder, ...]
    present: Present | None


def vice(person: Person, at: datetime, *, order_id: int | None = None, line_id: int | None = None) -> Vice:
    """Return the polisher's orders and the one on the vice: the one asked for, else the first that is on the bench."""
    mine = list(
        WorkOrder.objects.open()
        .for_polisher(person)
        .filter(state__in=MINE)
        .select_related("tool__plant", "tool__customer", "outside_house")
        .prefetch_related(lines_with_steps())
        .order_by(F("due_on").asc(nulls_last=True), "raised_at")
    )
    at_hand = [order for order in mine if order.pk == order_id] or [
        order for order in mine if order.state == State.ON_THE_BENCH
    ]
    return Vice(
        orders=tuple(_row(order) for order in mine),
        present=_present(at_hand[0], person, at, line_id) if at_hand else None,
    )


def _row(order: Any) -> ViceOrder:
    steps = [step for line in order.kept_lines for step in line.steps.all()]
    done = sum(1 for step in steps if step.done_at is not None)
    return ViceOrder(order, tuple(order.kept_lines), done, len(steps))


def _present(order: Any, person: Person, at: datetime, line_id: int | None) -> Present:
    bookings = list(Booking.objects.in_force().filter(line__order=order))
    rows = line_rows(order, order.kept_lines, bookings)
    open_rows = [row for row in rows if row.next_step is not None]
    row = next((row for row in open_rows if row.line.pk == line_id), open_rows[0] if open_rows else None)
    step = row.next_step if row else None
    left = [one for one in row.steps if one.done_at is None] if row else []
    since = _since(order, person, bookings)
    minutes = round((at - since) / timedelta(minutes=1))
    return Present(
        order=order,
        rows=rows,
        row=row,
        step=step,
        after=left[1] if len(left) > 1 else None,
        since=since,
        minutes=max(1, min(minutes, LONGEST_MINUTES)),
        cautions=cautions_for({one.kind for one in left}, row.line.face.insert.steel) if row and row.line.face else (),
    )


def _since(order: WorkOrder, person: Person, bookings: Sequence[Booking]) -> datetime:
    """Return when the present step began: after the person's last booking here, else when the work did."""
    booked = [booking.entered_at for booking in bookings if booking.by_id == person.pk]
    begun = Move.objects.filter(order=order, to_state=State.ON_THE_BENCH).aggregate(at=Max("at"))["at"]
    return max([*booked, *([begun] if begun else [])], default=order.raised_at)
