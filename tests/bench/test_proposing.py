"""What calls propose: one visit a tool, a line a face, never two open lines."""

from __future__ import annotations

import threading
from datetime import datetime, timedelta

import pytest
from django.db import IntegrityError, connection, transaction

from shop import loop
from shop.bench.models import Line, LineCall, WorkOrder
from shop.bench.services import planning, proposing
from shop.bench.states import State
from shop.people.models import Person
from shop.watch.models import Call, Evidence
from tests.bench.orders import Hands, call, check, damage_call, line_of, order_at
from tests.factories import Built, build_tool, by_plaque


def test_two_faces_of_a_tool_are_one_visit_with_two_lines(built: Built, lead: Person, at: datetime) -> None:
    one, two = built.faces["show 1"], built.faces["show 2"]
    (order,) = proposing.propose([call(one, lead, at), call(two, lead, at)], by=lead, at=at)
    assert order.state == State.RAISED
    assert {line.face for line in order.lines.all()} == {one, two}


def test_two_tools_are_two_visits(built: Built, lead: Person, at: datetime) -> None:
    other = build_tool(lead, at - timedelta(days=30))
    orders = proposing.propose([call(built.face, lead, at), call(other.face, lead, at)], by=lead, at=at)
    assert {order.tool for order in orders} == {built.tool, other.tool}


def test_numbers_follow_one_another(built: Built, lead: Person, at: datetime) -> None:
    first = proposing.raise_order(tool=built.tool, by=lead, at=at)
    second = proposing.raise_order(tool=built.tool, by=lead, at=at)
    assert first.number.startswith("WO-")
    assert len(first.number) == len("WO-0001")
    assert int(second.number[3:]) == int(first.number[3:]) + 1


def test_two_calls_on_one_face_are_one_line(built: Built, lead: Person, at: datetime) -> None:
    first, second = call(built.face, lead, at), call(built.face, lead, at, "off spec")
    (order,) = proposing.propose([first, second], by=lead, at=at)
    assert {kept.call for kept in line_of(order).line_calls.all()} == {first, second}


@pytest.mark.parametrize("state", [State.RAISED, State.PLANNED, State.ON_THE_BENCH, State.PARTS_CHECK])
def test_call_on_a_face_with_an_open_line_joins_it(built: Built, hands: Hands, at: datetime, state: State) -> None:
    order = order_at(state, [built.face], hands, at)
    later = at + timedelta(hours=1)
    joined = damage_call(built.face, hands.lead, later)
    assert proposing.propose([joined], by=hands.lead, at=later) == [order]
    assert joined.line_call.line == line_of(order)
    assert WorkOrder.objects.count() == 1


def test_new_face_of_a_tool_in_work_gets_a_visit_of_its_own(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ON_THE_BENCH, [built.face], hands, at)
    (other,) = proposing.propose([call(built.faces["show 2"], hands.lead, at)], by=hands.lead, at=at)
    assert other != order
    assert other.state == State.RAISED


def test_new_face_of_a_planned_tool_rides_in_the_same_visit(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.PLANNED, [built.face], hands, at)
    assert proposing.propose([call(built.faces["show 2"], hands.lead, at)], by=hands.lead, at=at) == [order]
    assert order.lines.count() == 2


def test_evidence_is_frozen_when_the_call_joins(built: Built, lead: Person, at: datetime) -> None:
    called = call(built.face, lead, at, shots_left=1200)
    (order,) = proposing.propose([called], by=lead, at=at)
    Evidence.objects.create(call=called, code="test.later", values={"shots_left": 5}, by=lead, at=at)
    (kept,) = line_of(order).line_calls.all()
    assert kept.evidence == [{"code": "test.forecast", "values": {"shots_left": 1200}, "at": at.isoformat()}]


@pytest.mark.parametrize("cause", ["not measured", "not proven"])
def test_call_for_a_measurement_raises_no_work(built: Built, lead: Person, at: datetime, cause: str) -> None:
    assert proposing.propose([call(built.face, lead, at, cause)], by=lead, at=at) == []


def test_damage_without_a_face_is_a_job_of_the_visit(built: Built, lead: Person, at: datetime) -> None:
    called = Call.objects.create(tool=built.tool, face=None, cause="damage", opened_at=at)
    (order,) = proposing.propose([called], by=lead, at=at)
    line = line_of(order)
    assert (line.face, line.job != "", line.steps.count()) == (None, True, 0)


def test_job_of_a_damage_call_says_what_was_reported_first(built: Built, lead: Person, at: datetime) -> None:
    loop.damage_called(tool=built.tool, kind="rust", note="on the parting line", by=lead, at=at)
    loop.damage_called(tool=built.tool, kind="dent", by=lead, at=at + timedelta(hours=1))
    (order,) = WorkOrder.objects.filter(tool=built.tool)
    line = line_of(order)
    assert (line.face, line.job_words) == (None, "Look at: rust, reported 4 Mar 2024")
    assert line.line_calls.get().call.evidence.count() == 2


def test_line_has_its_route_minutes_and_steel(built: Built, lead: Person, at: datetime) -> None:
    line = line_of(proposing.propose([call(built.face, lead, at)], by=lead, at=at)[0])
    assert (line.work, line.how, line.spec) == ("kiss polish", "stoned", built.face.specs.get())
    assert [step.number for step in line.steps.all()] == list(range(1, line.steps.count() + 1))
    assert line.steps.first().kind == "clean"
    assert line.planned_minutes > 0
    assert line.planned_steel_um == sum(step.planned_steel_um for step in line.steps.all())


