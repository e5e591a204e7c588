"""The work itself: start, the steps in order, minutes, stop and resume, out and back, hand over to the steel check."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from shop.bench.models import Booking, Line, Move, Step, WorkOrder
from shop.bench.services import moving
from shop.bench.states import AT_WORK, State
from shop.ledger.services import once
from shop.paper.models import StoredFile
from shop.people.models import Person
from shop.press.models import Run
from shop.refusal import Refused, Word, gettext_noop
from shop.tooling.models import SteelEntry, Tool

MAY_BOOK = (*AT_WORK, State.STOPPED, State.STEEL_CHECK, State.PARTS_CHECK, State.RELEASED)


@transaction.atomic
def start(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Begin a planned order: on the bench where it has a polisher, else sent out; the tool goes along.

    Raises
    ------
    Refused
        While the tool runs in a press, and where a line would take steel that the face does not have.
    """
    order = moving.locked(order)
    moving.need_state(order, State.PLANNED)
    if not order.lines.open().exists():
        raise Refused(
            "order.empty",
            gettext_noop("{order} has no line."),
            next_step=gettext_noop("Add a face or a job, or withdraw it."),
            order=order.number,
        )
    _out_of_the_press(order)
    for line in order.lines.open().filter(face__isnull=False).select_related("face"):
        check_steel(line)
    return _to_work(order, State.ON_THE_BENCH if order.polisher_id else State.SENT_OUT, by=by, at=at)


