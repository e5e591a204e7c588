"""The signatures: the steel, the parts, the customer's, the release by somebody else than the polisher."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.bench.models import Passing, WorkOrder
from shop.bench.services import passing, planning, working
from shop.bench.states import State
from shop.people.models import Person
from shop.refusal import Refused
from shop.tooling.models import Tool
from shop.tooling.services.spec_checks import LimitDraft
from shop.watch.models import Call
from tests.bench.orders import Hands, check, faces_of, line_of, order_at, state_of
from tests.factories import Built, build_tool, by_plaque, plaque, specify

HOUR = timedelta(hours=1)


def refusal(service: Any, **given: Any) -> Refused:
    with pytest.raises(Refused) as refused:
        service(**given)
    return refused.value


@pytest.fixture
def steel(built: Built, hands: Hands, at: datetime) -> WorkOrder:
    """An order of one face whose work was handed over to the steel check."""
    return order_at(State.STEEL_CHECK, [built.face], hands, at)


@pytest.fixture
def parts(built: Built, hands: Hands, at: datetime) -> WorkOrder:
    """An order of one face whose steel has passed."""
    return order_at(State.PARTS_CHECK, [built.face], hands, at)


def parts_pass(order: WorkOrder, hands: Hands, at: datetime) -> None:
    check(order.tool, "parts check", dict.fromkeys(faces_of(order), "3.0"), hands.inspector, at)
    passing.pass_parts(order=order, passed=True, by=hands.inspector, at=at)


# The steel


def test_steel_does_not_pass_unmeasured_and_names_what_is_missing(steel: WorkOrder, hands: Hands, at: datetime) -> None:
    refused = refusal(passing.pass_steel, order=steel, passed=True, why="looks fine", by=hands.inspector, at=at + HOUR)
    assert refused.code == "pass.not_measured"
    assert "show 1 Ra (steel)" in refused.plain()
    assert not Passing.objects.exists()


def test_steel_that_conforms_passes_on_to_the_press(
    built: Built, steel: WorkOrder, hands: Hands, at: datetime
) -> None:
    made = check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at + HOUR)
    signed = passing.pass_steel(order=steel, passed=True, by=hands.inspector, at=at + HOUR)
    assert (signed.inspection, signed.by, signed.passed) == (made, hands.inspector, True)
    assert state_of(steel) == State.PARTS_CHECK
    assert Tool.objects.get(pk=steel.tool_id).place == "rack"


def test_steel_off_spec_does_not_pass(built: Built, steel: WorkOrder, hands: Hands, at: datetime) -> None:
    check(built.tool, "steel check", {built.face: "0.9"}, hands.inspector, at + HOUR)
    refused = refusal(passing.pass_steel, order=steel, passed=True, why="good", by=hands.inspector, at=at + HOUR)
    assert (refused.code, refused.values["face"]) == ("pass.off_spec", str(built.face))


def test_steel_measured_again_counts_by_its_latest_check(
    built: Built, steel: WorkOrder, hands: Hands, at: datetime
) -> None:
    check(built.tool, "steel check", {built.face: "0.9"}, hands.inspector, at + HOUR)
    check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at + 2 * HOUR)
    passing.pass_steel(order=steel, passed=True, by=hands.inspector, at=at + 2 * HOUR)
    assert state_of(steel) == State.PARTS_CHECK


def test_check_from_before_the_work_does_not_count(built: Built, hands: Hands, at: datetime) -> None:
    check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at - HOUR)
    order = order_at(State.STEEL_CHECK, [built.face], hands, at)
    refused = refusal(passing.pass_steel, order=order, passed=True, by=hands.inspector, at=at + HOUR)
    assert refused.code == "pass.not_measured"


def test_every_face_of_the_visit_is_checked(built: Built, hands: Hands, at: datetime) -> None:
    one, two = built.faces["show 1"], built.faces["show 2"]
    order = order_at(State.STEEL_CHECK, [one, two], hands, at)
    check(built.tool, "steel check", {one: "0.4"}, hands.inspector, at + HOUR)
    refused = refusal(passing.pass_steel, order=order, passed=True, by=hands.inspector, at=at + HOUR)
    assert "show 2" in refused.plain()
    assert "show 1" not in refused.plain()


def test_face_that_was_only_cleaned_needs_no_steel_check(built: Built, hands: Hands, at: datetime) -> None:
    order = order_at(State.ACCEPTED, [built.face], hands, at)
    planning.set_work(line=line_of(order), work="clean", by=hands.lead, at=at)
    planning.give_to(order=order, polisher=hands.polisher, due_on=at.date(), by=hands.lead, at=at)
    working.start(order=order, by=hands.polisher, at=at)
    working.hand_over(order=order, by=hands.polisher, at=at, answers={"handover.steps_open": "not_needed"})
    passing.pass_steel(order=order, passed=True, by=hands.inspector, at=at)
    assert refusal(passing.pass_parts, order=order, passed=True, by=hands.inspector, at=at).code == "pass.not_measured"


def near_limit(built: Built, hands: Hands, at: datetime) -> WorkOrder:
    """Return an order at its steel check that read so near a guarded limit that nothing is proven."""
    limits = [LimitDraft("Ra", "steel", None, Decimal("0.6"), "um")]
    specify(built.face, hands.lead, at - HOUR, limits, reason="tighter", acceptance="guarded", tolerance_rule="mean")
    order = order_at(State.STEEL_CHECK, [built.face], hands, at)
    check(built.tool, "steel check", {built.face: "0.600"}, hands.inspector, at + HOUR)
    return order


def test_steel_that_is_not_proven_wants_somebody_to_say_why(built: Built, hands: Hands, at: datetime) -> None:
    order = near_limit(built, hands, at)
    refused = refusal(passing.pass_steel, order=order, passed=True, by=hands.inspector, at=at + HOUR)
    assert (refused.code, refused.field) == ("pass.not_proven", "why")
    signed = passing.pass_steel(
        order=order, passed=True, why="customer carries it", by=hands.inspector, at=at + HOUR
    )
    assert signed.why == "customer carries it"


def test_face_with_no_limit_on_steel_is_passed_by_eye_with_a_why(hands: Hands, at: datetime) -> None:
    began = at - timedelta(days=30)
    grained = build_tool(hands.lead, began)
    by_plaque(grained.face, hands.lead, began)
    order = order_at(State.STEEL_CHECK, [grained.face], hands, at)
    refused = refusal(passing.pass_steel, order=order, passed=True, by=hands.inspector, at=at + HOUR)
    assert (refused.code, refused.field) == ("pass.by_eye", "why")
    passing.pass_steel(order=order, passed=True, why="lamp and loupe", by=hands.inspector, at=at + HOUR)
    check(grained.tool, "parts check", {grained.face: "0"}, hands.inspector, at + 2 * HOUR)
    passing.pass_parts(order=order, passed=True, by=hands.inspector, at=at + 2 * HOUR)
    passing.release(order=order, by=hands.inspector, at=at + 2 * HOUR)
    assert state_of(order) == State.RELEASED


def test_gauge_does_not_decide_where_the_plaque_governs(hands: Hands, at: datetime) -> None:
    began = at - timedelta(days=30)
    mirror = build_tool(hands.lead, began)
    limits = [
        LimitDraft("Ra", "steel", None, Decimal("0.05"), "um"),
        LimitDraft("look gloss", "steel", Decimal(-1), Decimal(1), "grade"),
    ]
    sample = plaque(hands.lead)
    specify(mirror.face, hands.lead, began, limits, how_made="stoned", acceptance="plaque", plaque=sample)
    order = order_at(State.STEEL_CHECK, [mirror.face], hands, at)
    refused = refusal(passing.pass_steel, order=order, passed=True, by=hands.inspector, at=at + HOUR)
    assert "gloss by eye" in refused.plain()
    assert "Ra" not in refused.plain()


def test_inspection_of_another_tool_is_not_signed_on(steel: WorkOrder, hands: Hands, at: datetime) -> None:
    began = at - timedelta(days=30)
    other = build_tool(hands.lead, began)
    specify(other.face, hands.lead, began, [LimitDraft("Ra", "steel", None, Decimal("0.6"), "um")])
    elsewhere = check(other.tool, "steel check", {other.face: "0.3"}, hands.inspector, at + HOUR)
    refused = refusal(
        passing.pass_steel, order=steel, passed=True, inspection=elsewhere, by=hands.inspector, at=at + HOUR
    )
    assert refused.code == "pass.other_tool"


def test_inspection_of_another_stage_is_not_signed_on(steel: WorkOrder, hands: Hands, at: datetime) -> None:
    face = steel.lines.open().changing_finish().first().face
    routine = check(steel.tool, "routine", {face: "0.3"}, hands.inspector, at + HOUR)
    check(steel.tool, "steel check", {face: "0.3"}, hands.inspector, at + HOUR)
    signed = {"order": steel, "passed": True, "by": hands.inspector, "at": at + 2 * HOUR}
    refused = refusal(passing.pass_steel, inspection=routine, **signed)
    assert (refused.code, refused.values["order"]) == ("pass.other_inspection", steel.number)


def test_steel_that_fails_goes_back_to_the_bench_with_a_reason(steel: WorkOrder, hands: Hands, at: datetime) -> None:
    assert refusal(passing.pass_steel, order=steel, passed=False, by=hands.inspector, at=at).code == "pass.why_missing"
    signed = passing.pass_steel(order=steel, passed=False, why="orange peel", by=hands.inspector, at=at)
    assert (signed.passed, signed.why, state_of(steel)) == (False, "orange peel", State.ON_THE_BENCH)


# The parts


def test_parts_measured_before_the_steel_passed_do_not_count(built: Built, hands: Hands, at: datetime) -> None:
    check(built.tool, "first-off", {built.face: "3.0"}, hands.inspector, at - HOUR)
    order = order_at(State.PARTS_CHECK, [built.face], hands, at)
    refused = refusal(passing.pass_parts, order=order, passed=True, by=hands.inspector, at=at + HOUR)
    assert refused.code == "pass.not_measured"


@pytest.mark.parametrize("kind", ["first-off", "parts check"])
def test_parts_pass_on_first_offs_since_the_steel(
    built: Built, parts: WorkOrder, hands: Hands, at: datetime, kind: str
) -> None:
    check(built.tool, kind, {built.face: "3.0"}, hands.inspector, at + HOUR)
    signed = passing.pass_parts(order=parts, passed=True, by=hands.inspector, at=at + HOUR)
    assert (signed.stage, state_of(parts)) == (Passing.Stage.PARTS, State.PARTS_CHECK)


def test_parts_off_spec_go_back_and_the_steel_is_passed_anew(
    built: Built, parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    check(built.tool, "parts check", {built.face: "4.6"}, hands.inspector, at + HOUR)
    refused = refusal(passing.pass_parts, order=parts, passed=True, why="x", by=hands.inspector, at=at + HOUR)
    assert refused.code == "pass.off_spec"
    passing.pass_parts(order=parts, passed=False, why="too glossy", by=hands.inspector, at=at + HOUR)
    assert state_of(parts) == State.ON_THE_BENCH
    working.hand_over(order=parts, by=hands.polisher, at=at + 2 * HOUR)
    again = refusal(passing.pass_steel, order=parts, passed=True, by=hands.inspector, at=at + 2 * HOUR)
    assert again.code == "pass.not_measured"


# The customer and the release


def test_tool_is_not_released_before_its_parts_pass(parts: WorkOrder, hands: Hands, at: datetime) -> None:
    assert refusal(passing.release, order=parts, by=hands.inspector, at=at + HOUR).code == "release.no_parts"


def test_parts_that_passed_before_the_steel_did_again_release_nothing(
    built: Built, parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    parts_pass(parts, hands, at + HOUR)
    passing.pass_parts(order=parts, passed=False, why="scratched in the press", by=hands.inspector, at=at + HOUR)
    working.hand_over(order=parts, by=hands.polisher, at=at + 2 * HOUR)
    check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at + 3 * HOUR)
    passing.pass_steel(order=parts, passed=True, by=hands.inspector, at=at + 3 * HOUR)
    assert refusal(passing.release, order=parts, by=hands.inspector, at=at + 4 * HOUR).code == "release.no_parts"


def test_release_closes_the_lines_and_the_calls_they_answer(parts: WorkOrder, hands: Hands, at: datetime) -> None:
    parts_pass(parts, hands, at + HOUR)
    passing.release(order=parts, by=hands.inspector, at=at + 2 * HOUR)
    parts.refresh_from_db()
    called = Call.objects.get()
    assert (state_of(parts), parts.closed_at) == (State.RELEASED, at + 2 * HOUR)
    assert (called.closed_at, called.closed_because["code"]) == (at + 2 * HOUR, "call.released")
    assert not parts.lines.open().exists()


def test_customer_who_buys_off_signs_before_the_release(
    built: Built, parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    customer = built.tool.customer
    customer.buy_off = True
    customer.save(update_fields=["buy_off"])
    parts_pass(parts, hands, at + HOUR)
    assert refusal(passing.release, order=parts, by=hands.inspector, at=at + HOUR).code == "release.no_buy_off"
    nameless = refusal(passing.buy_off, order=parts, signed_for=" ", passed=True, by=hands.inspector, at=at + HOUR)
    assert nameless.field == "signed_for"
    signed = passing.buy_off(order=parts, signed_for="Mr Ahrens", passed=True, by=hands.inspector, at=at + HOUR)
    assert (signed.signed_for, signed.stage) == ("Mr Ahrens", Passing.Stage.CUSTOMER)
    passing.release(order=parts, by=hands.inspector, at=at + 2 * HOUR)
    assert state_of(parts) == State.RELEASED


def test_customer_who_declines_sends_the_tool_back(parts: WorkOrder, hands: Hands, at: datetime) -> None:
    parts_pass(parts, hands, at + HOUR)
    passing.buy_off(
        order=parts, signed_for="Mr Ahrens", passed=False, why="too dark", by=hands.inspector, at=at + HOUR
    )
    assert state_of(parts) == State.ON_THE_BENCH


def test_parts_that_passed_before_the_customer_declined_release_nothing_after_rework(
    built: Built, parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    parts_pass(parts, hands, at + HOUR)
    passing.buy_off(
        order=parts, signed_for="Mr Ahrens", passed=False, why="too dark", by=hands.inspector, at=at + HOUR
    )
    working.hand_over(order=parts, by=hands.polisher, at=at + 2 * HOUR)
    check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at + 3 * HOUR)
    passing.pass_steel(order=parts, passed=True, by=hands.inspector, at=at + 3 * HOUR)
    assert refusal(passing.release, order=parts, by=hands.inspector, at=at + 4 * HOUR).code == "release.no_parts"


Hand = Callable[[WorkOrder, Person, datetime], None]


def assigned(order: WorkOrder, person: Person, at: datetime) -> None:
    planning.give_to(order=order, polisher=person, due_on=at.date(), by=person, at=at)


def booked(order: WorkOrder, person: Person, at: datetime) -> None:
    working.book(line=line_of(order), minutes=10, by=person, at=at)


def signed_a_step(order: WorkOrder, person: Person, at: datetime) -> None:
    step = line_of(order).steps.filter(done_at__isnull=True).first()
    assert step is not None
    working.step_done(step=step, by=person, at=at)


@pytest.mark.parametrize("hand", [assigned, booked, signed_a_step])
def test_whoever_worked_on_it_does_not_release_it(
    built: Built, hands: Hands, lead: Person, at: datetime, hand: Hand
) -> None:
    order = order_at(State.ON_THE_BENCH, [built.face], hands, at)
    hand(order, lead, at)
    order.refresh_from_db()
    assert lead.pk in passing.hands_of(order)
    working.hand_over(
        order=order, by=hands.polisher, at=at + HOUR, answers={"handover.steps_open": "not_needed"}
    )
    check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, at + 2 * HOUR)
    passing.pass_steel(order=order, passed=True, by=hands.inspector, at=at + 2 * HOUR)
    parts_pass(order, hands, at + 3 * HOUR)
    refused = refusal(passing.release, order=order, override_why="alone", by=lead, at=at + 4 * HOUR)
    assert (refused.code, refused.values["name"]) == ("release.own_work", lead.name)
    order.refresh_from_db()
    assert state_of(order) == State.PARTS_CHECK


def test_plant_may_let_the_polisher_release_by_name_with_a_reason(
    parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    plant = parts.tool.plant
    plant.release_override = True
    plant.save(update_fields=["release_override"])
    parts_pass(parts, hands, at + HOUR)
    refused = refusal(passing.release, order=parts, by=hands.polisher, at=at + 2 * HOUR)
    assert (refused.code, refused.field) == ("release.override_why", "override_why")
    signed = passing.release(order=parts, override_why="night shift, alone", by=hands.polisher, at=at + 2 * HOUR)
    assert (signed.override, signed.why, signed.by) == (True, "night shift, alone", hands.polisher)


def test_release_by_another_is_no_override_whatever_reason_is_sent(
    parts: WorkOrder, hands: Hands, at: datetime
) -> None:
    parts_pass(parts, hands, at + HOUR)
    signed = passing.release(order=parts, override_why="typed in vain", by=hands.inspector, at=at + 2 * HOUR)
    assert (signed.override, signed.why) == (False, "")


@pytest.mark.parametrize("given", [{"passed": False}, {"passed": True, "override": True}])
def test_exception_without_a_reason_is_refused_by_the_database(
    parts: WorkOrder, hands: Hands, at: datetime, given: dict[str, bool]
) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Passing.objects.create(order=parts, stage="release", by=hands.lead, at=at, **given)
