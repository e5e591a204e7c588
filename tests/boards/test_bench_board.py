"""The bench board: the places in order, why and since when, and what it costs to read."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop.bench.models import WorkOrder
from shop.bench.services import planning, proposing
from shop.bench.states import State
from shop.boards.bench_board import BenchPlace, bench_board, ended_orders, open_orders
from shop.people import wording
from shop.people.models import Person
from tests.bench.orders import Hands
from tests.benching import days_ago, order_in, stoned_tool

pytestmark = pytest.mark.django_db


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


def board(hands: Hands) -> list[BenchPlace]:
    return bench_board(open_orders(hands.lead.plant), timezone.localdate())


def test_places_stand_in_order_and_what_stopped_comes_first(hands: Hands) -> None:
    for state in (State.PARTS_CHECK, State.RAISED, State.STOPPED, State.ON_THE_BENCH, State.TURNED_DOWN):
        order_in(state, [stoned_tool(hands.lead).face], hands)
    assert [place.state for place in board(hands)] == [
        State.STOPPED, State.RAISED, State.ON_THE_BENCH, State.PARTS_CHECK,
    ]  # fmt: skip


def test_row_says_why_it_stopped_since_when_and_that_it_is_late(hands: Hands) -> None:
    order_in(State.STOPPED, [stoned_tool(hands.lead).face], hands, days=4.5)
    ((row,),) = (place.rows for place in board(hands))
    assert row.stopped_because == "Pitting, 0.2 deep"
    assert (row.days_here, row.late) == (4, True)
    assert wording.say(row.why[0]).endswith("beside the gate.")
    assert (row.steps_done, row.steps > 0, row.planned_minutes > 0) == (0, True, True)


def test_row_counts_the_faces_of_each_kind_of_work_and_leaves_jobs_out(hands: Hands) -> None:
    built = stoned_tool(hands.lead, cavities=3)
    order = order_in(State.ACCEPTED, list(built.faces.values()), hands)
    planning.set_work(line=order.lines.get(face=built.face), work="full refinish", by=hands.lead, at=timezone.now())
    planning.add_line(order=order, job="vents", by=hands.lead, at=timezone.now())
    ((row,),) = (place.rows for place in board(hands))
    assert sorted(row.works) == [("full refinish", 1), ("local touch-up", 2)]


def test_order_that_the_lead_raised_says_why_it_was_raised(hands: Hands) -> None:
    built = stoned_tool(hands.lead)
    proposing.raise_order(tool=built.tool, why="seen at the press", by=hands.lead, at=days_ago(1))
    ((row,),) = (place.rows for place in board(hands))
    assert (row.why, row.raised_because) == ((), "seen at the press")


def test_next_due_comes_first_and_no_day_last(hands: Hands) -> None:
    early = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands, days=6)
    late = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands, days=2)
    none = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands, days=8)
    WorkOrder.objects.filter(pk=none.pk).update(due_on=None)
    ((*rows,),) = (place.rows for place in board(hands))
    assert [row.order for row in rows] == [early, late, none]


def test_ended_orders_come_latest_first(hands: Hands) -> None:
    first = order_in(State.TURNED_DOWN, [stoned_tool(hands.lead).face], hands, days=5)
    second = order_in(State.RELEASED, [stoned_tool(hands.lead).face], hands, days=3)
    assert ended_orders(hands.lead.plant) == [second, first]


def test_many_orders_cost_no_query_more(hands: Hands) -> None:
    counts = []
    for cavities in (1, 4):
        for state in (State.RAISED, State.ON_THE_BENCH, State.STOPPED):
            order_in(state, list(stoned_tool(hands.lead, cavities=cavities).faces.values()), hands)
        with CaptureQueriesContext(connection) as queries:
            for place in board(hands):
                for row in place.rows:
                    assert row.order.tool.customer.name
                    assert [str(line.face) for line in row.lines]
                    assert row.works
        counts.append(len(queries))
    assert counts[0] == counts[1]