def test_damage_makes_the_work_of_a_raised_line_heavier(built: Built, lead: Person, at: datetime) -> None:
    (order,) = proposing.propose([call(built.face, lead, at)], by=lead, at=at)
    proposing.propose([damage_call(built.face, lead, at, "dent")], by=lead, at=at)
    assert line_of(order).work == "local touch-up"


def test_damage_leaves_the_work_that_the_lead_has_accepted(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    proposing.propose([damage_call(built.face, hands.lead, at, "dent")], by=hands.lead, at=at)
    assert line_of(order).work == "kiss polish"


def test_answered_call_withdraws_an_order_that_nobody_accepted(built: Built, lead: Person, at: datetime) -> None:
    called = call(built.face, lead, at)
    (order,) = proposing.propose([called], by=lead, at=at)
    Call.objects.filter(pk=called.pk).update(closed_at=at)
    assert proposing.withdraw_if_answered([called], by=lead, at=at) == [order]
    order.refresh_from_db()
    assert order.state == State.WITHDRAWN
    assert not order.lines.open().exists()


def test_order_waits_for_the_last_of_its_calls(built: Built, lead: Person, at: datetime) -> None:
    one, two = call(built.face, lead, at), call(built.faces["show 2"], lead, at)
    (order,) = proposing.propose([one, two], by=lead, at=at)
    Call.objects.filter(pk=one.pk).update(closed_at=at)
    assert proposing.withdraw_if_answered([one], by=lead, at=at) == []
    assert [line.face for line in order.lines.open()] == [built.faces["show 2"]]


def test_accepted_order_is_not_withdrawn_by_itself(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    called = LineCall.objects.get(line__order=order).call
    Call.objects.filter(pk=called.pk).update(closed_at=at)
    assert proposing.withdraw_if_answered([called], by=hands.lead, at=at) == []
    order.refresh_from_db()
    assert order.state == State.ACCEPTED


def turned_down(built: Built, lead: Person, at: datetime) -> None:
    (order,) = proposing.propose([call(built.face, lead, at)], by=lead, at=at)
    planning.turn_down(order=order, why="runs out next week", by=lead, at=at)


def test_call_like_one_turned_down_raises_nothing_for_seven_days(built: Built, lead: Person, at: datetime) -> None:
    turned_down(built, lead, at)
    assert not Call.objects.open().exists()
    again = call(built.face, lead, at)
    assert proposing.propose([again], by=lead, at=at + timedelta(days=6)) == []
    assert len(proposing.propose([again], by=lead, at=at + timedelta(days=7))) == 1


def test_another_cause_is_not_held_back(built: Built, lead: Person, at: datetime) -> None:
    turned_down(built, lead, at)
    assert len(proposing.propose([call(built.face, lead, at, "off spec")], by=lead, at=at)) == 1


def test_call_turned_down_is_raised_again_when_something_new_is_measured(
    built: Built, hands: Hands, at: datetime
) -> None:
    turned_down(built, hands.lead, at)
    again = call(built.face, hands.lead, at)
    later = at + timedelta(hours=2)
    check(built.tool, "routine", {built.face: "0.55"}, hands.inspector, later)
    assert len(proposing.propose([again], by=hands.lead, at=later)) == 1


def test_second_open_line_of_a_face_and_cause_is_refused_by_the_database(
    built: Built, lead: Person, at: datetime
) -> None:
    proposing.propose([call(built.face, lead, at)], by=lead, at=at)
    other = proposing.raise_order(tool=built.tool, by=lead, at=at)
    with pytest.raises(IntegrityError), transaction.atomic():
        Line.objects.create(order=other, face=built.face, cause="forecast", work="clean")


def test_textured_face_with_micro_matt_is_blasted_before_it_is_stripped(
    built: Built, lead: Person, at: datetime
) -> None:
    by_plaque(built.face, lead, at)
    line = line_of(proposing.propose([call(built.face, lead, at)], by=lead, at=at)[0])
    assert (line.how, line.work) == ("etched", "gloss blast")


@pytest.mark.django_db(transaction=True)
def test_two_sweeps_at_once_raise_one_order_with_one_line(built: Built, lead: Person, at: datetime) -> None:
    calls = [call(built.face, lead, at, cause) for cause in ("forecast", "off spec", "interval", "damage")]
    start = threading.Barrier(len(calls))
    failed: list[BaseException] = []

    def sweep(called: Call) -> None:
        try:
            start.wait()
            proposing.propose([called], by=lead, at=at)
        except BaseException as error:
            failed.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=sweep, args=(called,)) for called in calls]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    assert WorkOrder.objects.count() == 1
    assert Line.objects.count() == 1
    assert LineCall.objects.count() == len(calls)


@pytest.mark.django_db(transaction=True)
def test_orders_raised_at_once_on_many_tools_get_a_number_each(lead: Person, at: datetime) -> None:
    tools = [build_tool(lead, at - timedelta(days=30)).tool for _ in range(6)]
    start = threading.Barrier(len(tools))
    failed: list[BaseException] = []

    def sweep(place: int) -> None:
        try:
            start.wait()
            proposing.raise_order(tool=tools[place], by=lead, at=at)
        except BaseException as error:
            failed.append(error)
        finally:
            connection.close()

    threads = [threading.Thread(target=sweep, args=(place,)) for place in range(len(tools))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    numbers = sorted(WorkOrder.objects.values_list("number", flat=True))
    assert numbers == [f"WO-{number:04d}" for number in range(1, 7)]
