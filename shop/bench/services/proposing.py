"""What calls propose: one visit a tool with a line a face, and what becomes of it when they are answered."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import Q

from shop.bench.models import Line, LineCall, Move, Work, WorkOrder
from shop.bench.services import laying, moving
from shop.bench.states import State
from shop.people.models import Person
from shop.quality.models import Reading
from shop.refusal import gettext_noop
from shop.tooling.models import Face, Tool
from shop.tooling.reading import spec_at
from shop.watch.models import Call

HOLD = timedelta(days=7)
LOOK_AT = gettext_noop("Look at: {kind}, reported {day}")
LOOK_AT_DAMAGE = gettext_noop("Look at the damage that was reported")
NO_LONGER_CALLED = gettext_noop("no longer called")
ANSWERED = gettext_noop("all its calls are answered")


@transaction.atomic
def propose(calls: Iterable[Call], *, by: Person, at: datetime) -> list[WorkOrder]:
    """Put each call that wants bench work on a line, and return the orders that were raised or gained by it.

    A call joins the open line of its face wherever that is; else it gets a line in the tool's order that has not
    begun, else a new order is raised. A call whose like was turned down stays off the bench for seven days unless
    something new was measured or reported since. Calls that already have a line, or are closed, are passed over.
    """
    tools = sorted({call.tool_id for call in calls})
    # The tools are locked in one order, so that two sweeps neither raise the same twice nor wait for each other.
    list(Tool.objects.select_for_update().filter(pk__in=tools).order_by("pk"))
    waiting = Call.objects.open().wanting_bench_work().filter(
        pk__in=[call.pk for call in calls], line_call__isnull=True
    )
    touched: dict[int, WorkOrder] = {}
    for call in waiting.select_related("tool", "face__insert").order_by("tool_id", "opened_at", "id"):
        line = _line_of(call)
        if line is not None:
            _join(line, call, by=by, at=at)
        elif held_back(call, at=at):
            continue
        else:
            line = _new_line(call, by=by, at=at)
        touched[line.order_id] = line.order
    return list(touched.values())


def unanswered(tool: Tool) -> list[Call]:
    """Return the tool's open calls that want bench work and have no line yet."""
    return list(Call.objects.open().wanting_bench_work().filter(tool=tool, line_call__isnull=True))


def held_back(call: Call, *, at: datetime) -> bool:
    """Return whether the lead turned down such a call in the last seven days and nothing new is known since."""
    refused = (
        LineCall.objects.filter(
            Q(line__order__state__in=[State.TURNED_DOWN, State.WITHDRAWN]) | ~Q(line__dropped_because=""),
            call__tool=call.tool_id,
            call__face=call.face_id,
            call__cause=call.cause,
            line__closed_at__gt=at - HOLD,
            line__closed_at__lte=at,
        )
        .exclude(line__dropped_because__in=[NO_LONGER_CALLED, ANSWERED])
        .order_by("-line__closed_at")
        .values_list("line__closed_at", flat=True)
        .first()
    )
    if refused is None:
        return False
    if call.evidence.filter(damage__isnull=False, at__gt=refused).exists():
        return False
    return not Reading.objects.in_force().filter(face=call.face_id, at__gt=refused).exists()


@transaction.atomic
def withdraw_if_answered(calls: Iterable[Call], *, by: Person, at: datetime) -> list[WorkOrder]:
    """Take back what closed calls had raised, as long as nobody has accepted it; return the orders withdrawn.

    A line of a raised order whose calls are all closed is dropped; an order left without a line is withdrawn. Once
    accepted, an order is the lead's to withdraw.
    """
    ids = LineCall.objects.filter(call__in=list(calls)).values_list("line__order", flat=True)
    withdrawn = []
    for order in WorkOrder.objects.select_for_update().filter(pk__in=list(ids), state=State.RAISED).order_by("pk"):
        open_lines = list(order.lines.open())
        answered = [line for line in open_lines if _all_calls_closed(line)]
        whole = len(answered) == len(open_lines)
        for line in answered:
            because = ANSWERED if whole else NO_LONGER_CALLED
            moving.change(line, by=by, at=at, closed_at=at, dropped_because=because)
        if answered and whole:
            withdrawn.append(moving.move(order=order, to=State.WITHDRAWN, by=by, at=at, why=ANSWERED))
    return withdrawn


