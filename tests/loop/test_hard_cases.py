"""The hard cases of a toolroom, through the loop: waiting for parts, concessions, two calls, moved inserts."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

from shop import loop
from shop.bench.models import Line, WorkOrder
from shop.bench.services import planning
from shop.bench.states import State
from shop.people.models import Person
from shop.tooling.models import FinishLife, Fitting
from shop.watch.models import Call
from tests.loop import rounds
from tests.loop.test_whole_loop import at_steel_check
from tests.measuring import Shop


def test_retextured_face_that_waits_three_weeks_for_a_press_is_not_called(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    rounds.read(shop, 2, "1.0", "steel check", parameter="Ra")
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(2.1))
    for week in (1, 2, 3):
        swept = loop.swept(shop.tool.plant, shop.day(2.1) + timedelta(weeks=week))
        assert (swept.opened, swept.orders) == (0, 0)
        assert rounds.standing(shop.face).state == "awaiting parts"
    assert rounds.causes() == ["damage"]
    rounds.into_press(shop, 25)
    rounds.shoot(shop, 25.1, 40)
    rounds.read(shop, 25.2, "2.5", "first-off")
    loop.parts_passed(order=order, by=shop.inspector, at=shop.day(25.3))
    loop.released(order=order, by=shop.inspector, at=shop.day(25.4))
    life = FinishLife.objects.running().get(face=shop.face)
    assert life.began_at == shop.day(2.1)
    assert (rounds.standing(shop.face).state, rounds.standing(shop.face).life_shots) == ("sound", 40)


def off_spec(shop: Shop) -> WorkOrder:
    rounds.shoot(shop, 1, 3000)
    rounds.read(shop, 1.1, "4.6")
    assert rounds.causes() == ["off spec"]
    return rounds.the_order()


def concede(shop: Shop, days: float) -> None:
    loop.concession_granted(
        face=shop.face, number="K-17", parameter="gloss", reason="customer agreed", upper=Decimal(6),
        until_on=shop.day(90).date(), by=shop.lead, at=shop.day(days),
    )  # fmt: skip


def test_concession_while_called_off_spec_withdraws_what_nobody_accepted(shop: Shop) -> None:
    order = off_spec(shop)
    concede(shop, 2)
    order.refresh_from_db()
    assert order.state == State.WITHDRAWN
    assert rounds.causes() == []
    assert rounds.standing(shop.face).on_concession
    assert Call.objects.get().closed_because["code"] == "closed.concession"


def test_concession_leaves_an_accepted_order_to_the_lead(shop: Shop) -> None:
    order = off_spec(shop)
    planning.accept(order=order, by=shop.lead, at=shop.day(1.5))
    concede(shop, 2)
    order.refresh_from_db()
    assert order.state == State.ACCEPTED
    assert rounds.causes() == []
    loop.ended(order=order, why="on concession", by=shop.lead, at=shop.day(2.1))
    order.refresh_from_db()
    assert order.state == State.WITHDRAWN


def test_concession_taken_back_calls_the_face_again(shop: Shop) -> None:
    off_spec(shop)
    concede(shop, 2)
    loop.concession_withdrawn(
        concession=shop.face.concessions.get(), why="customer took it back", by=shop.lead, at=shop.day(3)
    )
    assert rounds.causes() == ["off spec"]
    assert rounds.the_order().lines.get().face == shop.face


def test_two_calls_on_one_face_are_one_line_and_one_release_answers_both(shop: Shop, polisher: Person) -> None:
    order = off_spec(shop)
    loop.damage_called(tool=shop.tool, face=shop.face, kind="scratch", by=shop.press_tech, at=shop.day(1.2))
    line = Line.objects.get()
    assert rounds.the_order() == order
    assert (line.line_calls.count(), line.work) == (2, "local touch-up")
    rounds.pull(shop, 1.5)
    rounds.given_to(order, polisher, shop.lead, shop.day(1.6))
    rounds.worked(order, polisher, shop.day(1.7))
    rounds.read(shop, 2, "1.0", "steel check", parameter="Ra")
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(2.1))
    rounds.into_press(shop, 2.2)
    rounds.shoot(shop, 2.3, 40)
    rounds.read(shop, 2.4, "2.5", "parts check")
    loop.parts_passed(order=order, by=shop.inspector, at=shop.day(2.5))
    loop.released(order=order, by=shop.inspector, at=shop.day(2.6))
    assert rounds.causes() == []
    assert Call.objects.exclude(closed_because={}).count() == 2


def test_reading_that_overtakes_a_forecast_stays_in_the_same_order(shop: Shop) -> None:
    rounds.wear(shop, [2.6, 2.8, 3.0, 3.2, 3.4, 3.6])
    order = rounds.the_order()
    rounds.shoot(shop, 7, 20_000)
    rounds.read(shop, 7.1, "4.7")
    assert "off spec" in rounds.causes()
    assert rounds.the_order() == order
    assert Line.objects.filter(face=shop.face).count() == 1


def test_insert_moved_with_open_work_takes_its_line_along(shop: Shop, polisher: Person) -> None:
    order = off_spec(shop)
    first, spare = shop.built.inserts["1"], shop.built.inserts["3"]
    loop.insert_moved(insert=spare, position=shop.built.positions[1], by=shop.lead, at=shop.day(1.5))
    assert Fitting.objects.now().filter(insert=first).count() == 0
    assert rounds.the_order() == order
    assert order.lines.get().face == shop.face
    assert not Line.objects.filter(face=shop.built.faces["show 3"]).exists()
    rounds.pull(shop, 1.6)
    rounds.given_to(order, polisher, shop.lead, shop.day(1.7))
    rounds.worked(order, polisher, shop.day(1.8))
    assert FinishLife.objects.running().filter(face=shop.face).count() == 0
    assert FinishLife.objects.running().filter(face=shop.built.faces["show 3"]).count() == 1


def test_sweep_twice_finds_nothing_new(shop: Shop) -> None:
    rounds.wear(shop, [2.6, 2.8, 3.0, 3.2, 3.4, 3.6])
    loop.swept(shop.tool.plant, shop.day(7))
    calls, lines = Call.objects.count(), Line.objects.count()
    again = loop.swept(shop.tool.plant, shop.day(7.01))
    assert (again.opened, again.closed, again.orders) == (0, 0, 0)
    assert (Call.objects.count(), Line.objects.count()) == (calls, lines)


def test_order_turned_down_is_not_raised_again_by_the_next_sweep(shop: Shop) -> None:
    order = off_spec(shop)
    loop.ended(order=order, why="runs out next week", by=shop.lead, at=shop.day(1.5))
    loop.swept(shop.tool.plant, shop.day(2))
    assert WorkOrder.objects.open().count() == 0
    loop.swept(shop.tool.plant, shop.day(1.5) + timedelta(days=7, minutes=1))
    assert rounds.the_order() != order


def test_order_turned_down_is_raised_again_when_the_face_is_measured(shop: Shop) -> None:
    order = off_spec(shop)
    loop.ended(order=order, why="runs out next week", by=shop.lead, at=shop.day(1.5))
    rounds.read(shop, 2, "4.7")
    assert rounds.the_order() != order