@transaction.atomic
def send_out(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Send an order that was prepared at the bench on to its outside house."""
    order = moving.locked(order)
    moving.need_state(order, State.ON_THE_BENCH)
    if order.outside_house_id is None:
        raise Refused(
            "order.no_house",
            gettext_noop("{order} has no outside house."),
            next_step=gettext_noop("Let the lead choose one with a due date."),
            order=order.number,
        )
    return _to_work(order, State.SENT_OUT, by=by, at=at)


@transaction.atomic
def come_back(*, order: WorkOrder, by: Person, at: datetime, to_bench: bool = False) -> WorkOrder:
    """Take a tool back from outside: to its steel check, or to the bench where there is more to do."""
    order = moving.locked(order)
    moving.need_state(order, State.SENT_OUT)
    if to_bench:
        return _to_work(order, State.ON_THE_BENCH, by=by, at=at)
    moving.put_tool(order.tool, Tool.Place.BENCH, by=by, at=at)
    return moving.move(order=order, to=State.STEEL_CHECK, by=by, at=at)


@transaction.atomic
def stop(*, order: WorkOrder, why: str, by: Person, at: datetime) -> WorkOrder:
    """Stop the work with a reason: pitting, a crack, a missing medium."""
    return moving.move(order=order, to=State.STOPPED, by=by, at=at, why=moving.need_why(why))


@transaction.atomic
def resume(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Go on where the work was stopped: on the bench, or outside."""
    order = moving.locked(order)
    moving.need_state(order, State.STOPPED)
    stopped = Move.objects.filter(order=order, to_state=State.STOPPED).order_by("-id").first()
    return _to_work(order, State(stopped.from_state) if stopped else State.ON_THE_BENCH, by=by, at=at)


@transaction.atomic
def step_done(*, step: Step, by: Person, at: datetime) -> Step:
    """Sign a step as done, in the order of the route; a step that is signed stays as it was signed."""
    line = moving.locked_line(step.line)
    moving.need_state(line.order, *AT_WORK)
    step = Step.objects.select_for_update().get(pk=step.pk)
    if step.done_at is not None:
        return step
    before = line.steps.filter(number__lt=step.number, done_at__isnull=True).first()
    if before is not None:
        raise Refused(
            "step.out_of_order",
            gettext_noop("Step {number} waits for step {before}, {kind} {grain}."),
            next_step=gettext_noop("Sign the earlier step first: each removes the marks of the one before."),
            number=step.number,
            before=before.number,
            kind=Word(before.kind),
            grain=before.grain,
        )
    moving.change(step, by=by, at=at, done_at=at, done_by=by)
    return step


@once("booking", Booking, timed=False)
def book(
    *,
    line: Line,
    minutes: int,
    by: Person,
    at: datetime,
    step: Step | None = None,
    note: str = "",
    photo: StoredFile | None = None,
    ref: UUID | None = None,  # noqa: ARG001 - read by `once`
) -> Booking:
    """Book minutes of one's own on a line, and on one of its steps where it is named."""
    _minutes_possible(minutes)
    order = moving.locked(line.order)
    moving.need_state(order, *MAY_BOOK)
    if step is not None and step.line_id != line.pk:
        raise Refused("booking.other_step", gettext_noop("This step belongs to another line."), field="step")
    return Booking.objects.create(line=line, step=step, minutes=minutes, note=note, photo=photo, by=by, at=at)


@transaction.atomic
def finish_step(
    *, step: Step, minutes: int | None, by: Person, at: datetime, note: str = "", ref: UUID | None = None
) -> Step:
    """Sign a step and book the minutes it took, both or neither."""
    if minutes:
        book(line=step.line, step=step, minutes=minutes, note=note, by=by, at=at, ref=ref)
    return step_done(step=step, by=by, at=at)


@transaction.atomic
def correct_booking(*, booking: Booking, why: str, by: Person, at: datetime, minutes: int | None = None) -> Booking:
    """Put a booking right, or take it away where no minutes are given; the old one stays beneath."""
    if hasattr(booking, "superseded_by"):
        raise Refused(
            "booking.corrected_before",
            gettext_noop("This booking was put right already."),
            next_step=gettext_noop("Correct the later one."),
        )
    if minutes is not None:
        _minutes_possible(minutes)
    return Booking.objects.create(
        line_id=booking.line_id,
        step_id=booking.step_id,
        minutes=booking.minutes if minutes is None else minutes,
        void=minutes is None,
        note=booking.note,
        supersedes=booking,
        why=moving.need_why(why),
        by=by,
        at=at,
    )


@transaction.atomic
def hand_over(*, order: WorkOrder, by: Person, at: datetime, answers: Mapping[str, str] | None = None) -> WorkOrder:
    """Hand the work over to the steel check; steps that nobody signed are asked about."""
    order = moving.locked(order)
    moving.need_state(order, *AT_WORK)
    undone = Step.objects.filter(line__order=order, line__closed_at__isnull=True, done_at__isnull=True)
    if (count := undone.count()) and (answers or {}).get("handover.steps_open") != "not_needed":
        raise Refused(
            "handover.steps_open",
            gettext_noop("{count} steps of {order} are not signed."),
            next_step=gettext_noop("Sign what is done, or confirm that the rest was not needed."),
            question=True,
            choices=(("not_needed", gettext_noop("The other steps were not needed")),),
            count=count,
            order=order.number,
        )
    moving.put_tool(order.tool, Tool.Place.BENCH, by=by, at=at)
    return moving.move(order=order, to=State.STEEL_CHECK, by=by, at=at)


def check_steel(line: Line) -> None:
    """Refuse where the line's work would take more steel than its face has to give."""
    left = SteelEntry.objects.left_by_face([line.face_id])[line.face_id] if line.face_id else None
    if left is not None and line.work != "re-cut" and (wanted := steel_to_book(line)) > left:
        raise Refused(
            "steel.not_there",
            gettext_noop("{work} takes {wanted} µm of {face}, which has {left} µm to give."),
            next_step=gettext_noop("Choose lighter work, or plan a re-cut."),
            field="work",
            work=line.get_work_display(),
            wanted=wanted,
            face=str(line.face),
            left=left,
        )


def steel_to_book(line: Line) -> Decimal:
    """Return the steel that the line's plan takes beyond what was booked for it before. [um]"""
    booked = (
        SteelEntry.objects.in_force()
        .filter(face=line.face_id, kind="taken", work__startswith=f"{line.order.number} ")
        .values_list("depth_um", flat=True)
    )
    return max(Decimal(0), (line.planned_steel_um or Decimal(0)) - sum(booked, Decimal(0)))


def _minutes_possible(minutes: int) -> None:
    if not 0 < minutes <= 1440:
        raise Refused(
            "booking.minutes",
            gettext_noop("{minutes} minutes cannot be booked: one booking is 1 to {limit} minutes."),
            next_step=gettext_noop("Book each day by itself."),
            field="minutes",
            minutes=minutes,
            limit=1440,
        )


def _out_of_the_press(order: WorkOrder) -> None:
    run = Run.objects.running().filter(tool=order.tool_id).select_related("press").first()
    if run is not None:
        raise Refused(
            "order.tool_in_press",
            gettext_noop("Tool {tool} runs in press {press}."),
            next_step=gettext_noop("End the run and pull the tool first."),
            tool=order.tool.number,
            press=run.press.name,
        )


def _to_work(order: WorkOrder, to: State, *, by: Person, at: datetime) -> WorkOrder:
    order = moving.move(order=order, to=to, by=by, at=at)
    place = Tool.Place.SENT_OUT if to == State.SENT_OUT else Tool.Place.BENCH
    moving.put_tool(order.tool, place, by=by, at=at)
    return order

