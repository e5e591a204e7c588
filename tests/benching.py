"""A tool whose damage was reported, brought along the way of its work order as the loop does it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django.utils import timezone

from shop import loop
from shop.bench.models import Line, WorkOrder
from shop.bench.services import planning, working
from shop.bench.states import State
from shop.people.models import Person
from shop.tooling.models import Face
from shop.tooling.services.spec_checks import LimitDraft
from tests import factories
from tests.bench.orders import WAY, Hands, check, faces_of, house, sign_steps
from tests.factories import Built

LIMITS = [
    LimitDraft("Ra", "steel", None, Decimal("0.6"), "um"),
    LimitDraft("gloss", "part", Decimal(2), Decimal(4), "GU", geometry_deg=60),
]
# How an order comes to a place beside the way.
BESIDE = {
    State.STOPPED: [*WAY[1:4], State.STOPPED],
    State.SENT_OUT: [*WAY[1:3], State.SENT_OUT],
    State.TURNED_DOWN: [State.TURNED_DOWN],
}


def days_ago(days: float) -> datetime:
    """Return a moment before now, since pages work at the clock's time."""
    return timezone.now() - timedelta(days=days)


def stoned_tool(by: Person, *, cavities: int = 2, **fields: Any) -> Built:
    """Build a tool of stoned faces with a limit of Ra on the steel and of gloss on the part."""
    began = days_ago(30)
    built = factories.build_tool(by, began, cavities=cavities, **fields)
    for face in built.faces.values():
        factories.specify(face, by, began, LIMITS, acceptance="simple")
    return built


def raised(faces: Sequence[Face], by: Person, at: datetime) -> WorkOrder:
    """Report a scratch on each face; the order that the loop raises for them."""
    for face in faces:
        loop.damage_called(tool=face.insert.tool, face=face, kind="scratch", note="beside the gate", by=by, at=at)
    order: WorkOrder = WorkOrder.objects.open().get(tool=faces[0].insert.tool)
    return order


def order_in(state: State, faces: Sequence[Face], hands: Hands, days: float = 3) -> WorkOrder:
    """Raise an order for the faces so many days ago and bring it to a place in the way, a minute a step."""
    at = days_ago(days)
    order = raised(faces, hands.lead, at)
    for place in BESIDE.get(state) or WAY[1 : WAY.index(state) + 1]:
        at += timedelta(minutes=1)
        _on(place, order, hands, at)
    order.refresh_from_db()
    return order


def _on(place: State, order: WorkOrder, hands: Hands, at: datetime) -> None:
    tool = order.tool
    if place == State.ACCEPTED:
        planning.accept(order=order, by=hands.lead, at=at)
    elif place == State.PLANNED:
        planning.give_to(order=order, polisher=hands.polisher, due_on=at.date(), by=hands.lead, at=at)
    elif place == State.ON_THE_BENCH:
        loop.started(order=order, by=hands.polisher, at=at)
    elif place == State.STEEL_CHECK:
        sign_steps(order, hands.polisher, at)
        loop.handed_over(order=order, by=hands.polisher, at=at)
    elif place == State.PARTS_CHECK:
        check(tool, "steel check", dict.fromkeys(faces_of(order), "0.4"), hands.inspector, at)
        loop.steel_passed(order=order, by=hands.inspector, at=at)
    elif place == State.RELEASED:
        check(tool, "parts check", dict.fromkeys(faces_of(order), "3.0"), hands.inspector, at)
        loop.parts_passed(order=order, by=hands.inspector, at=at)
        loop.released(order=order, by=hands.inspector, at=at)
    else:
        _beside_the_way(place, order, hands, at)


def _beside_the_way(place: State, order: WorkOrder, hands: Hands, at: datetime) -> None:
    if place == State.STOPPED:
        working.stop(order=order, why="Pitting, 0.2 deep", by=hands.polisher, at=at)
    elif place == State.SENT_OUT:
        outside = house(hands.lead, days=0)
        planning.send_to(order=order, outside_house=outside, due_on=at.date(), by=hands.lead, at=at)
        loop.started(order=order, by=hands.polisher, at=at)
        working.send_out(order=order, by=hands.polisher, at=at)
    else:
        loop.ended(order=order, why="to be cast anew", by=hands.lead, at=at)


def only_line(order: WorkOrder) -> Line:
    """Return the only open line of an order."""
    found: Line = order.lines.open().get()
    return found
