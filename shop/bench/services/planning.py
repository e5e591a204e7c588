"""What the lead decides: accept or turn down, which lines and which work, whose hands and by when."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import IntegrityError, transaction
from django.utils import timezone

from shop.bench.models import Line, OutsideHouse, Work, WorkOrder
from shop.bench.services import laying, moving
from shop.bench.states import AT_WORK, OPEN_TO_PLANNING, State
from shop.ledger.services import once, record_change
from shop.people.models import Person
from shop.people.roles import Ability, may
from shop.refusal import Refused, Saying, gettext_noop
from shop.tooling.models import Face
from shop.tooling.reading import spec_at
from shop.watch.models import Call
from shop.watch.services import calls as watch_calls

MAY_CHANGE_LINES = (*OPEN_TO_PLANNING, *AT_WORK, State.STOPPED)
MAY_BE_GIVEN = (State.ACCEPTED, State.PLANNED, State.STOPPED, *AT_WORK)


@transaction.atomic
def accept(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Accept an order that was raised."""
    return moving.move(order=order, to=State.ACCEPTED, by=by, at=at)


@transaction.atomic
def turn_down(*, order: WorkOrder, why: str, by: Person, at: datetime) -> WorkOrder:
    """Turn a raised order down with a reason; its lines and the calls behind them are closed with it."""
    why = moving.need_why(why)
    order = moving.move(order=order, to=State.TURNED_DOWN, by=by, at=at, why=why)
    _close_lines(order, why, by=by, at=at)
    return order


@transaction.atomic
def withdraw(*, order: WorkOrder, why: str, by: Person, at: datetime) -> WorkOrder:
    """Withdraw an accepted, planned or stopped order with a reason; lines and calls are closed with it."""
    why = moving.need_why(why)
    order = moving.move(order=order, to=State.WITHDRAWN, by=by, at=at, why=why)
    _close_lines(order, why, by=by, at=at)
    return order


@once("work order line", Line, timed=False)
def add_line(
    *,
    order: WorkOrder,
    by: Person,
    at: datetime,
    face: Face | None = None,
    job: str = "",
    work: str = "",
    how: str = "",
    note: str = "",
    answers: Mapping[str, str] | None = None,
    ref: UUID | None = None,  # noqa: ARG001 - read by `once`
) -> Line:
    """Add a face, or a job that rides along, to an order whose steel has not gone to its check."""
    order = moving.locked(order)
    moving.need_state(order, *MAY_CHANGE_LINES)
    if face is None:
        if not job.strip():
            raise Refused("line.empty", gettext_noop("Name a face or a job."), field="job")
        line: Line = Line.objects.create(order=order, job=job.strip(), note=note)
        record_change(line, "job", None, line.job, by=by, at=at)
        return line
    if face.insert.tool_id != order.tool_id:
        raise Refused(
            "line.other_tool",
            gettext_noop("{face} does not belong to tool {tool}."),
            next_step=gettext_noop("Raise a work order for its own tool."),
            face=str(face),
            tool=order.tool.number,
        )
    line = _add_face(order, face, Work(work or Work.KISS), how, note, answers or {}, at=at)
    record_change(line, "work", None, line.work, by=by, at=at)
    return line


@transaction.atomic
def drop_line(*, line: Line, why: str, by: Person, at: datetime) -> Line:
    """Drop a line with a reason before its work begins; the calls it answered are closed."""
    why = moving.need_why(why)
    line = moving.locked_line(line)
    moving.need_state(line.order, *OPEN_TO_PLANNING, State.STOPPED)
    moving.change(line, by=by, at=at, why=why, closed_at=at, dropped_because=why)
    _close_calls(line, "call.line_dropped", gettext_noop("Dropped from {order}: {why}"), why, by=by, at=at)
    return line


@transaction.atomic
def set_work(
    *,
    line: Line,
    work: str,
    by: Person,
    at: datetime,
    how: str = "",
    note: str | None = None,
    answers: Mapping[str, str] | None = None,
) -> Line:
    """Choose the work of a line and how the finish is put back; the route is laid anew behind what is done."""
    line = moving.locked_line(line)
    moving.need_state(line.order, *MAY_CHANGE_LINES)
    if line.face is None:
        raise Refused("line.job_has_no_route", gettext_noop("A job without a face has no route."))
    _ask_owner(line.order, Work(work), answers or {})
    moving.change(
        line, by=by, at=at, work=Work(work).value, how=how or line.how, note=line.note if note is None else note
    )
    laying.lay(line, at=at)
    return line


@transaction.atomic
def give_to(
    *,
    order: WorkOrder,
    polisher: Person,
    due_on: date,
    by: Person,
    at: datetime,
) -> WorkOrder:
    """Give an order to a polisher with a due date; a house that it is planned for stays beside."""
    if not polisher.is_active or polisher.plant_id != order.tool.plant_id or not may(polisher, Ability.BENCH_WORK):
        raise Refused(
            "order.not_a_polisher",
            gettext_noop("{name} cannot work at this bench."),
            next_step=gettext_noop("Choose a polisher of this plant."),
            field="polisher",
            name=polisher.name,
        )
    return _plan(order, due_on, by=by, at=at, polisher=polisher)