@transaction.atomic
def raise_order(*, tool: Tool, by: Person, at: datetime, why: str = "") -> WorkOrder:
    """Raise an empty work order for the tool; the number follows the last one of this database."""
    order = _numbered(tool, at)
    Move.objects.create(order=order, from_state="", to_state=State.RAISED, why=why, by=by, at=at)
    return order


def _numbered(tool: Tool, at: datetime) -> WorkOrder:
    while True:
        last = WorkOrder.objects.order_by("-pk").values_list("number", flat=True).first()
        number = f"WO-{int(last.removeprefix('WO-')) + 1 if last else 1:04d}"
        try:
            # The database waits for a rival with the same number and then refuses ours: the next one is free.
            with transaction.atomic():
                order: WorkOrder = WorkOrder.objects.create(number=number, tool=tool, raised_at=at)
                return order
        except IntegrityError:
            if not WorkOrder.objects.filter(number=number).exists():
                raise


def _line_of(call: Call) -> Line | None:
    """Return the open line that the call belongs to: its face's, or the tool's line for damage without a face."""
    lines = Line.objects.open().select_related("order")
    if call.face_id is None:
        found: Line | None = lines.filter(order__tool=call.tool_id, face__isnull=True, cause=call.cause).first()
        return found
    of_face: Line | None = lines.filter(face=call.face_id).order_by("id").first()
    return of_face


def _new_line(call: Call, *, by: Person, at: datetime) -> Line:
    order = WorkOrder.objects.select_for_update().filter(tool=call.tool_id).not_begun().order_by("id").first()
    if order is None:
        order = raise_order(tool=call.tool, by=by, at=at)
    if call.face is None:
        job, values = _look_at(call)
        line = Line.objects.create(order=order, job=job, job_values=values, cause=call.cause)
    else:
        line = _face_line(order, call.face, call, at=at)
    _attach(line, call, by=by, at=at)
    return line


def _look_at(call: Call) -> tuple[str, dict[str, Any]]:
    """Return the job that damage of no one face makes, to look at what was reported first: a template and values."""
    values = call.evidence.order_by("at", "id").values_list("values", flat=True).first() or {}
    said = {name: values[name] for name in ("kind", "day") if name in values}
    return (LOOK_AT, said) if len(said) == 2 else (LOOK_AT_DAMAGE, {"kind": values.get("kind")})


def _face_line(order: WorkOrder, face: Face, call: Call, *, at: datetime) -> Line:
    spec = spec_at(face, at)
    work = laying.lightest_for(call, spec)
    line = Line.objects.create(
        order=order, face=face, spec=spec, cause=call.cause, work=work, how=spec.how_made if spec else ""
    )
    laying.lay(line, at=at)
    return line


def _join(line: Line, call: Call, *, by: Person, at: datetime) -> None:
    """Add the call to the line; while nobody has accepted the order, the work grows to what both need."""
    _attach(line, call, by=by, at=at)
    if line.face_id is None or line.order.state != State.RAISED:
        return
    heavier = laying.lightest_for(call, line.spec)
    if list(Work).index(heavier) > list(Work).index(Work(line.work)):
        moving.change(line, by=by, at=at, work=heavier)
        laying.lay(line, at=at)


def _attach(line: Line, call: Call, *, by: Person, at: datetime) -> None:
    frozen = [
        {"code": evidence.code, "values": evidence.values, "at": evidence.at.isoformat()}
        for evidence in call.evidence.order_by("at", "id")
    ]
    LineCall.objects.create(line=line, call=call, evidence=frozen, by=by, at=at)


def _all_calls_closed(line: Line) -> bool:
    calls = line.line_calls.all()
    return calls.exists() and not calls.filter(call__closed_at__isnull=True).exists()
