"""The signatures of an order: the steel at the bench, the parts at the press, the customer's, the release."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from shop.bench.models import Booking, Passing, Step, WorkOrder
from shop.bench.services import checking, doubting, moving
from shop.bench.states import State
from shop.people.models import Person
from shop.quality.models import Inspection
from shop.refusal import Refused, Saying, gettext_noop
from shop.tooling.models import Tool
from shop.watch.models import Call
from shop.watch.services import calls as watch_calls

STAGE = Passing.Stage


@transaction.atomic
def pass_steel(
    *,
    order: WorkOrder,
    passed: bool,
    by: Person,
    at: datetime,
    inspection: Inspection | None = None,
    why: str = "",
) -> Passing:
    """Sign the steel at the bench: passed on to the press, or back to where the work was done.

    It passes when every steel and replica limit of the finishes that were changed was judged in a steel check since
    the work was handed over, and conforms. What is not proven, and a face that only the eye can judge, want a reason.
    """
    order = moving.locked(order)
    moving.need_state(order, State.STEEL_CHECK)
    checked = checking.steel(order, at)
    inspection = _its_own(order, inspection, checked)
    if not passed:
        return _not_passed(order, STAGE.STEEL, inspection, why, by=by, at=at)
    doubting.refuse_in_doubt(order, checked)
    why = _may_pass(checked, why)
    signed = Passing.objects.create(
        order=order, stage=STAGE.STEEL, passed=True, inspection=inspection, why=why, by=by, at=at
    )
    moving.move(order=order, to=State.PARTS_CHECK, by=by, at=at)
    moving.put_tool(order.tool, Tool.Place.RACK, by=by, at=at)
    return signed


@transaction.atomic
def pass_parts(
    *,
    order: WorkOrder,
    passed: bool,
    by: Person,
    at: datetime,
    inspection: Inspection | None = None,
    why: str = "",
) -> Passing:
    """Sign the parts at the press, on first-offs since the steel passed; where they fail the tool goes back.

    Parts that have passed are not signed twice: the signature that there is is returned.
    """
    order = moving.locked(order)
    moving.need_state(order, State.PARTS_CHECK)
    checked = checking.parts(order, at)
    inspection = _its_own(order, inspection, checked)
    if not passed:
        return _not_passed(order, STAGE.PARTS, inspection, why, by=by, at=at)
    if (before := _passed(order, STAGE.PARTS)) is not None:
        return before
    doubting.refuse_in_doubt(order, checked)
    why = _may_pass(checked, why)
    return Passing.objects.create(
        order=order, stage=STAGE.PARTS, passed=True, inspection=inspection, why=why, by=by, at=at
    )


@transaction.atomic
def buy_off(
    *, order: WorkOrder, signed_for: str, passed: bool, by: Person, at: datetime, why: str = ""
) -> Passing:
    """Enter the customer's own signature, by the name of who signed; where they decline the tool goes back."""
    order = moving.locked(order)
    moving.need_state(order, State.PARTS_CHECK)
    if not signed_for.strip():
        raise Refused("buy_off.no_name", gettext_noop("Who signed for the customer?"), field="signed_for")
    _parts_have_passed(order)
    if not passed:
        return _not_passed(order, STAGE.CUSTOMER, None, why, by=by, at=at, signed_for=signed_for.strip())
    if (before := _passed(order, STAGE.CUSTOMER)) is not None:
        return before
    return Passing.objects.create(
        order=order, stage=STAGE.CUSTOMER, passed=True, signed_for=signed_for.strip(), why=why, by=by, at=at
    )


@transaction.atomic
def release(*, order: WorkOrder, by: Person, at: datetime, override_why: str = "") -> Passing:
    """Release the tool to production; its lines are closed, and the calls they answer.

    Raises
    ------
    Refused
        Before the parts, and the customer where wanted, have passed; while they rest on a reading in doubt; and to
        whoever worked on the order, unless the plant allows it by name with a reason.
    """
    order = moving.locked(order)
    moving.need_state(order, State.PARTS_CHECK)
    _parts_have_passed(order)
    if order.tool.customer.buy_off and not _passed(order, STAGE.CUSTOMER):
        raise Refused(
            "release.no_buy_off",
            gettext_noop("{customer} signs before {order} is released, and has not."),
            next_step=gettext_noop("Enter the customer's buy-off first."),
            customer=order.tool.customer.name,
            order=order.number,
        )
    doubting.refuse_withdrawn(order, at)
    override = by.pk in hands_of(order)
    if override:
        override_why = _allowed_override(order, by, override_why)
    signed = Passing.objects.create(
        order=order,
        stage=STAGE.RELEASE,
        passed=True,
        override=override,
        why=override_why if override else "",
        by=by,
        at=at,
    )
    order = moving.move(order=order, to=State.RELEASED, by=by, at=at)
    _answer(order, by=by, at=at)
    return signed


