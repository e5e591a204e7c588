"""At my vice: what is offered, the present step, and refusals that come back to this page."""

from __future__ import annotations

import re
import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop import loop
from shop.bench.models import Booking, WorkOrder
from shop.bench.services import planning
from shop.bench.states import State
from shop.people.models import Person
from tests.bench.orders import Hands, sign_steps
from tests.benching import days_ago, only_line, order_in, stoned_tool

pytestmark = pytest.mark.django_db
VICE = "/vice/"


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


@pytest.fixture
def at_vice(client: Client, polisher: Person) -> Client:
    client.force_login(polisher)
    return client


def sends(client: Client, order: WorkOrder, act: str, **fields: Any) -> Any:
    form = {"do": act, "back": "vice", "ref": str(uuid.uuid4()), **fields}
    return client.post(reverse("work-order", args=[order.pk]), form)


def words_of(client: Client, **asked: Any) -> str:
    shown = client.get(VICE, asked)
    assert shown.status_code == 200
    return str(shown.content.decode())


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_vice_is_for_those_who_work_at_the_bench(client: Client, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    assert client.get(VICE).status_code == (200 if role in ("lead", "polisher", "owner") else 403)


def test_empty_vice_says_what_belongs_there(at_vice: Client) -> None:
    assert "Nothing is given to you now." in words_of(at_vice)


def test_planned_order_is_offered_to_begin_with_its_faces(at_vice: Client, hands: Hands) -> None:
    order = order_in(State.PLANNED, list(stoned_tool(hands.lead).faces.values()), hands)
    words = words_of(at_vice)
    assert "Next to begin:" in words
    assert words.count('name="do" value="start"') == 1
    assert "show 1" in words
    assert "show 2" in words
    started = sends(at_vice, order, "start")
    assert started.headers["Location"] == VICE
    assert "Step done" in words_of(at_vice)


def test_refused_start_comes_back_to_the_vice(at_vice: Client, hands: Hands, press_tech: Person) -> None:
    from shop.press.services import presses, runs

    built = stoned_tool(hands.lead)
    order = order_in(State.PLANNED, [built.face], hands)
    press = presses.add_press(plant=hands.lead.plant, name="P7", by=press_tech, at=days_ago(2))
    runs.start_run(tool=built.tool, press=press, by=press_tech, at=days_ago(1))
    assert "still in the press" in words_of(at_vice)
    refused = sends(at_vice, order, "start")
    assert refused.status_code == 422
    assert "At my vice" in refused.content.decode()
    assert "runs in press P7" in refused.content.decode()


def test_present_step_is_large_with_its_minutes_and_signed_with_one_button(at_vice: Client, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    step = only_line(order).steps.get(number=1)
    words = words_of(at_vice)
    assert re.search(r'class="step-now".*?1</span> <strong>Clean', words)
    assert f'name="step" value="{step.pk}"' in words
    assert 'name="minutes" type="text" value="480"' in words  # the clock ran for days: it proposes one at the most
    assert sends(at_vice, order, "step", step=step.pk, minutes="9").headers["Location"] == VICE
    assert 'name="minutes" type="text" value="1"' in words_of(at_vice)
    assert Booking.objects.get().minutes == 9


def test_minutes_that_are_no_number_stay_at_the_vice(at_vice: Client, hands: Hands) -> None:
    built = stoned_tool(hands.lead)
    order = order_in(State.ON_THE_BENCH, list(built.faces.values()), hands)
    second = order.lines.get(face=built.faces["show 2"])
    step = second.steps.get(number=1)
    kept = sends(at_vice, order, "step", step=step.pk, line=second.pk, minutes="ten")
    words = kept.content.decode()
    assert kept.status_code == 422
    assert "<title>At my vice" in words
    assert 'value="ten"' in words
    assert f'name="step" value="{step.pk}"' in words


def test_face_is_picked_and_the_step_is_its_own(at_vice: Client, hands: Hands) -> None:
    built = stoned_tool(hands.lead)
    order = order_in(State.ON_THE_BENCH, list(built.faces.values()), hands)
    second = order.lines.get(face=built.faces["show 2"])
    words = words_of(at_vice, order=order.pk, line=second.pk)
    assert f'name="step" value="{second.steps.get(number=1).pk}"' in words


def test_address_with_nonsense_in_it_shows_the_vice(at_vice: Client, hands: Hands) -> None:
    order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    assert "Step done" in words_of(at_vice, order="x", line="-1")


def test_stop_without_words_stays_open_with_what_was_ticked(at_vice: Client, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    kept = sends(at_vice, order, "stop", why=" ")
    assert kept.status_code == 422
    assert re.search(r'<details class="stop" open>.*?A reason is missing', kept.content.decode(), re.DOTALL)
    assert sends(at_vice, order, "stop", stop_kind="pitting").status_code == 303
    words = words_of(at_vice, order=order.pk)
    assert "The lead decides how it goes on" in words
    assert "Step done" not in words


def test_hand_over_is_offered_when_all_is_signed_and_asks_at_the_vice(at_vice: Client, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    line = only_line(order)
    sign_steps(order, hands.polisher, days_ago(1))
    assert "Every step is signed." in words_of(at_vice)
    # Somebody lays another route while the page is open.
    planning.set_work(line=line, work="full refinish", by=hands.lead, at=days_ago(1))
    asked = sends(at_vice, order, "hand_over")
    assert asked.status_code == 422
    assert "are not signed" in asked.content.decode()
    assert "<title>At my vice" in asked.content.decode()
    assert sends(at_vice, order, "hand_over", answer="handover.steps_open=not_needed").status_code == 303
    assert "Handed on: being checked or sent out" in words_of(at_vice)


def test_job_without_a_face_is_shown_large_and_handed_over(at_vice: Client, hands: Hands) -> None:
    built = stoned_tool(hands.lead)
    loop.damage_called(tool=built.tool, kind="rust", by=hands.lead, at=days_ago(2))
    order = WorkOrder.objects.get(tool=built.tool)
    planning.accept(order=order, by=hands.lead, at=days_ago(2))
    planning.give_to(order=order, polisher=hands.polisher, due_on=days_ago(1).date(), by=hands.lead, at=days_ago(2))
    loop.started(order=order, by=hands.polisher, at=days_ago(1))
    words = words_of(at_vice)
    assert re.search(r'class="step-now"><strong>Look at: rust', words)
    assert "Every step is signed." not in words
    assert sends(at_vice, order, "hand_over").status_code == 303


def test_order_given_to_somebody_else_is_not_on_my_vice(client: Client, hands: Hands, person_of: Any) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    client.force_login(person_of("polisher"))
    words = words_of(client, order=order.pk)
    assert order.number not in words
