"""The work itself: start, steps, minutes, stop and resume, out and back, hand over."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.bench.models import Booking, Line, WorkOrder
from shop.bench.services import planning, working
from shop.bench.states import State
from shop.press.models import Press
from shop.press.services import runs
from shop.refusal import Refused
from shop.tooling.models import Tool
from tests.bench.orders import Hands, house, line_of, order_at, sign_steps, state_of
from tests.factories import Built


def place(order: WorkOrder) -> str:
    return str(Tool.objects.get(pk=order.tool_id).place)


def refusal(service: Any, **given: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        service(**given)
    return refused.value


@pytest.fixture
def planned(built: Built, hands: Hands, at: datetime) -> WorkOrder:
    return order_at(State.PLANNED, [built.face], hands, at)


@pytest.fixture
def on_bench(built: Built, hands: Hands, at: datetime) -> WorkOrder:
    return order_at(State.ON_THE_BENCH, [built.face], hands, at)


def test_started_order_takes_its_tool_to_the_bench(planned: WorkOrder, hands: Hands, at: datetime) -> None:
    working.start(order=planned, by=hands.polisher, at=at)
    assert (state_of(planned), place(planned)) == (State.ON_THE_BENCH, "bench")


def test_order_for_a_house_alone_goes_out_when_it_is_started(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    due_on = (at + timedelta(days=30)).date()
    planning.send_to(order=order, outside_house=house(hands.lead), due_on=due_on, by=hands.lead, at=at)
    working.start(order=order, by=hands.lead, at=at)
    assert (state_of(order), place(order)) == (State.SENT_OUT, "sent out")


def test_tool_that_runs_in_a_press_is_pulled_before_work_starts(planned: WorkOrder, hands: Hands, at: datetime) -> None:
    press = Press.objects.create(plant=hands.lead.plant, name="P7")
    run = runs.start_run(tool=planned.tool, press=press, by=hands.lead, at=at)
    refused = refusal(working.start, order=planned, by=hands.polisher, at=at)
    assert (refused.code, refused.values["press"]) == ("order.tool_in_press", "P7")
    runs.end_run(run=run, by=hands.lead, at=at + timedelta(hours=1))
    working.start(order=planned, by=hands.polisher, at=at + timedelta(hours=2))
    assert state_of(planned) == State.ON_THE_BENCH


def test_order_without_a_line_does_not_start(planned: WorkOrder, hands: Hands, at: datetime) -> None:
    planning.drop_line(line=line_of(planned), why="can wait", by=hands.lead, at=at)
    assert refusal(working.start, order=planned, by=hands.polisher, at=at).code == "order.empty"


def test_step_waits_for_the_one_before(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    first, second, *_ = line_of(on_bench).steps.all()
    refused = refusal(working.step_done, step=second, by=hands.polisher, at=at)
    assert (refused.code, refused.values["before"]) == ("step.out_of_order", first.number)
    working.step_done(step=first, by=hands.polisher, at=at)
    working.step_done(step=second, by=hands.polisher, at=at)
    second.refresh_from_db()
    assert (second.done_at, second.done_by) == (at, hands.polisher)


def test_step_signed_twice_keeps_its_first_signature(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    first = line_of(on_bench).steps.first()
    working.step_done(step=first, by=hands.polisher, at=at)
    again = working.step_done(step=first, by=hands.lead, at=at + timedelta(hours=1))
    assert (again.done_at, again.done_by) == (at, hands.polisher)


def test_step_is_not_signed_before_the_work_begins(planned: WorkOrder, hands: Hands, at: datetime) -> None:
    first = line_of(planned).steps.first()
    assert refusal(working.step_done, step=first, by=hands.polisher, at=at).code == "order.wrong_state"


def test_minutes_are_booked_once_for_a_double_tap(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    line, ref = line_of(on_bench), uuid.uuid4()
    first = working.book(line=line, minutes=25, note="stoned", by=hands.polisher, at=at, ref=ref)
    again = working.book(
        line=line, minutes=25, note="stoned", by=hands.polisher, at=at + timedelta(seconds=2), ref=ref
    )
    assert first == again
    assert Booking.objects.count() == 1
    other = refusal(working.book, line=line, minutes=30, by=hands.polisher, at=at, ref=ref)
    assert other.code == "ref.other_content"


@pytest.mark.parametrize("minutes", [0, -5, 1441])
def test_minutes_that_no_day_has_are_refused(
    on_bench: WorkOrder, hands: Hands, at: datetime, minutes: int
) -> None:
    line = line_of(on_bench)
    assert refusal(working.book, line=line, minutes=minutes, by=hands.polisher, at=at).code == "booking.minutes"
    with pytest.raises(IntegrityError), transaction.atomic():
        Booking.objects.create(line=line, minutes=minutes, by=hands.polisher, at=at)


def test_minutes_are_not_booked_before_the_work_begins(planned: WorkOrder, hands: Hands, at: datetime) -> None:
    refused = refusal(working.book, line=line_of(planned), minutes=5, by=hands.polisher, at=at)
    assert refused.code == "order.wrong_state"


def test_booking_is_put_right_by_another_and_stays(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    wrong = working.book(line=line_of(on_bench), minutes=250, by=hands.polisher, at=at)
    right = working.correct_booking(booking=wrong, minutes=25, why="a nought too many", by=hands.polisher, at=at)
    assert [row.minutes for row in Booking.objects.in_force()] == [25]
    assert Booking.objects.count() == 2
    working.correct_booking(booking=right, why="other order", by=hands.polisher, at=at)
    assert not Booking.objects.in_force().exists()


def test_booking_that_was_put_right_is_not_put_right_again(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    wrong = working.book(line=line_of(on_bench), minutes=250, by=hands.polisher, at=at)
    working.correct_booking(booking=wrong, minutes=25, why="a nought too many", by=hands.polisher, at=at)
    stale = Booking.objects.get(pk=wrong.pk)
    refused = refusal(working.correct_booking, booking=stale, minutes=20, why="less", by=hands.polisher, at=at)
    assert refused.code == "booking.corrected_before"


def test_work_stops_with_a_reason_and_goes_on_where_it_was(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    assert refusal(working.stop, order=on_bench, why=" ", by=hands.polisher, at=at).field == "why"
    working.stop(order=on_bench, why="pitting", by=hands.polisher, at=at)
    assert (state_of(on_bench), on_bench.moves.latest("id").why) == (State.STOPPED, "pitting")
    working.resume(order=on_bench, by=hands.polisher, at=at)
    assert state_of(on_bench) == State.ON_THE_BENCH


def test_work_stopped_outside_goes_on_outside(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    due_on = (at + timedelta(days=30)).date()
    planning.send_to(order=on_bench, outside_house=house(hands.lead), due_on=due_on, by=hands.lead, at=at)
    working.send_out(order=on_bench, by=hands.polisher, at=at)
    working.stop(order=on_bench, why="the house waits for the plaque", by=hands.lead, at=at)
    working.resume(order=on_bench, by=hands.lead, at=at)
    assert (state_of(on_bench), place(on_bench)) == (State.SENT_OUT, "sent out")


def test_order_without_a_house_is_not_sent_out(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    assert refusal(working.send_out, order=on_bench, by=hands.polisher, at=at).code == "order.no_house"


@pytest.mark.parametrize(("to_bench", "state"), [(True, State.ON_THE_BENCH), (False, State.STEEL_CHECK)])
def test_tool_comes_back_to_the_bench_or_to_its_steel_check(
    on_bench: WorkOrder, hands: Hands, at: datetime, to_bench: bool, state: State
) -> None:
    due_on = (at + timedelta(days=30)).date()
    planning.send_to(order=on_bench, outside_house=house(hands.lead), due_on=due_on, by=hands.lead, at=at)
    working.send_out(order=on_bench, by=hands.polisher, at=at)
    working.come_back(order=on_bench, to_bench=to_bench, by=hands.lead, at=at)
    assert (state_of(on_bench), place(on_bench)) == (state, "bench")


def test_hand_over_asks_about_steps_that_nobody_signed(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    refused = refusal(working.hand_over, order=on_bench, by=hands.polisher, at=at)
    assert (refused.code, refused.question) == ("handover.steps_open", True)
    answers = {"handover.steps_open": "not_needed"}
    working.hand_over(order=on_bench, by=hands.polisher, at=at, answers=answers)
    assert state_of(on_bench) == State.STEEL_CHECK


def test_hand_over_of_signed_steps_asks_nothing(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    sign_steps(on_bench, hands.polisher, at)
    working.hand_over(order=on_bench, by=hands.polisher, at=at)
    assert state_of(on_bench) == State.STEEL_CHECK


def test_closed_line_takes_no_more_work(on_bench: WorkOrder, hands: Hands, at: datetime) -> None:
    line = line_of(on_bench)
    Line.objects.filter(pk=line.pk).update(closed_at=at)
    step = line.steps.first()
    assert refusal(working.step_done, step=step, by=hands.polisher, at=at).code == "line.closed"
