"""Writing tools: entering one, moving it, its status."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Customer, Position, Tool
from shop.tooling.services.checks import not_in_future, says_why


@transaction.atomic
def add_tool(
    *,
    plant: Plant,
    number: str,
    title: str,
    customer: Customer,
    positions: Sequence[tuple[int, str]],
    by: Person,
    at: datetime,
    **fields: Any,
) -> Tool:
    """Enter a tool with its cavity positions, each as its number and its set (empty where sets do not matter)."""
    number = number.strip()
    if Tool.objects.filter(plant=plant, number=number).exists():
        raise Refused(
            "tool.number_taken",
            gettext_noop("There is a tool {number} already."),
            next_step=gettext_noop("Give another number, or open the tool that has it."),
            field="number",
            number=number,
        )
    _check_positions(positions)
    tool = Tool.objects.create(plant=plant, number=number, title=title.strip(), customer=customer, **fields)
    Position.objects.bulk_create(
        Position(tool=tool, number=position, in_set=in_set) for position, in_set in positions
    )
    record_change(tool, "number", None, number, by=by, at=at, why="entered")
    return tool


@transaction.atomic
def move_tool(*, tool: Tool, place: str, by: Person, at: datetime, why: str = "") -> Tool:
    """Say where the tool is now; the trail keeps where it was."""
    not_in_future(at, code="tool.moved_in_future")
    held = Tool.objects.select_for_update().get(pk=tool.pk)
    if held.status == Tool.Status.DISPOSED and place == Tool.Place.IN_PRESS:
        raise disposed(held)
    record_change(held, "place", held.place, place, by=by, at=at, why=why)
    held.place = tool.place = Tool.Place(place)
    held.save(update_fields=["place"])
    return tool


@transaction.atomic
def set_status(*, tool: Tool, status: str, by: Person, at: datetime, why: str = "") -> Tool:
    """Put the tool into production, repair or disposal; disposing and bringing back say why."""
    held = Tool.objects.select_for_update().get(pk=tool.pk)
    if status == held.status:
        return tool
    if Tool.Status.DISPOSED in (status, held.status):
        why = says_why(why, code="tool.status_without_reason")
    if status == Tool.Status.DISPOSED and held.place == Tool.Place.IN_PRESS:
        raise Refused(
            "tool.disposed_in_press",
            gettext_noop("Tool {tool} is in a press and cannot be disposed of there."),
            next_step=gettext_noop("End its run first."),
            field="status",
            tool=held.number,
        )
    record_change(held, "status", held.status, status, by=by, at=at, why=why)
    held.status = tool.status = Tool.Status(status)
    held.save(update_fields=["status"])
    return tool


def disposed(tool: Tool) -> Refused:
    """Return the refusal for a tool that is disposed of."""
    return Refused(
        "tool.disposed",
        gettext_noop("Tool {tool} is disposed of."),
        next_step=gettext_noop("Check the tool number; if the tool is back, set its status first."),
        field="tool",
        tool=tool.number,
    )


def _check_positions(positions: Sequence[tuple[int, str]]) -> None:
    numbers = [number for number, _ in positions]
    if not numbers or min(numbers) < 1:
        raise Refused(
            "tool.positions_wanted",
            gettext_noop("A tool has at least one cavity position, and they count from 1."),
            next_step=gettext_noop("Enter the positions."),
            field="positions",
        )
    twice = sorted({number for number in numbers if numbers.count(number) > 1})
    if twice:
        raise Refused(
            "tool.position_twice",
            gettext_noop("Position {position} is given twice."),
            next_step=gettext_noop("Give each position its own number."),
            field="positions",
            position=twice[0],
        )
