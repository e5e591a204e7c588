"""Planning a visit as it was weighed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest

from shop.bench.models import Line, WorkOrder
from shop.bench.services import proposing
from shop.bench.services.visits import plan_visit
from shop.bench.states import State
from shop.people.models import Person
from shop.tooling.models import Face
from tests.bench.orders import Hands, call, order_at
from tests.factories import Built, build_tool
from tests.tooling.refusing import refused, trail


@pytest.fixture
def faces(built: Built) -> list[Face]:
    return [built.faces["show 1"], built.faces["show 2"]]


def works(order: WorkOrder) -> dict[int | None, str]:
    return {line.face_id: line.work for line in order.lines.open()}


def test_visit_is_raised_accepted_and_due_on_its_day(
    built: Built, faces: list[Face], lead: Person, at: datetime
) -> None:
    due = (at + timedelta(days=9)).date()
    chosen = {faces[0].pk: "kiss polish", faces[1].pk: "full refinish"}
    order = plan_visit(tool=built.tool, works=chosen, due_on=due, by=lead, at=at)
    assert (order.state, order.due_on) == (State.ACCEPTED, due)
    assert works(order) == chosen
    assert all(line.steps.exists() for line in order.lines.open())
    assert ("due_on", "", due.isoformat(), "") in trail(order)


def test_visit_that_is_proposed_already_is_extended(
    built: Built, faces: list[Face], lead: Person, at: datetime
) -> None:
    (raised,) = proposing.propose([call(faces[0], lead, at)], by=lead, at=at)
    assert works(raised) == {faces[0].pk: "kiss polish"}
    chosen = {faces[0].pk: "full refinish", faces[1].pk: "kiss polish"}
    order = plan_visit(tool=built.tool, works=chosen, due_on=at.date(), by=lead, at=at)
    assert order.pk == raised.pk
    assert works(order) == chosen
    assert Line.objects.get(order=order, face=faces[0]).line_calls.exists()
    assert WorkOrder.objects.count() == 1


def test_line_that_was_not_weighed_stays(built: Built, faces: list[Face], lead: Person, at: datetime) -> None:
    proposing.propose([call(face, lead, at) for face in faces], by=lead, at=at)
    order = plan_visit(tool=built.tool, works={faces[0].pk: "full refinish"}, due_on=at.date(), by=lead, at=at)
    assert works(order) == {faces[0].pk: "full refinish", faces[1].pk: "kiss polish"}


def test_form_sent_twice_plans_one_visit(built: Built, faces: list[Face], lead: Person, at: datetime) -> None:
    asked: dict[str, Any] = {
        "tool": built.tool, "works": {faces[0].pk: "kiss polish"}, "due_on": at.date(), "by": lead, "ref": uuid4(),
    }  # fmt: skip
    first = plan_visit(at=at, **asked)
    again = plan_visit(at=at + timedelta(seconds=2), **asked)
    assert first.pk == again.pk
    assert Line.objects.count() == 1


def test_visit_that_cannot_be_is_refused(built: Built, faces: list[Face], lead: Person, at: datetime) -> None:
    asked: dict[str, Any] = {"tool": built.tool, "by": lead, "at": at}
    chosen = {faces[0].pk: "kiss polish"}
    refused("due.in_past", plan_visit, works=chosen, due_on=at.date() - timedelta(days=1), **asked)
    refused("visit.faces", plan_visit, works={}, due_on=at.date(), **asked)
    other = build_tool(lead, at).faces["show 1"]
    refused("visit.faces", plan_visit, works={other.pk: "kiss polish"}, due_on=at.date(), **asked)
    refused("visit.faces", plan_visit, works={999_999: "kiss polish"}, due_on=at.date(), **asked)
    assert not WorkOrder.objects.exists()


def test_face_in_work_is_not_booked_a_second_time(
    built: Built, faces: list[Face], hands: Hands, at: datetime
) -> None:
    order_at(State.ON_THE_BENCH, [faces[0]], hands, at)
    later = at + timedelta(hours=1)
    chosen = {faces[0].pk: "kiss polish"}
    refused("line.face_taken", plan_visit, tool=built.tool, works=chosen, due_on=later.date(), by=hands.lead, at=later)
    assert WorkOrder.objects.count() == 1
