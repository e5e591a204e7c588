"""What the lead decides about an order."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest

from shop.bench.models import Line
from shop.bench.services import planning, working
from shop.bench.states import State
from shop.ledger.models import Change
from shop.people.models import Person
from shop.refusal import Refused
from shop.watch.models import Call
from tests.bench.orders import Hands, house, line_of, order_at, sign_steps
from tests.factories import Built, build_tool


def test_accepted_order_is_given_to_a_polisher_by_a_day(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    due_on = (at + timedelta(days=3)).date()
    planning.give_to(order=order, polisher=hands.polisher, due_on=due_on, by=hands.lead, at=at)
    order.refresh_from_db()
    assert (order.state, order.polisher, order.due_on) == (State.PLANNED, hands.polisher, due_on)


def test_raised_order_is_not_given_before_it_is_accepted(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.RAISED, [built.face], hands, at)
    with pytest.raises(Refused) as refused:
        planning.give_to(order=order, polisher=hands.polisher, due_on=at.date(), by=hands.lead, at=at)
    assert refused.value.code == "order.wrong_state"


def test_order_is_not_given_to_somebody_who_is_no_polisher(
    built: Built, hands: Hands, viewer: Person, at: datetime
) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    with pytest.raises(Refused) as refused:
        planning.give_to(order=order, polisher=viewer, due_on=at.date(), by=hands.lead, at=at)
    assert refused.value.code == "order.not_a_polisher"


def test_order_is_not_due_on_a_day_that_has_passed(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    with pytest.raises(Refused) as refused:
        planning.give_to(
            order=order, polisher=hands.polisher, due_on=(at - timedelta(days=1)).date(), by=hands.lead, at=at
        )
    assert refused.value.code == "due.in_past"


def test_order_at_the_bench_can_be_handed_to_another_polisher(
    built: Built, hands: Hands, at: datetime, person_of: Callable[..., Person]
) -> None:
    order = order_at(State.ON_THE_BENCH, [built.face], hands, at)
    other = person_of("polisher", "Ada Blum")
    planning.give_to(order=order, polisher=other, due_on=at.date(), by=hands.lead, at=at)
    order.refresh_from_db()
    assert (order.state, order.polisher) == (State.ON_THE_BENCH, other)
    assert Change.objects.filter(row_id=order.pk, field="polisher").count() == 2


def test_due_date_inside_a_houses_lead_time_is_a_question(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    texture_house, due_on = house(hands.lead, days=21), (at + timedelta(days=10)).date()
    with pytest.raises(Refused) as refused:
        planning.send_to(order=order, outside_house=texture_house, due_on=due_on, by=hands.lead, at=at)
    assert (refused.value.code, refused.value.question) == ("due.inside_lead_time", True)
    assert [code for code, _ in refused.value.choices] == ["yes_agreed"]
    agreed = {"due.inside_lead_time": "yes_agreed"}
    planning.send_to(order=order, outside_house=texture_house, due_on=due_on, by=hands.lead, at=at, answers=agreed)
    order.refresh_from_db()
    assert (order.state, order.outside_house) == (State.PLANNED, texture_house)


def test_planned_order_that_is_taken_back_has_no_hand_and_no_day(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.PLANNED, [built.face], hands, at)
    planning.take_back(order=order, by=hands.lead, at=at)
    order.refresh_from_db()
    assert (order.state, order.polisher, order.due_on) == (State.ACCEPTED, None, None)


def test_turning_down_closes_lines_and_calls_with_the_reason(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.RAISED, [built.face], hands, at)
    planning.turn_down(order=order, why="runs out next week", by=hands.lead, at=at)
    assert line_of(order).dropped_because == "runs out next week"
    closed = Call.objects.get()
    assert closed.closed_at == at
    assert closed.closed_because["values"] == {"order": order.number, "why": "runs out next week"}


def test_turning_down_wants_a_reason(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.RAISED, [built.face], hands, at)
    with pytest.raises(Refused) as refused:
        planning.turn_down(order=order, why=" ", by=hands.lead, at=at)
    assert refused.value.field == "why"
    assert Call.objects.open().count() == 1


def test_withdrawn_order_closes_its_calls(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.PLANNED, [built.face], hands, at)
    planning.withdraw(order=order, why="tool is scrapped", by=hands.lead, at=at)
    assert not Call.objects.open().exists()
    assert not Line.objects.open().exists()


def test_lead_adds_a_face_and_a_job_that_rides_along(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    face = planning.add_line(order=order, face=built.faces["show 2"], work="clean", by=hands.lead, at=at)
    job = planning.add_line(order=order, job="clear the vents", by=hands.lead, at=at)
    assert [step.kind for step in face.steps.all()] == ["clean"]
    assert (job.face, job.job, job.steps.count()) == (None, "clear the vents", 0)


def test_face_with_an_open_line_is_not_added_again(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    with pytest.raises(Refused) as refused:
        planning.add_line(order=order, face=built.face, work="clean", by=hands.lead, at=at)
    assert (refused.value.code, refused.value.values["order"]) == ("line.face_taken", order.number)


def test_face_of_another_tool_is_not_added(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    other = build_tool(hands.lead, at - timedelta(days=3))
    with pytest.raises(Refused) as refused:
        planning.add_line(order=order, face=other.face, work="clean", by=hands.lead, at=at)
    assert refused.value.code == "line.other_tool"


def test_dropped_line_closes_its_call_and_says_why(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face, built.faces["show 2"]], hands, at)
    planning.drop_line(line=line_of(order, built.face), why="can wait", by=hands.lead, at=at)
    assert [line.face for line in order.lines.open()] == [built.faces["show 2"]]
    assert [called.face for called in Call.objects.open()] == [built.faces["show 2"]]


def test_line_is_not_dropped_while_it_is_worked_on(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ON_THE_BENCH, [built.face], hands, at)
    with pytest.raises(Refused) as refused:
        planning.drop_line(line=line_of(order), why="can wait", by=hands.lead, at=at)
    assert refused.value.code == "order.wrong_state"


def test_other_work_lays_another_route(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    before = line_of(order)
    kissed = before.steps.count()
    planning.set_work(line=before, work="full refinish", by=hands.lead, at=at)
    after = line_of(order)
    assert after.steps.count() > kissed
    assert after.planned_steel_um > before.planned_steel_um
    assert Change.objects.filter(row_id=after.pk, field="work", old="kiss polish", new="full refinish").exists()


def test_steps_that_are_done_stay_when_the_work_changes(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ON_THE_BENCH, [built.face], hands, at)
    sign_steps(order, hands.polisher, at)
    done = list(line_of(order).steps.values_list("pk", flat=True))
    spent = line_of(order).planned_steel_um
    line = planning.set_work(line=line_of(order), work="local touch-up", by=hands.lead, at=at)
    steps = list(line.steps.all())
    assert [step.pk for step in steps[: len(done)]] == done
    assert [step.number for step in steps] == list(range(1, len(steps) + 1))
    assert line.planned_steel_um == spent + sum(step.planned_steel_um for step in steps[len(done) :])


def test_customers_steel_is_not_cut_before_they_are_asked(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    built.tool.owner = "Customer"
    built.tool.save(update_fields=["owner"])
    with pytest.raises(Refused) as refused:
        planning.set_work(line=line_of(order), work="re-cut", by=hands.lead, at=at)
    assert (refused.value.code, refused.value.question) == ("steel.customers", True)
    answers = {"steel.customers": "customer_agreed"}
    planning.set_work(line=line_of(order), work="re-cut", by=hands.lead, at=at, answers=answers)
    assert line_of(order).work == "re-cut"


def test_work_that_takes_more_steel_than_there_is_does_not_start(built: Built, hands: Hands, at: datetime) -> None:
    built.face.steel_to_give_um = 5
    built.face.save(update_fields=["steel_to_give_um"])
    order = order_at(State.PLANNED, [built.face], hands, at)
    planning.set_work(line=line_of(order), work="full refinish", by=hands.lead, at=at)
    with pytest.raises(Refused) as refused:
        working.start(order=order, by=hands.polisher, at=at)
    assert refused.value.code == "steel.not_there"
