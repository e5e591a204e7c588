"""The vice board: whose work, in which order, the present step, the clock, and what it costs to read."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop.bench.services import working
from shop.bench.states import State
from shop.boards.vice import vice
from shop.people.models import Person
from tests.bench.orders import Hands, sign_steps
from tests.benching import days_ago, only_line, order_in, stoned_tool

pytestmark = pytest.mark.django_db


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


def test_order_on_the_bench_is_present_before_one_that_is_due_earlier(hands: Hands) -> None:
    planned = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands, days=6)
    at_hand = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands, days=2)
    found = vice(hands.polisher, timezone.now())
    assert [one.order for one in found.to_do] == [planned, at_hand]
    assert found.present is not None
    assert found.present.order == at_hand
    assert found.present.offers == {"step", "stop"}


def test_planned_order_is_present_where_nothing_is_on_the_bench(hands: Hands) -> None:
    order_in(State.STEEL_CHECK, [stoned_tool(hands.lead).face], hands, days=7)
    planned = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands)
    found = vice(hands.polisher, timezone.now())
    assert [one.order.state for one in found.with_others] == ["steel check"]
    assert found.present is not None
    assert (found.present.order, found.present.offers) == (planned, {"start"})
    assert found.to_do[0].late


def test_nothing_is_present_where_all_is_with_others(hands: Hands) -> None:
    order_in(State.PARTS_CHECK, [stoned_tool(hands.lead).face], hands)
    found = vice(hands.polisher, timezone.now())
    assert (found.present, found.to_do) == (None, ())


def test_clock_runs_from_the_start_and_then_from_the_last_minutes_booked(hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands, days=0.1)
    present = vice(hands.polisher, timezone.now()).present
    assert present is not None
    assert 138 <= present.minutes <= 142
    first = only_line(order).steps.get(number=1)
    working.finish_step(step=first, minutes=20, by=hands.polisher, at=timezone.now())
    after = vice(hands.polisher, timezone.now() + timedelta(minutes=8)).present
    assert after is not None
    assert after.step is not None
    assert (after.step.number, after.minutes) == (2, 8)
    assert after.since_today


def test_all_signed_is_offered_to_be_handed_over(hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    sign_steps(order, hands.polisher, days_ago(1))
    present = vice(hands.polisher, timezone.now()).present
    assert present is not None
    assert (present.step, present.offers) == (None, {"hand_over", "stop"})


def test_more_work_costs_no_query_more(hands: Hands) -> None:
    counts = []
    for cavities in (1, 6):
        faces = list(stoned_tool(hands.lead, cavities=cavities).faces.values())
        order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands)
        order = order_in(State.ON_THE_BENCH, faces, hands)
        with CaptureQueriesContext(connection) as queries:
            found = vice(hands.polisher, timezone.now(), order_id=order.pk)
            assert found.present is not None
            assert len(found.present.face_rows) == cavities
            assert [str(row.line.face) for row in found.present.rows]
        counts.append(len(queries))
    assert counts[0] == counts[1]
