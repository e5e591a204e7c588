"""One face all the way round: by wear, and from damage."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shop import loop
from shop.bench.models import Booking, LineCall, WorkOrder
from shop.bench.states import State
from shop.people.models import Person
from shop.refusal import Refused
from shop.tooling.models import FinishLife, SteelEntry, Tool
from shop.watch import reasons
from shop.watch.models import Call, Trend
from tests.loop import rounds
from tests.measuring import Shop

WEAR = [2.6, 2.8, 3.0, 3.2, 3.4, 3.6]


def steel_left(shop: Shop) -> Decimal | None:
    return SteelEntry.objects.left_by_face([shop.face.pk])[shop.face.pk]


def passed_and_released(shop: Shop, order: WorkOrder, day: float) -> None:
    """Take the order from its steel check to its release: by day, steel, press, parts, release."""
    rounds.read(shop, day, "1.0", "steel check", parameter="Ra")
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(day + 0.1))
    rounds.into_press(shop, day + 0.2)
    rounds.shoot(shop, day + 0.3, 40)
    rounds.read(shop, day + 0.4, "2.5", "parts check")
    loop.parts_passed(order=order, by=shop.inspector, at=shop.day(day + 0.5))
    loop.released(order=order, by=shop.inspector, at=shop.day(day + 0.6))


def test_face_goes_round_by_wear(shop: Shop, polisher: Person) -> None:
    last = rounds.wear(shop, WEAR)
    assert "forecast" in rounds.causes()
    order = rounds.the_order()
    line = order.lines.get(face=shop.face)
    assert order.moves.get().by.username == f"facewright-{shop.tool.plant_id}"
    (why,) = [reasons.saying(row) for row in line.line_calls.get(call__cause="forecast").call.evidence.all()[:1]]
    assert why.values["spot"] == "gate"
    assert (line.work, [step.kind for step in line.steps.all()]) == ("gloss blast", ["clean", "blast"])

    rounds.pull(shop, last + 0.5)
    rounds.given_to(order, polisher, shop.lead, shop.day(last + 0.6))
    rounds.worked(order, polisher, shop.day(last + 0.7))
    assert Booking.objects.in_force().filter(line=line, by=polisher).count() == 2
    assert FinishLife.objects.running().filter(face=shop.face).count() == 0
    before = steel_left(shop)
    passed_and_released(shop, order, last + 1)

    order.refresh_from_db()
    assert order.state == State.RELEASED
    assert rounds.causes() == []
    assert before is not None
    assert steel_left(shop) == before - line.planned_steel_um
    first, second = FinishLife.objects.filter(face=shop.face)
    assert (first.ended_at, second.began_at) == (shop.day(last + 0.7), shop.day(last + 1.1))
    assert second.began_by == f"{order.number} gloss blast"
    stands = rounds.standing(shop.face)
    assert (stands.state, stands.life_shots) == ("sound", 40)
    assert Trend.objects.get(life=second, parameter="gloss").count == 1


def test_face_goes_round_from_a_damage_call(shop: Shop, polisher: Person) -> None:
    rounds.shoot(shop, 1, 3000)
    damage = loop.damage_called(
        tool=shop.tool, face=shop.face, kind="scratch", by=shop.press_tech, at=shop.day(1.2), note="from ejection"
    )
    order = rounds.the_order()
    line = order.lines.get()
    assert (line.face, line.cause, line.work) == (damage.face, "damage", "local touch-up")
    assert LineCall.objects.get().evidence[0]["values"]["note"] == "from ejection"

    rounds.pull(shop, 1.5)
    rounds.given_to(order, polisher, shop.lead, shop.day(1.6))
    rounds.worked(order, polisher, shop.day(1.7))
    passed_and_released(shop, order, 2)
    order.refresh_from_db()
    assert (order.state, rounds.causes()) == (State.RELEASED, [])
    assert rounds.standing(shop.face).state == "sound"
    assert FinishLife.objects.filter(face=shop.face).count() == 2


def test_face_stands_awaiting_parts_between_steel_and_release(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    rounds.read(shop, 2, "1.0", "steel check", parameter="Ra")
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(2.1))
    assert rounds.standing(shop.face).state == "awaiting parts"
    assert Tool.objects.get(pk=shop.tool.pk).place == "rack"


def test_steel_that_fails_begins_no_life_and_takes_no_steel(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    loop.steel_failed(order=order, why="uneven", by=shop.inspector, at=shop.day(2))
    order.refresh_from_db()
    assert order.state == State.ON_THE_BENCH
    assert FinishLife.objects.filter(face=shop.face).count() == 1
    assert not SteelEntry.objects.exists()


def test_parts_that_fail_end_the_new_life_and_book_no_steel_twice(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    rounds.read(shop, 2, "1.0", "steel check", parameter="Ra")
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(2.1))
    loop.parts_failed(order=order, why="streaks", by=shop.inspector, at=shop.day(3))
    assert [life.ended_at for life in FinishLife.objects.filter(face=shop.face)] == [shop.day(1.7), shop.day(3)]
    loop.handed_over(order=order, by=polisher, at=shop.day(4))
    rounds.read(shop, 4.1, "1.0", "steel check", parameter="Ra")
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(4.2))
    assert SteelEntry.objects.count() == 1
    assert FinishLife.objects.filter(face=shop.face).count() == 3


def test_steel_really_taken_is_booked_in_place_of_the_plan(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    rounds.read(shop, 2, "1.0", "steel check", parameter="Ra")
    taken = {order.lines.get().pk: Decimal(12)}
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(2.1), steel_um=taken)
    assert steel_left(shop) == Decimal(388)


def test_more_steel_than_there_is_passes_nothing(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    rounds.read(shop, 2, "1.0", "steel check", parameter="Ra")
    with pytest.raises(Refused):
        loop.steel_passed(
            order=order, by=shop.inspector, at=shop.day(2.1), steel_um={order.lines.get().pk: Decimal(500)}
        )
    order.refresh_from_db()
    assert order.state == State.STEEL_CHECK
    assert not order.passings.exists()
    assert FinishLife.objects.filter(face=shop.face).count() == 1


def test_cleaning_does_not_end_a_finish_life(shop: Shop, polisher: Person) -> None:
    rounds.shoot(shop, 1, 3000)
    loop.damage_called(tool=shop.tool, face=shop.face, kind="plate-out", by=shop.press_tech, at=shop.day(1.2))
    order = rounds.the_order()
    assert order.lines.get().work == "clean"
    rounds.pull(shop, 1.5)
    rounds.given_to(order, polisher, shop.lead, shop.day(1.6))
    rounds.worked(order, polisher, shop.day(1.7))
    loop.steel_passed(order=order, by=shop.inspector, at=shop.day(1.8))
    assert FinishLife.objects.get(face=shop.face).ended_at is None


def test_new_call_after_the_release_is_a_new_order(shop: Shop, polisher: Person) -> None:
    order = at_steel_check(shop, polisher)
    passed_and_released(shop, order, 2)
    rounds.shoot(shop, 4, 100)
    loop.damage_called(tool=shop.tool, face=shop.face, kind="dent", by=shop.press_tech, at=shop.day(4.1))
    assert rounds.the_order() != order
    assert Call.objects.count() == 2


def at_steel_check(shop: Shop, polisher: Person) -> WorkOrder:
    """Bring a scratched face to its steel check on the second day."""
    rounds.shoot(shop, 1, 3000)
    loop.damage_called(tool=shop.tool, face=shop.face, kind="scratch", by=shop.press_tech, at=shop.day(1.2))
    order = rounds.the_order()
    rounds.pull(shop, 1.5)
    rounds.given_to(order, polisher, shop.lead, shop.day(1.6))
    rounds.worked(order, polisher, shop.day(1.7))
    return order
