"""At my vice: one polisher's work in order, the present step large, and the clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import F, Max
from django.utils import timezone

from shop.bench.models import Booking, Line, Move, Step, WorkOrder
from shop.bench.states import State
from shop.boards.order_sheet import LineRow, line_rows, lines_with_steps
from shop.craft.cautions import cautions_for
from shop.people.models import Person

TO_DO = (State.ON_THE_BENCH, State.STOPPED, State.PLANNED)
WITH_OTHERS = (State.SENT_OUT, State.STEEL_CHECK, State.PARTS_CHECK)
# A clock that was left running overnight proposes no more than this.
LONGEST_MINUTES = 480


@dataclass(frozen=True)
class ViceOrder:
    """One order of the polisher's."""

    order: WorkOrder
    lines: tuple[Line, ...]
    steps_done: int
    steps: int
    late: bool


@dataclass(frozen=True)
class Present:
    """The order on the vice, or the one to begin with: its lines, the step that is next, how long it has taken."""

    order: WorkOrder
    rows: tuple[LineRow, ...]
    row: LineRow | None
    after: Step | None
    since: datetime
    since_today: bool
    minutes: int
    cautions: tuple[str, ...]

    @property
    def step(self) -> Step | None:
        """Return the step that is next, None where every step is signed."""
        return self.row.next_step if self.row else None

    @property
    def jobs(self) -> tuple[LineRow, ...]:
        """Return the jobs that ride along: they have no steps."""
        return tuple(row for row in self.rows if row.line.face_id is None)

    @property
    def face_rows(self) -> tuple[LineRow, ...]:
        """Return the lines that have a face."""
        return tuple(row for row in self.rows if row.line.face_id is not None)

    @property
    def offers(self) -> frozenset[str]:
        """Return the acts that the page offers on it."""
        if self.order.state == State.PLANNED:
            return frozenset({"start"})
        if self.order.state == State.ON_THE_BENCH:
            return frozenset({"stop", "step" if self.step else "hand_over"})
        return frozenset()


@dataclass(frozen=True)
class Vice:
    """What stands on the page: what is to do, the next due first, and what was handed on to others."""

    to_do: tuple[ViceOrder, ...]
    with_others: tuple[ViceOrder, ...]
    present: Present | None


def vice(person: Person, at: datetime, *, order_id: int | None = None, line_id: int | None = None) -> Vice:
    """Return the polisher's orders and the one on the vice.

    That is the one asked for, else the first that is on the bench, else the first that may be begun.
    """
    mine = list(
        WorkOrder.objects.open()
        .for_polisher(person)
        .filter(state__in=(*TO_DO, *WITH_OTHERS))
        .select_related("tool__plant", "tool__customer", "outside_house")
        .prefetch_related(lines_with_steps())
        .order_by(F("due_on").asc(nulls_last=True), "raised_at")
    )
    chosen = (
        [order for order in mine if order.pk == order_id]
        or [order for order in mine if order.state == State.ON_THE_BENCH]
        or [order for order in mine if order.state == State.PLANNED]
    )
    today = timezone.localdate(at)
    return Vice(
        to_do=tuple(_row(order, today) for order in mine if order.state in TO_DO),
        with_others=tuple(_row(order, today) for order in mine if order.state in WITH_OTHERS),
        present=_present(chosen[0], person, at, line_id) if chosen else None,
    )


def _row(order: Any, today: date) -> ViceOrder:
    steps = [step for line in order.kept_lines for step in line.steps.all()]
    done = sum(1 for step in steps if step.done_at is not None)
    late = order.due_on is not None and order.due_on < today
    return ViceOrder(order, tuple(order.kept_lines), done, len(steps), late)


def _present(order: Any, person: Person, at: datetime, line_id: int | None) -> Present:
    bookings = list(Booking.objects.in_force().filter(line__order=order))
    rows = line_rows(order, [line for line in order.kept_lines if line.closed_at is None], bookings)
    open_rows = [row for row in rows if row.next_step is not None]
    row = next((row for row in open_rows if row.line.pk == line_id), open_rows[0] if open_rows else None)
    left = [one for one in row.steps if one.done_at is None] if row else []
    since = _since(order, person, bookings)
    minutes = round((at - since) / timedelta(minutes=1))
    return Present(
        order=order,
        rows=rows,
        row=row,
        after=left[1] if len(left) > 1 else None,
        since=since,
        since_today=timezone.localdate(since) == timezone.localdate(at),
        minutes=max(1, min(minutes, LONGEST_MINUTES)),
        cautions=cautions_for({one.kind for one in left}, row.line.face.insert.steel) if row and row.line.face else (),
    )


def _since(order: WorkOrder, person: Person, bookings: Sequence[Booking]) -> datetime:
    """Return when the present step began: after the person's last booking here, else when the work did."""
    booked = [booking.entered_at for booking in bookings if booking.by_id == person.pk]
    begun = Move.objects.filter(order=order, to_state=State.ON_THE_BENCH).aggregate(at=Max("at"))["at"]
    return max([*booked, *([begun] if begun else [])], default=order.raised_at)
