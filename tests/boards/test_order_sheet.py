"""The order sheet: what each role may do in each state, the way, why, and what it costs to read."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from shop import loop
from shop.bench.models import WorkOrder
from shop.bench.services import proposing, working
from shop.bench.states import State
from shop.boards.order_sheet import may_now, order_sheet
from shop.people import wording
from shop.people.models import Person
from tests import factories
from tests.bench.orders import Hands, check, house
from tests.benching import days_ago, only_line, order_in, stoned_tool

pytestmark = pytest.mark.django_db
READERS = ("press", "quality", "engineer", "viewer")


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


LEAD_LINES = {"set_work", "add_line", "drop_line", "traveller"}
# What may be done in each state, by lead, polisher and quality; the others only read.
MAY: dict[State, tuple[set[str], set[str], set[str]]] = {
    State.RAISED: ({"accept", "turn_down"} | LEAD_LINES, {"traveller"}, set()),
    State.ACCEPTED: ({"give", "withdraw"} | LEAD_LINES, {"traveller"}, set()),
    State.PLANNED: (
        {"give", "take_back", "withdraw", "start"} | LEAD_LINES,
        {"start", "traveller"},
        set(),
    ),
    State.ON_THE_BENCH: (
        {"give", "set_work", "add_line", "traveller", "step", "book", "stop", "hand_over"},
        {"step", "book", "stop", "hand_over", "traveller"},
        set(),
    ),
    State.SENT_OUT: (
        {"give", "set_work", "add_line", "traveller", "step", "book", "stop", "come_back", "back_to_bench"},
        {"step", "book", "stop", "come_back", "back_to_bench", "traveller"},
        set(),
    ),
    State.STOPPED: (
        {"give", "withdraw", "book", "resume"} | LEAD_LINES,
        {"book", "resume", "traveller"},
        set(),
    ),
    State.STEEL_CHECK: ({"sign_steel", "traveller"}, {"traveller"}, {"sign_steel"}),
    State.PARTS_CHECK: (
        {"sign_parts", "fail_parts", "traveller"},
        {"traveller"},
        {"sign_parts", "fail_parts"},
    ),
    State.RELEASED: (set(), set(), set()),
    State.TURNED_DOWN: (set(), set(), set()),
}


@pytest.mark.parametrize("state", MAY)
def test_each_role_may_do_in_each_state_what_the_table_says(state: State, hands: Hands, person_of: Any) -> None:
    order = order_in(state, [stoned_tool(hands.lead).face], hands)
    assert order.state == state
    sheet = order_sheet(order, timezone.now())
    for_lead, for_polisher, for_quality = MAY[state]
    assert may_now(sheet, hands.lead) == for_lead
    assert may_now(sheet, hands.polisher) == for_polisher
    assert may_now(sheet, hands.inspector) == for_quality
    for role in READERS:
        if role != "quality":
            assert may_now(sheet, person_of(role)) == set()


def test_order_with_a_house_may_be_sent_out_from_the_bench(hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    WorkOrder.objects.filter(pk=order.pk).update(outside_house=house(hands.lead))
    order.refresh_from_db()
    assert "send_out" in may_now(order_sheet(order, timezone.now()), hands.polisher)


def test_signed_parts_wait_for_the_customer_where_the_customer_signs(hands: Hands) -> None:
    built = stoned_tool(hands.lead, customer=factories.customer(buy_off=True))
    order = order_in(State.PARTS_CHECK, [built.face], hands)
    check(built.tool, "parts check", {built.face: "3.0"}, hands.inspector, days_ago(2))
    loop.parts_passed(order=order, by=hands.inspector, at=days_ago(1))
    may = may_now(order_sheet(order, timezone.now()), hands.inspector)
    assert may == {"buy_off", "release", "fail_parts"}


def test_way_shows_where_the_order_is_and_where_it_stopped(hands: Hands) -> None:
    built = stoned_tool(hands.lead, cavities=2)
    stopped = order_sheet(order_in(State.STOPPED, [built.face], hands), timezone.now())
    assert [mark.state for mark in stopped.way if mark.place == "here"] == [State.STOPPED]
    assert [mark.state for mark in stopped.way][3:6] == [State.ON_THE_BENCH, State.STOPPED, State.STEEL_CHECK]
    assert stopped.stopped_because == "Pitting, 0.2 deep"


def test_way_of_an_order_turned_down_ends_there(hands: Hands) -> None:
    order = order_in(State.TURNED_DOWN, [stoned_tool(hands.lead).face], hands)
    assert [mark.state for mark in order_sheet(order, timezone.now()).way] == [State.RAISED, State.TURNED_DOWN]


def test_line_says_why_in_the_words_of_the_report(hands: Hands) -> None:
    order = order_in(State.RAISED, [stoned_tool(hands.lead).face], hands)
    (row,) = order_sheet(order, timezone.now()).lines
    assert next(wording.say(why) for why in row.why).endswith("beside the gate.")
    assert row.next_step is not None
    assert row.next_step.number == 1


def test_damage_of_no_one_face_is_a_job_that_says_what_was_reported(hands: Hands) -> None:
    built = stoned_tool(hands.lead)
    loop.damage_called(tool=built.tool, kind="rust", note="on the parting line", by=hands.lead, at=days_ago(1))
    order = WorkOrder.objects.get(tool=built.tool)
    (row,) = order_sheet(order, timezone.now()).lines
    assert row.line.job_words.startswith("Look at: rust, reported ")
    assert row.line.job == proposing.LOOK_AT  # worded for who reads it, not for who reported it
    assert next(wording.say(why) for why in row.why).startswith("rust was reported on ")
    assert (row.position, row.bar, row.steps) == (None, None, ())


def test_steel_that_was_booked_before_is_not_proposed_again(hands: Hands) -> None:
    built = stoned_tool(hands.lead)
    order = order_in(State.PARTS_CHECK, [built.face], hands)
    planned = only_line(order).planned_steel_um
    assert planned is not None
    assert planned > 0
    loop.parts_failed(order=order, why="a scratch is left", by=hands.inspector, at=days_ago(2))
    working.hand_over(order=order, by=hands.polisher, at=days_ago(1))
    order.refresh_from_db()
    (row,) = order_sheet(order, timezone.now()).lines
    assert row.steel_to_book_um == 0


def test_ten_times_the_lines_cost_no_query_more(hands: Hands) -> None:
    small = order_in(State.STEEL_CHECK, [stoned_tool(hands.lead, cavities=1).face], hands)
    many = stoned_tool(hands.lead, cavities=12)
    large = order_in(State.STEEL_CHECK, list(many.faces.values()), hands)
    counts = []
    for order in (small, large):
        fresh = WorkOrder.objects.select_related("tool__plant", "tool__customer").get(pk=order.pk)
        with CaptureQueriesContext(connection) as queries:
            sheet = order_sheet(fresh, timezone.now())
            may_now(sheet, hands.inspector)
            assert all(row.line.face for row in sheet.lines)
            [str(row.line.face) for row in sheet.lines]
        counts.append(len(queries))
    assert counts[0] == counts[1]
