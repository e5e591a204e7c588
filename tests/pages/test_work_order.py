"""Work order: the whole way by four people, each act once, refusals in their own form, and who may."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shop.bench.models import Booking, Line, Passing, Work, WorkOrder
from shop.bench.states import State
from shop.pages.order_acts import ACTS
from shop.people.models import Person, Plant
from shop.tooling.models import FinishLife, SteelEntry
from tests.bench.orders import Hands, gauge, house, sign_steps
from tests.benching import days_ago, only_line, order_in, stoned_tool
from tests.factories import Built
from tests.pages.work_orders import At, form_of, measure, tomorrow

pytestmark = pytest.mark.django_db


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


@pytest.fixture
def built(lead: Person) -> Built:
    return stoned_tool(lead)


# The whole way


def test_order_goes_all_the_way_by_four_people(
    built: Built, lead: Person, polisher: Person, press_tech: Person, inspector: Person
) -> None:
    press = Client()
    press.force_login(press_tech)
    seen = {"kind": "scratch", "face": built.face.pk, "note": "at the gate", "ref": str(uuid.uuid4())}
    assert press.post(reverse("damage", args=[built.tool.pk]), seen).status_code == 303
    order = WorkOrder.objects.get(tool=built.tool)
    stylus, gloss = gauge(inspector, days_ago(1)), gauge(inspector, days_ago(1), "glossmeter", "0.1")

    by_lead, by_polisher, by_quality = At(order, lead), At(order, polisher), At(order, inspector)
    assert "at the gate" in by_lead.page()
    assert "Accepted." in by_lead.does("accept")
    assert "Given to Ivo Brandt" in by_lead.does("give", polisher=polisher.pk, due_on=tomorrow())

    assert "On the bench." in by_polisher.does("start")
    for step in only_line(order).steps.all():
        assert f"Step {step.number} is signed." in by_polisher.does("step", step=step.pk, minutes="12")
    assert "Handed over" in by_polisher.does("hand_over")
    assert "Nothing here waits for your role." in by_polisher.page()

    assert "Still to be measured" in by_quality.page()
    steel = measure(by_quality.client, order, "steel check", "0,42", "gauge_roughness", stylus.pk)
    line = only_line(order)
    assert "The steel has passed." in by_quality.does("pass_steel", **{f"steel-{line.pk}": "9,5"}, inspection=steel.pk)
    assert by_quality.state == "parts check"
    parts = measure(by_quality.client, order, "parts check", "3,0", "gauge_gloss", gloss.pk)
    assert "The parts have passed." in by_quality.does("pass_parts", inspection=parts.pk)
    assert "Released." in by_quality.does("release")

    assert by_quality.state == "released"
    assert SteelEntry.objects.get(face=built.face, kind="taken").depth_um == Decimal("9.5")
    assert FinishLife.objects.filter(face=built.face).count() == 2
    assert Booking.objects.count() == line.steps.count()
    assert [signed.inspection for signed in Passing.objects.order_by("id")] == [steel, parts, None]
    assert [move.by for move in order.moves.order_by("id")][1:] == [
        lead, lead, polisher, polisher, inspector, inspector,
    ]  # fmt: skip
    assert "This order is done" in by_lead.page()


# The lead decides


def test_turning_down_without_a_reason_keeps_the_form_open(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.RAISED, [built.face], hands), hands.lead)
    form = form_of(by_lead.refused("turn_down", why=" "), "turn_down")
    assert "A reason is missing." in form
    assert "Turned down" in by_lead.does("turn_down", why="run it out first")
    assert by_lead.state == "turned down"
    assert "run it out first" in by_lead.page()


def test_given_to_nobody_keeps_the_day_and_says_so_in_that_form(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.ACCEPTED, [built.face], hands), hands.lead)
    form = form_of(by_lead.refused("give", polisher="", due_on="2031-05-06"), "give")
    assert 'value="2031-05-06"' in form
    assert "Please fill this in." in form
    yesterday = (timezone.localdate() - timedelta(days=1)).isoformat()
    late = form_of(by_lead.refused("give", polisher=hands.polisher.pk, due_on=yesterday), "give")
    assert "has passed" in late
    assert f'value="{hands.polisher.pk}" selected' in late


def test_day_inside_the_houses_lead_time_is_asked_about_in_its_form(built: Built, hands: Hands) -> None:
    by_lead, outside = At(order_in(State.ACCEPTED, [built.face], hands), hands.lead), house(hands.lead, days=21)
    words = by_lead.refused("send", house=outside.pk, due_on=tomorrow())
    form = form_of(words, "send")
    assert "needs 21 days" in form
    assert 'name="answer" value="due.inside_lead_time=yes_agreed"' in form
    assert f'value="{tomorrow()}"' in form
    assert "needs 21 days" not in form_of(words, "give")
    agreed = by_lead.does("send", house=outside.pk, due_on=tomorrow(), answer="due.inside_lead_time=yes_agreed")
    assert "Planned for House 21" in agreed


def test_planned_order_is_taken_back_and_withdrawn_with_a_reason(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.PLANNED, [built.face], hands), hands.lead)
    assert "nobody has it now" in by_lead.does("take_back")
    assert by_lead.state == "accepted"
    assert "A reason is missing." in form_of(by_lead.refused("withdraw"), "withdraw")
    assert "Withdrawn" in by_lead.does("withdraw", why="tool goes to scrap")


def test_late_order_is_offered_today_and_not_the_day_that_has_passed(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.PLANNED, [built.face], hands, days=5), hands.lead)
    assert f'value="{timezone.localdate().isoformat()}"' in form_of(by_lead.page(), "give")


def test_face_and_job_are_added_once_and_a_line_is_dropped_with_a_reason(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.ACCEPTED, [built.face], hands), hands.lead)
    other = built.faces["show 2"]
    assert "Name a face or a job." in form_of(by_lead.refused("add_line", face="", work="clean"), "add_line")
    assert f"Added: {other}." in by_lead.does("add_line", face=other.pk, work="kiss polish")
    ref = str(uuid.uuid4())
    for _tap in range(2):
        assert "Added: vents" in by_lead.does("add_line", job="vents", ref=ref)
    lines = by_lead.order.lines.open()
    assert [(line.face, line.job) for line in lines.order_by("id")] == [
        (built.face, ""), (other, ""), (None, "vents"),
    ]  # fmt: skip
    vents = Line.objects.get(job="vents")
    form = form_of(by_lead.refused("drop_line", line=vents.pk, why=""), "drop_line", f'name="line" value="{vents.pk}"')
    assert "A reason is missing." in form
    assert "Dropped" in by_lead.does("drop_line", line=vents.pk, why="not in this visit")
    assert "This was done already." in by_lead.does("drop_line", line=vents.pk, why="not in this visit")
    assert "not in this visit" in by_lead.page()


def test_face_that_has_a_line_is_refused_with_the_choice_kept(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.ACCEPTED, [built.face], hands), hands.lead)
    form = form_of(by_lead.refused("add_line", face=built.face.pk, work="full refinish"), "add_line")
    assert "already has an open line" in form
    assert 'value="full refinish" selected' in form


def test_customers_steel_is_cut_anew_only_when_they_have_agreed(hands: Hands, lead: Person) -> None:
    built = stoned_tool(lead, owner="Lumenor")
    order = order_in(State.ACCEPTED, [built.face], hands)
    by_lead, line = At(order, lead), only_line(order)
    words = by_lead.refused("set_work", line=line.pk, work="re-cut", how="blasted")
    form = form_of(words, "set_work", f'name="line" value="{line.pk}"')
    assert "belongs to Lumenor" in form
    assert 'value="steel.customers=customer_agreed"' in form
    assert 'value="re-cut" selected' in form
    assert 'value="blasted" selected' in form
    answer = "steel.customers=customer_agreed"
    assert "laid anew" in by_lead.does("set_work", line=line.pk, work="re-cut", how="stoned", answer=answer)
    assert only_line(order).work == Work.RECUT


# The work


def test_tool_in_the_press_is_not_started_and_the_answer_stands_at_the_button(
    built: Built, hands: Hands, press_tech: Person
) -> None:
    from shop.press.services import presses, runs

    order = order_in(State.PLANNED, [built.face], hands)
    press = presses.add_press(plant=hands.lead.plant, name="P7", by=press_tech, at=days_ago(2))
    runs.start_run(tool=built.tool, press=press, by=press_tech, at=days_ago(1))
    by_polisher = At(order, hands.polisher)
    assert "runs in press P7" in form_of(by_polisher.refused("start"), "start")
    assert by_polisher.state == "planned"


def test_second_tap_on_a_button_is_answered_kindly(built: Built, hands: Hands) -> None:
    order = order_in(State.PLANNED, [built.face], hands)
    by_polisher, by_quality = At(order, hands.polisher), At(order, hands.inspector)
    assert "On the bench." in by_polisher.does("start")
    assert "This was done already." in by_polisher.does("start")
    sign_steps(order, hands.polisher, timezone.now())
    assert "Handed over" in by_polisher.does("hand_over")
    assert "This was done already." in by_polisher.does("hand_over")
    assert "Back to the work" in by_quality.does("fail_steel", why="scratch left")
    assert "This was done already." in by_quality.does("fail_steel", why="scratch left")
    assert "Stopped." in by_polisher.does("stop", stop_kind="pitting", why="0.2 deep")
    assert "This was done already." in by_polisher.does("stop", stop_kind="pitting", why="0.2 deep")
    assert [move.why for move in order.moves.filter(to_state="stopped")] == ["Pitting. 0.2 deep"]


def test_step_out_of_order_keeps_the_minutes_beside_their_step(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [built.face], hands)
    by_polisher, line = At(order, hands.polisher), only_line(order)
    first, second = list(line.steps.all())[:2]
    assert "waits for step 1" in by_polisher.refused("step", step=second.pk, minutes="5")
    form = form_of(by_polisher.refused("step", step=first.pk, minutes="a while"), "step")
    assert 'value="a while"' in form
    assert "fault" in form
    assert not Booking.objects.exists()


def test_step_signed_twice_books_its_minutes_once(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [built.face], hands)
    by_polisher, step = At(order, hands.polisher), only_line(order).steps.get(number=1)
    ref = str(uuid.uuid4())
    for _tap in range(2):
        by_polisher.does("step", step=step.pk, minutes="7", ref=ref)
    assert "was signed before" in by_polisher.does("step", step=step.pk, minutes="7")
    assert [booking.minutes for booking in Booking.objects.all()] == [7]


def test_minutes_are_booked_once_and_too_many_are_kept_in_the_lines_form(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, list(built.faces.values()), hands)
    by_polisher = At(order, hands.polisher)
    first, second = order.lines.open().order_by("id")
    words = by_polisher.refused("book", line=second.pk, minutes="2000", note="with a new felt")
    form = form_of(words, "book", f'name="line" value="{second.pk}"')
    assert "2000" in form
    assert "with a new felt" in form
    assert "1440" in form
    assert "with a new felt" not in form_of(words, "book", f'name="line" value="{first.pk}"')
    ref = str(uuid.uuid4())
    for _tap in range(2):
        assert "30 min booked." in by_polisher.does("book", line=second.pk, minutes="30", ref=ref)
    assert Booking.objects.get().line == second


def test_stop_needs_words_and_is_resumed(built: Built, hands: Hands) -> None:
    by_polisher = At(order_in(State.ON_THE_BENCH, [built.face], hands), hands.polisher)
    assert "A reason is missing." in form_of(by_polisher.refused("stop"), "stop")
    odd = form_of(by_polisher.refused("stop", stop_kind="tea", why="felt is worn"), "stop")
    assert 'value="felt is worn"' in odd
    by_polisher.does("stop", stop_kind="crack")
    assert "Weld or crack" in by_polisher.page()
    assert "On with it." in by_polisher.does("resume")
    assert by_polisher.state == "on the bench"


def test_steps_that_nobody_signed_are_asked_about_at_the_hand_over(built: Built, hands: Hands) -> None:
    by_polisher = At(order_in(State.ON_THE_BENCH, [built.face], hands), hands.polisher)
    form = form_of(by_polisher.refused("hand_over"), "hand_over")
    assert "are not signed" in form
    assert 'value="handover.steps_open=not_needed"' in form
    assert "Handed over" in by_polisher.does("hand_over", answer="handover.steps_open=not_needed")


def test_polisher_is_shown_to_the_vice_until_every_step_is_signed(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [built.face], hands)
    by_polisher, at_the_vice = At(order, hands.polisher), f'href="/vice/?order={order.pk}"'
    assert at_the_vice in by_polisher.page()
    assert '<button class="main">' not in form_of(by_polisher.page(), "hand_over")
    assert at_the_vice not in At(order, hands.lead).page()
    sign_steps(order, hands.polisher, days_ago(1))
    assert at_the_vice not in by_polisher.page()
    assert '<button class="main">' in form_of(by_polisher.page(), "hand_over")


def test_order_is_sent_out_and_comes_back_to_the_bench_or_to_its_check(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [built.face], hands)
    by_polisher, by_lead = At(order, hands.polisher), At(order, hands.lead)
    outside = house(hands.lead, days=0)
    assert "has no outside house" in by_polisher.refused("send_out")
    assert "Planned for House 0" in by_lead.does("send", house=outside.pk, due_on=tomorrow())
    assert "Sent out." in by_polisher.does("send_out")
    assert "Back on the bench." in by_polisher.does("back_to_bench")
    assert "This was done already." in by_polisher.does("back_to_bench")
    by_polisher.does("send_out")
    assert "the steel is checked next" in by_polisher.does("come_back")
    assert by_polisher.state == "steel check"


# Who may, and what is not there


def test_every_act_is_tried_by_a_role_that_may_not(built: Built, hands: Hands, person_of: Any) -> None:
    order = order_in(State.RAISED, [built.face], hands)
    as_viewer, as_press = At(order, person_of("viewer")), At(order, person_of("press"))
    by_polisher, by_quality = At(order, hands.polisher), At(order, hands.inspector)
    for name, act in ACTS.items():
        assert as_viewer.status(name) == 403, name
        assert as_press.status(name) == 403, name
        if act.ability in ("plan bench", "judge release", "release"):
            assert by_polisher.status(name) == 403, name
        if act.ability in ("plan bench", "bench work"):
            assert by_quality.status(name) == 403, name
    assert as_viewer.state == "raised"


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_and_is_offered_only_what_it_may(
    built: Built, hands: Hands, person_of: Any, role: str
) -> None:
    words = At(order_in(State.RAISED, [built.face], hands), person_of(role)).page()
    assert ('value="accept"' in words) == (role in ("lead", "owner"))
    assert ("Nothing here waits for your role." in words) == (role not in ("lead", "owner"))


def test_order_of_another_plant_is_not_found(built: Built, hands: Hands, person_of: Any) -> None:
    stranger = At(order_in(State.RAISED, [built.face], hands), person_of("owner", plant=Plant.objects.create(name="X")))
    assert stranger.client.get(stranger.address).status_code == 404
    assert stranger.status("accept") == 404
    assert stranger.state == "raised"


def test_line_step_and_face_of_another_order_are_not_taken(built: Built, hands: Hands) -> None:
    mine = order_in(State.ON_THE_BENCH, [built.face], hands)
    theirs = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead).face], hands)
    line = only_line(theirs)
    by_lead = At(mine, hands.lead)
    by_lead.refused("book", line=line.pk, minutes="5")
    by_lead.refused("step", step=line.steps.get(number=1).pk)
    assert "not one of the choices" in by_lead.refused("add_line", face=line.face_id, work="clean")
    assert not Booking.objects.exists()
    assert not line.steps.filter(done_at__isnull=False).exists()


def test_act_that_nobody_knows_is_answered_with_the_page(built: Built, hands: Hands) -> None:
    by_lead = At(order_in(State.RAISED, [built.face], hands), hands.lead)
    assert "needs another look" in by_lead.refused("melt")


def test_form_that_is_gone_is_answered_at_the_top_with_the_words_that_were_typed(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [built.face], hands)
    words = At(order, hands.lead).refused("withdraw", why="customer moved the tool")
    assert 'role="alert"' in words
    assert "cannot become withdrawn" in words
    assert "You wrote: “customer moved the tool”" in words


def test_page_costs_the_same_for_one_face_and_for_twelve(hands: Hands, lead: Person) -> None:
    one = order_in(State.STEEL_CHECK, [stoned_tool(lead, cavities=1).face], hands)
    twelve = order_in(State.STEEL_CHECK, list(stoned_tool(lead, cavities=12).faces.values()), hands)
    counts = []
    for order in (one, twelve):
        by_quality = At(order, hands.inspector)
        by_quality.page()
        with CaptureQueriesContext(connection) as queries:
            by_quality.page()
        counts.append(len(queries))
    assert counts[0] == counts[1]