def hands_of(order: WorkOrder) -> set[int]:
    """Return who worked on the order: had it given, booked minutes on it or signed a step."""
    hands = set(Booking.objects.in_force().filter(line__order=order).values_list("by", flat=True))
    hands |= set(Step.objects.filter(line__order=order, done_by__isnull=False).values_list("done_by", flat=True))
    return hands | ({order.polisher_id} if order.polisher_id else set())


def _its_own(order: WorkOrder, inspection: Inspection | None, checked: checking.Checked) -> Inspection | None:
    """Return the inspection that the signature names: the one given, else the latest that counts."""
    if inspection is not None and inspection.tool_id != order.tool_id:
        raise Refused(
            "pass.other_tool",
            gettext_noop("This inspection was made on another tool than {tool}."),
            field="inspection",
            tool=order.tool.number,
        )
    if inspection is not None and inspection.pk not in checked.inspections:
        raise Refused(
            "pass.other_inspection",
            gettext_noop("This {kind} holds no verdict that {order} now asks for."),
            next_step=gettext_noop("Sign on a check that was made since the order reached this stage."),
            field="inspection",
            kind=inspection.get_kind_display(),
            order=order.number,
        )
    if inspection is None and checked.inspections:
        return Inspection.objects.get(pk=checked.inspections[-1])
    return inspection


def _may_pass(checked: checking.Checked, why: str) -> str:
    """Refuse what is missing or off spec; ask for a reason where the verdicts alone do not carry it."""
    if checked.off_spec:
        worst = checked.off_spec[0]
        raise Refused(
            "pass.off_spec",
            gettext_noop("{face} {parameter} {value} is off spec."),
            next_step=gettext_noop("Send it back to the bench, or ask for a concession and measure again."),
            face=str(worst.face),
            parameter=worst.get_parameter_display(),
            value=worst.statistic,
            count=len(checked.off_spec),
        )
    if checked.missing:
        raise Refused(
            "pass.not_measured",
            gettext_noop("Not measured yet: {missing}."),
            next_step=gettext_noop("Measure it, then sign."),
            missing="; ".join(want.words for want in checked.missing),
        )
    if checked.not_proven and not why.strip():
        first = checked.not_proven[0]
        raise Refused(
            "pass.not_proven",
            gettext_noop("{face} {parameter} {value} is not proven either way."),
            next_step=gettext_noop("Say who carries it and why, or measure again with less uncertainty."),
            field="why",
            face=str(first.face),
            parameter=first.get_parameter_display(),
            value=first.statistic,
        )
    if checked.by_eye and not why.strip():
        raise Refused(
            "pass.by_eye",
            gettext_noop("Nothing here is measured on {faces}: it is passed by eye."),
            next_step=gettext_noop("Say what was looked at and how."),
            field="why",
            faces=", ".join(str(face) for face in checked.by_eye),
        )
    return why.strip()


def _not_passed(
    order: WorkOrder,
    stage: Passing.Stage,
    inspection: Inspection | None,
    why: str,
    *,
    by: Person,
    at: datetime,
    signed_for: str = "",
) -> Passing:
    why = moving.need_why(why, "pass.why_missing")
    signed = Passing.objects.create(
        order=order, stage=stage, passed=False, inspection=inspection, signed_for=signed_for, why=why, by=by, at=at
    )
    back = State.ON_THE_BENCH if order.polisher_id else State.SENT_OUT
    moving.move(order=order, to=back, by=by, at=at, why=why)
    moving.put_tool(order.tool, Tool.Place.BENCH, by=by, at=at)
    return signed


def _passed(order: WorkOrder, stage: Passing.Stage) -> Passing | None:
    """Return the signature by which the stage has passed since the steel did; it is given once."""
    signed = checking.signed_since(order, stage)
    return signed if signed is not None and signed.passed else None


def _parts_have_passed(order: WorkOrder) -> None:
    if not _passed(order, STAGE.PARTS):
        raise Refused(
            "release.no_parts",
            gettext_noop("The parts of {order} have not passed since its steel did."),
            next_step=gettext_noop("Run the first-offs, measure them and sign the parts."),
            order=order.number,
        )


def _allowed_override(order: WorkOrder, by: Person, why: str) -> str:
    if not order.tool.plant.release_override:
        raise Refused(
            "release.own_work",
            gettext_noop("{name} worked on {order} and does not release it."),
            next_step=gettext_noop("Ask the lead or quality to release it."),
            name=by.name,
            order=order.number,
        )
    if not why.strip():
        raise Refused(
            "release.override_why",
            gettext_noop("{name} worked on {order}: releasing it wants a reason, which is shown on the record."),
            next_step=gettext_noop("Say why nobody else can, or ask another person."),
            field="override_why",
            name=by.name,
            order=order.number,
        )
    return why.strip()


def _answer(order: WorkOrder, *, by: Person, at: datetime) -> None:
    answered = Saying("call.released", gettext_noop("Answered by {order}."), {"order": order.number})
    for line in order.lines.open():
        moving.change(line, by=by, at=at, closed_at=at)
        for call in Call.objects.open().filter(line_call__line=line):
            watch_calls.close(call, answered, by=by, at=at)

