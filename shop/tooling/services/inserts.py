"""Writing inserts: entering one, fitting it into a position, taking it out, retiring it.

Faces, shots, trend and steel hang on the insert and so go with it wherever it is fitted.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Fitting, Insert, Position, Tool
from shop.tooling.services.checks import not_in_future, says_why
from shop.units import Quantity


@transaction.atomic
def add_insert(
    *,
    tool: Tool,
    number: str,
    kind: str,
    steel: str,
    by: Person,
    at: datetime,
    hardness_hrc: Decimal | None = None,
    coating: str = "",
    position: Position | None = None,
    slot: int = 1,
) -> Insert:
    """Enter an insert of the tool, as a spare or fitted into a position from `at`."""
    number = number.strip()
    if Insert.objects.filter(tool=tool, number=number).exists():
        raise Refused(
            "insert.number_taken",
            gettext_noop("Tool {tool} has an insert {number} already."),
            next_step=gettext_noop("Give another number, or fit the insert that has it."),
            field="number",
            tool=tool.number,
            number=number,
        )
    if hardness_hrc is not None and not 0 <= hardness_hrc <= 70:
        raise Refused(
            "insert.hardness_off_scale",
            gettext_noop("{hardness} is not a hardness that steel can have; the scale is used from 0 to {most}."),
            next_step=gettext_noop("Check the hardness; Vickers and Brinell are other scales."),
            field="hardness_hrc",
            hardness=Quantity(Decimal(hardness_hrc), "HRC"),
            most=Quantity(Decimal(70), "HRC"),
        )
    insert = Insert.objects.create(
        tool=tool, number=number, kind=kind, steel=steel.strip(), hardness_hrc=hardness_hrc, coating=coating
    )
    record_change(insert, "number", None, number, by=by, at=at, why="entered")
    if position is not None:
        fit(insert=insert, position=position, slot=slot, by=by, at=at)
    return insert


@transaction.atomic
def fit(*, insert: Insert, position: Position, by: Person, at: datetime, slot: int = 1, why: str = "") -> Fitting:
    """Fit the insert into the position from `at`: what sits there comes out, and it leaves where it sat."""
    not_in_future(at, code="insert.fitted_in_future")
    Tool.objects.select_for_update().get(pk=insert.tool_id)
    insert.refresh_from_db()
    _check_fits(insert, position)
    here = Fitting.objects.filter(position=position, kind=insert.kind, slot=slot)
    for fitting in Fitting.objects.now().filter(insert=insert) | here.now():
        if fitting.insert_id == insert.pk and (fitting.position_id, fitting.slot) == (position.pk, slot):
            raise Refused(
                "insert.already_there",
                gettext_noop("Insert {insert} sits in position {position} already, since {since}."),
                next_step=gettext_noop("Choose another position or another insert."),
                field="position",
                insert=insert.number,
                position=position.number,
                since=fitting.from_at,
            )
        _close(fitting, by=by, at=at, why=why)
    _check_order(Fitting.objects.filter(insert=insert) | here, at)
    fitting = Fitting.objects.create(insert=insert, position=position, kind=insert.kind, slot=slot, from_at=at)
    record_change(fitting, "from_at", None, at, by=by, at=at, why=why)
    return fitting


@transaction.atomic
def take_out(*, insert: Insert, by: Person, at: datetime, why: str = "") -> Insert:
    """Take the insert out of its position; it is a spare from `at`."""
    not_in_future(at, code="insert.taken_out_in_future")
    Tool.objects.select_for_update().get(pk=insert.tool_id)
    fitting = Fitting.objects.now().filter(insert=insert).first()
    if fitting is None:
        raise Refused(
            "insert.not_fitted",
            gettext_noop("Insert {insert} is not fitted."),
            next_step=gettext_noop("Check the number; it may have been taken out before."),
            field="insert",
            insert=insert.number,
        )
    _close(fitting, by=by, at=at, why=why)
    return insert


@transaction.atomic
def retire(*, insert: Insert, why: str, by: Person, at: datetime) -> Insert:
    """Take the insert out of use for good; its history stays."""
    why = says_why(why, code="insert.retired_without_reason")
    held = Insert.objects.select_for_update().get(pk=insert.pk)
    if held.retired_at is not None:
        raise _retired(held)
    if Fitting.objects.now().filter(insert=held).exists():
        take_out(insert=held, by=by, at=at, why=why)
    record_change(held, "retired_at", None, at, by=by, at=at, why=why)
    held.retired_at = insert.retired_at = at
    held.save(update_fields=["retired_at"])
    return insert


@transaction.atomic
def set_coating(*, insert: Insert, coating: str, by: Person, at: datetime, why: str = "") -> Insert:
    """Say what the insert is coated with now."""
    held = Insert.objects.select_for_update().get(pk=insert.pk)
    record_change(held, "coating", held.coating, coating, by=by, at=at, why=why)
    held.coating = insert.coating = coating
    held.save(update_fields=["coating"])
    return insert


def _check_fits(insert: Insert, position: Position) -> None:
    if position.tool_id != insert.tool_id:
        raise Refused(
            "insert.of_another_tool",
            gettext_noop("Insert {insert} belongs to tool {tool} and does not go into {position}."),
            next_step=gettext_noop("Choose an insert of this tool."),
            field="insert",
            insert=insert.number,
            tool=insert.tool.number,
            position=str(position),
        )
    if insert.retired_at is not None:
        raise _retired(insert)


def _retired(insert: Insert) -> Refused:
    return Refused(
        "insert.retired",
        gettext_noop("Insert {insert} was retired on {retired_at}."),
        next_step=gettext_noop("Choose another insert."),
        field="insert",
        insert=insert.number,
        retired_at=insert.retired_at,
    )


def _close(fitting: Fitting, *, by: Person, at: datetime, why: str) -> None:
    if at <= fitting.from_at:
        raise Refused(
            "insert.fitted_later",
            gettext_noop("Insert {insert} came into position {position} at {from_at}, not before {at}."),
            next_step=gettext_noop("Give a time after {from_at}."),
            field="at",
            insert=fitting.insert.number,
            position=fitting.position.number,
            from_at=fitting.from_at,
            at=at,
        )
    record_change(fitting, "to_at", None, at, by=by, at=at, why=why)
    fitting.to_at = at
    fitting.save(update_fields=["to_at"])


def _check_order(fittings: object, at: datetime) -> None:
    """Refuse a fitting that would overlap one that has ended since: the past is not rearranged unseen."""
    later = fittings.filter(to_at__gt=at).select_related("insert", "position").first()  # type: ignore[attr-defined]
    if later is not None:
        raise Refused(
            "insert.place_was_taken",
            gettext_noop("Until {to_at} insert {insert} sat in position {position}."),
            next_step=gettext_noop("Give a time from {to_at} on."),
            field="at",
            insert=later.insert.number,
            position=later.position.number,
            to_at=later.to_at,
        )
