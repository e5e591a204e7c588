"""The signatures of a work order on its page: steel, parts, customer, release."""

from __future__ import annotations

import re

import pytest

from shop import loop
from shop.bench.models import Passing
from shop.bench.states import State
from shop.people.models import Person, Plant
from shop.tooling.models import SteelEntry
from tests import factories
from tests.bench.orders import Hands, check
from tests.benching import days_ago, only_line, order_in, stoned_tool
from tests.factories import Built
from tests.pages.work_orders import At, form_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


@pytest.fixture
def built(lead: Person) -> Built:
    return stoned_tool(lead)


def test_steel_that_was_not_measured_does_not_pass_and_the_remark_is_kept(built: Built, hands: Hands) -> None:
    order = order_in(State.STEEL_CHECK, [built.face], hands)
    by_quality, line = At(order, hands.inspector), only_line(order)
    typed = {f"steel-{line.pk}": "11,5", "why": "seen under the loupe"}
    form = form_of(by_quality.refused("pass_steel", **typed), "pass_steel")
    assert "Not measured yet" in form
    assert 'value="11,5"' in form
    assert 'value="seen under the loupe"' in form
    odd = form_of(by_quality.refused("pass_steel", **{f"steel-{line.pk}": "a bit"}), "pass_steel")
    assert 'value="a bit"' in odd
    assert "A reason is missing." in form_of(by_quality.refused("fail_steel", why=""), "fail_steel")


def test_recut_steel_asks_for_its_new_allowance(built: Built, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [built.face], hands)
    line = only_line(order)
    loop.work_set(line=line, work="re-cut", by=hands.lead, at=days_ago(2))
    loop.handed_over(order=order, by=hands.polisher, at=days_ago(2), answers={"handover.steps_open": "not_needed"})
    check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, days_ago(1))
    by_quality = At(order, hands.inspector)
    page = form_of(by_quality.page(), "pass_steel")
    assert f"New allowance, {built.face}" in page
    assert re.search(rf'name="steel-{line.pk}" type="text" value=""', page)
    assert "new allowance is missing" in form_of(by_quality.refused("pass_steel"), "pass_steel")
    assert by_quality.state == "steel check"
    by_quality.does("pass_steel", **{f"steel-{line.pk}": "300"})
    assert SteelEntry.objects.left_by_face([built.face.pk])[built.face.pk] == 300


def test_signature_carries_the_inspection_that_one_comes_from(built: Built, hands: Hands) -> None:
    order = order_in(State.STEEL_CHECK, [built.face], hands)
    first = check(built.tool, "steel check", {built.face: "0.4"}, hands.inspector, days_ago(2))
    check(built.tool, "steel check", {built.face: "0.41"}, hands.inspector, days_ago(1))
    by_quality = At(order, hands.inspector)
    hidden = f'type="hidden" name="inspection" value="{first.pk}"'
    page = by_quality.page(inspection=first.pk)
    assert hidden in form_of(page, "pass_steel")
    assert hidden in form_of(page, "fail_steel")
    assert 'name="inspection"' not in by_quality.page(inspection="drop table")
    assert 'name="inspection"' not in by_quality.page()
    kept = by_quality.refused("fail_steel", inspection=first.pk, why="")
    assert hidden in form_of(kept, "fail_steel")
    by_quality.does("pass_steel", inspection=first.pk)
    assert Passing.objects.get().inspection == first


def test_parts_are_signed_once_and_may_still_be_sent_back_before_the_release(built: Built, hands: Hands) -> None:
    order = order_in(State.PARTS_CHECK, [built.face], hands)
    by_quality = At(order, hands.inspector)
    assert "Not measured yet" in form_of(by_quality.refused("pass_parts", why="all fine"), "pass_parts")
    assert "have not passed" in by_quality.refused("release")
    check(built.tool, "parts check", {built.face: "3.0"}, hands.inspector, days_ago(1))
    for _tap in range(2):
        assert "The parts have passed." in by_quality.does("pass_parts")
    assert Passing.objects.filter(stage="parts").count() == 1
    assert "A reason is missing." in form_of(by_quality.refused("fail_parts"), "fail_parts")
    assert "Back to the work" in by_quality.does("fail_parts", why="a drag mark after all")
    assert by_quality.state == "on the bench"


def test_customer_signs_by_name_before_the_release(hands: Hands, lead: Person) -> None:
    built = stoned_tool(lead, customer=factories.customer(buy_off=True))
    order = order_in(State.PARTS_CHECK, [built.face], hands)
    check(built.tool, "parts check", {built.face: "3.0"}, hands.inspector, days_ago(1))
    by_quality = At(order, hands.inspector)
    by_quality.does("pass_parts")
    assert "signs before" in form_of(by_quality.refused("release"), "release")
    unnamed = form_of(by_quality.refused("buy_off", passed="yes", why="at their place"), "buy_off")
    assert 'value="at their place"' in unnamed
    assert "Please fill this in." in unnamed
    for _tap in range(2):
        by_quality.does("buy_off", passed="yes", signed_for="R. Kern")
    assert [signed.signed_for for signed in Passing.objects.filter(stage="customer")] == ["R. Kern"]
    assert "Released." in by_quality.does("release")


def test_customer_who_declines_sends_the_tool_back_with_a_reason(hands: Hands, lead: Person) -> None:
    built = stoned_tool(lead, customer=factories.customer(buy_off=True))
    order = order_in(State.PARTS_CHECK, [built.face], hands)
    check(built.tool, "parts check", {built.face: "3.0"}, hands.inspector, days_ago(1))
    by_quality = At(order, hands.inspector)
    by_quality.does("pass_parts")
    form = form_of(by_quality.refused("buy_off", passed="no", signed_for="R. Kern"), "buy_off")
    assert 'value="R. Kern"' in form
    by_quality.does("buy_off", passed="no", signed_for="R. Kern", why="too dull at the rim")
    assert by_quality.state == "on the bench"


def test_release_of_ones_own_work_is_refused_unless_the_plant_allows_it_by_name(
    built: Built, hands: Hands, plant: Plant
) -> None:
    own = Hands(hands.lead, hands.lead, hands.inspector)
    order = order_in(State.PARTS_CHECK, [built.face], own)
    check(built.tool, "parts check", {built.face: "3.0"}, hands.inspector, days_ago(1))
    loop.parts_passed(order=order, by=hands.inspector, at=days_ago(1))
    by_lead = At(order, hands.lead)
    assert "another person releases it" in by_lead.page()
    assert "worked on" in by_lead.refused("release")
    Plant.objects.filter(pk=plant.pk).update(release_override=True)
    hands.lead.refresh_from_db()
    by_lead.client.force_login(Person.objects.get(pk=hands.lead.pk))
    assert "wants a reason" in form_of(by_lead.refused("release"), "release")
    by_lead.does("release", override_why="quality is ill")
    assert "released by a hand that worked on it" in by_lead.page()