@transaction.atomic
def send_to(
    *,
    order: WorkOrder,
    outside_house: OutsideHouse,
    due_on: date,
    by: Person,
    at: datetime,
    answers: Mapping[str, str] | None = None,
) -> WorkOrder:
    """Plan an order for an outside house; a due date inside the house's lead time is questioned."""
    if outside_house.plant_id != order.tool.plant_id:
        raise Refused(
            "order.other_plants_house", gettext_noop("{house} works for another plant."), house=outside_house.name
        )
    earliest = _day(order, at) + timedelta(days=outside_house.lead_time_days)
    if due_on < earliest and (answers or {}).get("due.inside_lead_time") != "yes_agreed":
        raise Refused(
            "due.inside_lead_time",
            gettext_noop("{house} needs {days} days; due {due_on} is before {earliest}."),
            next_step=gettext_noop("Choose a later day, or confirm that the house has agreed."),
            field="due_on",
            question=True,
            choices=(("yes_agreed", gettext_noop("The house has agreed to this day")),),
            house=outside_house.name,
            days=outside_house.lead_time_days,
            due_on=due_on,
            earliest=earliest,
        )
    return _plan(order, due_on, by=by, at=at, outside_house=outside_house)


@transaction.atomic
def take_back(*, order: WorkOrder, by: Person, at: datetime, why: str = "") -> WorkOrder:
    """Take a planned order back to accepted: nobody has it any more."""
    order = moving.move(order=order, to=State.ACCEPTED, by=by, at=at, why=why)
    moving.change(order, by=by, at=at, why=why, polisher=None, outside_house=None, due_on=None)
    return order


def _plan(
    order: WorkOrder,
    due_on: date,
    *,
    by: Person,
    at: datetime,
    polisher: Person | None = None,
    outside_house: OutsideHouse | None = None,
) -> WorkOrder:
    order = moving.locked(order)
    moving.need_state(order, *MAY_BE_GIVEN)
    if due_on < _day(order, at):
        raise Refused("due.in_past", gettext_noop("{due_on} has passed."), field="due_on", due_on=due_on)
    moving.change(
        order,
        by=by,
        at=at,
        polisher=polisher or order.polisher,
        outside_house=outside_house or order.outside_house,
        due_on=due_on,
    )
    if order.state in (State.ACCEPTED, State.STOPPED):
        order = moving.move(order=order, to=State.PLANNED, by=by, at=at)
    return order


def _day(order: WorkOrder, at: datetime) -> date:
    return timezone.localdate(at, ZoneInfo(order.tool.plant.time_zone))


def _add_face(
    order: WorkOrder, face: Face, work: Work, how: str, note: str, answers: Mapping[str, str], *, at: datetime
) -> Line:
    Face.objects.select_for_update().get(pk=face.pk)
    taken = Line.objects.open().filter(face=face).select_related("order").first()
    if taken is not None:
        raise Refused(
            "line.face_taken",
            gettext_noop("{face} already has an open line in {order}."),
            next_step=gettext_noop("Work on that line, or drop it first."),
            face=str(face),
            order=taken.order.number,
        )
    _ask_owner(order, work, answers)
    spec = spec_at(face, at)
    try:
        line: Line = Line.objects.create(
            order=order, face=face, spec=spec, work=work, how=how or (spec.how_made if spec else ""), note=note
        )
    except IntegrityError as rival:
        raise Refused("line.face_taken", gettext_noop("{face} already has an open line."), face=str(face)) from rival
    laying.lay(line, at=at)
    return line


def _ask_owner(order: WorkOrder, work: Work, answers: Mapping[str, str]) -> None:
    """Ask before a customer's own steel is cut."""
    if work == Work.RECUT and order.tool.owner and answers.get("steel.customers") != "customer_agreed":
        raise Refused(
            "steel.customers",
            gettext_noop("The steel of {tool} belongs to {owner}: it is not cut before they are asked."),
            next_step=gettext_noop("Ask the owner, or choose lighter work."),
            field="work",
            question=True,
            choices=(("customer_agreed", gettext_noop("The owner has agreed")),),
            tool=order.tool.number,
            owner=order.tool.owner,
        )


def _close_lines(order: WorkOrder, why: str, *, by: Person, at: datetime) -> None:
    for line in order.lines.open():
        moving.change(line, by=by, at=at, why=why, closed_at=at, dropped_because=why)
        _close_calls(line, "call.order_ended", gettext_noop("{order} was not done: {why}"), why, by=by, at=at)


def _close_calls(line: Line, code: str, template: str, why: str, *, by: Person, at: datetime) -> None:
    for call in Call.objects.open().filter(line_call__line=line):
        watch_calls.close(call, Saying(code, template, {"order": line.order.number, "why": why}), by=by, at=at)
