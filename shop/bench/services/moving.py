"""The one writer of an order's state, and of the move that the database checks."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from shop.bench.models import Line, Move, WorkOrder
from shop.bench.states import ARROWS, ENDED, State
from shop.ledger.services import record_change
from shop.people.models import Person
from shop.press.models import Run
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Tool
from shop.tooling.services import tools


def locked(order: WorkOrder) -> WorkOrder:
    """Return the order as it is now, locked until the transaction ends."""
    found: WorkOrder = WorkOrder.objects.select_for_update().get(pk=order.pk)
    return found


def locked_line(line: Line) -> Line:
    """Return the line as it is now with its order locked; a closed line is refused."""
    order = locked(line.order)
    found: Line = Line.objects.select_for_update().get(pk=line.pk)
    found.order = order
    if found.closed_at is not None:
        raise Refused(
            "line.closed",
            gettext_noop("This line of {order} is closed."),
            next_step=gettext_noop("Add a new line to an open work order."),
            order=order.number,
        )
    return found


def need_state(order: WorkOrder, *states: State) -> None:
    """Refuse unless the order is in one of these states."""
    if order.state not in states:
        raise Refused(
            "order.wrong_state",
            gettext_noop("{order} is {state}; for this it must be {wanted}."),
            next_step=gettext_noop("Reload the work order: somebody may have moved it."),
            order=order.number,
            state=State(order.state).label,
            wanted=" / ".join(str(state.label) for state in states),
        )


def need_why(why: str, code: str = "order.why_missing") -> str:
    """Return the reason without spaces around it; an empty one is refused."""
    if not why.strip():
        raise Refused(
            code, gettext_noop("A reason is missing."), next_step=gettext_noop("Say why, in a few words."), field="why"
        )
    return why.strip()


@transaction.atomic
def move(*, order: WorkOrder, to: State, by: Person, at: datetime, why: str = "") -> WorkOrder:
    """Move the order along an arrow and keep the move; refuse where no arrow leads."""
    given, order = order, locked(order)
    start = State(order.state)
    if to not in ARROWS[start]:
        raise Refused(
            "order.no_arrow",
            gettext_noop("{order} is {state} and cannot become {wanted} from there."),
            next_step=gettext_noop("Reload the work order: somebody may have moved it."),
            order=order.number,
            state=start.label,
            wanted=to.label,
        )
    if to in (State.STOPPED, State.TURNED_DOWN, State.WITHDRAWN):
        why = need_why(why)
    order.state = to
    order.closed_at = at if to in ENDED else None
    order.save(update_fields=["state", "closed_at"])
    Move.objects.create(order=order, from_state=start, to_state=to, why=why, by=by, at=at)
    record_change(order, "state", start, to, by=by, at=at, why=why)
    # Whoever holds the order that was handed in must not go on with the state that it had.
    given.state, given.closed_at = order.state, order.closed_at
    return order


def change(row: Any, *, by: Person, at: datetime, why: str = "", **fields: Any) -> None:
    """Set fields of a row, save those alone and keep each that differs in the trail."""
    changed = []
    for field, new in fields.items():
        old = getattr(row, field)
        if old != new:
            setattr(row, field, new)
            changed.append((field, old, new))
    if changed:
        row.save(update_fields=[field for field, _, _ in changed])
    for field, old, new in changed:
        record_change(row, field, old, new, by=by, at=at, why=why)


def put_tool(tool: Tool, place: Tool.Place, *, by: Person, at: datetime) -> None:
    """Say where the tool is now, unless it is there already or still runs in a press."""
    if tool.place != place and not Run.objects.running().filter(tool=tool).exists():
        tools.move_tool(tool=tool, place=place, by=by, at=at)
