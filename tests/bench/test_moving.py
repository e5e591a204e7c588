"""The way of an order: along the arrows and nowhere else, by the service and by the database."""

from __future__ import annotations

from datetime import datetime

import pytest
from django.db import IntegrityError, transaction

from shop.bench.models import Move, WorkOrder
from shop.bench.services import moving, proposing
from shop.bench.states import ARROWS, ENDED, State
from shop.ledger.models import Change
from shop.people.models import Person
from shop.refusal import Refused
from tests.factories import Built


@pytest.fixture
def order(built: Built, lead: Person, polisher: Person, at: datetime) -> WorkOrder:
    """An order with a hand, so that only the arrow is in question."""
    raised = proposing.raise_order(tool=built.tool, by=lead, at=at)
    raised.polisher = polisher
    raised.save(update_fields=["polisher"])
    return raised


def put(order: WorkOrder, state: State, at: datetime) -> None:
    WorkOrder.objects.filter(pk=order.pk).update(state=state, closed_at=at if state in ENDED else None)
    order.refresh_from_db()


@pytest.mark.parametrize("start", State)
def test_move_without_an_arrow_is_refused_and_changes_nothing(
    order: WorkOrder, lead: Person, at: datetime, start: State
) -> None:
    put(order, start, at)
    for end in set(State) - set(ARROWS[start]):
        with pytest.raises(Refused) as refused:
            moving.move(order=order, to=end, by=lead, at=at, why="because")
        assert refused.value.code == "order.no_arrow"
    order.refresh_from_db()
    assert order.state == start
    assert order.moves.count() == 1


@pytest.mark.parametrize("start", State)
def test_move_without_an_arrow_is_refused_by_the_database(
    order: WorkOrder, lead: Person, at: datetime, start: State
) -> None:
    for end in set(State) - set(ARROWS[start]):
        with pytest.raises(IntegrityError, match="move_follows_an_arrow"), transaction.atomic():
            Move.objects.create(order=order, from_state=start, to_state=end, why="because", by=lead, at=at)


@pytest.mark.parametrize("start", [state for state in State if ARROWS[state]])
def test_move_along_an_arrow_is_kept_with_its_person_time_and_reason(
    order: WorkOrder, lead: Person, at: datetime, start: State
) -> None:
    for end in ARROWS[start]:
        put(order, start, at)
        moving.move(order=order, to=end, by=lead, at=at, why="because")
        kept = order.moves.latest("id")
        assert (kept.from_state, kept.to_state, kept.by, kept.at, kept.why) == (start, end, lead, at, "because")
        assert (order.state, order.closed_at) == (end, at if end in ENDED else None)
        assert Change.objects.filter(row_id=order.pk, field="state", old=start.value, new=end.value).exists()


@pytest.mark.parametrize("end", [State.STOPPED, State.TURNED_DOWN, State.WITHDRAWN])
def test_move_off_the_way_wants_a_reason(order: WorkOrder, lead: Person, at: datetime, end: State) -> None:
    start = next(state for state, ends in ARROWS.items() if end in ends)
    put(order, start, at)
    with pytest.raises(Refused) as refused:
        moving.move(order=order, to=end, by=lead, at=at, why="  ")
    assert refused.value.field == "why"
    with pytest.raises(IntegrityError), transaction.atomic():
        Move.objects.create(order=order, from_state=start, to_state=end, by=lead, at=at)


def test_order_that_ended_has_a_closing_time_in_the_database(order: WorkOrder, at: datetime) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        WorkOrder.objects.filter(pk=order.pk).update(state=State.RELEASED)
    with pytest.raises(IntegrityError), transaction.atomic():
        WorkOrder.objects.filter(pk=order.pk).update(closed_at=at)


def test_planned_order_has_a_hand_in_the_database(order: WorkOrder) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        WorkOrder.objects.filter(pk=order.pk).update(state=State.PLANNED, polisher=None)
