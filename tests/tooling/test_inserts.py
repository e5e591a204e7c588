"""Inserts are fitted, moved, taken out and retired; what hangs on them goes along."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop.people.models import Person
from shop.tooling.models import Face, Fitting, Insert
from shop.tooling.reading import inserts_at
from shop.tooling.services import inserts
from tests.factories import Built, build_tool
from tests.tooling.refusing import refused, trail

HOUR = timedelta(hours=1)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    """A tool of eight cavities with a spare insert 9."""
    return build_tool(lead, at, cavities=8, spares=1)


def sits(built: Built, at: datetime) -> dict[int, str]:
    return {fitting.position.number: fitting.insert.number for fitting in inserts_at(built.tool, at)}


def test_insert_4_moves_to_position_7_and_a_spare_goes_into_4(built: Built, lead: Person, at: datetime) -> None:
    then = at + HOUR
    inserts.fit(insert=built.inserts["4"], position=built.positions[7], by=lead, at=then)
    assert (sits(built, then)[7], sits(built, then).get(4)) == ("4", None)
    inserts.fit(insert=built.inserts["9"], position=built.positions[4], by=lead, at=then)
    now = sits(built, then)
    assert (now[4], now[7], now[1]) == ("9", "4", "1")
    assert (sits(built, at)[4], sits(built, at)[7]) == ("4", "7")
    assert list(Insert.objects.spare()) == [built.inserts["7"]]
    assert [face.name for face in built.inserts["4"].faces.all()] == ["show 4"]


def test_two_inserts_change_places_at_one_time(built: Built, lead: Person, at: datetime) -> None:
    then = at + HOUR
    inserts.fit(insert=built.inserts["1"], position=built.positions[2], by=lead, at=then)
    inserts.fit(insert=built.inserts["2"], position=built.positions[1], by=lead, at=then)
    assert (sits(built, then)[1], sits(built, then)[2]) == ("2", "1")


def test_core_sits_beside_the_cavity_and_slides_in_slots(built: Built, lead: Person, at: datetime) -> None:
    for number, kind, slot in (("C1", "core", 1), ("S1", "slide", 1), ("S2", "slide", 2)):
        inserts.add_insert(
            tool=built.tool, number=number, kind=kind, steel="1.2344", position=built.positions[1], slot=slot,
            by=lead, at=at,
        )  # fmt: skip
    there = [row.insert.number for row in inserts_at(built.tool, at) if row.position.number == 1]
    assert there == ["1", "C1", "S1", "S2"]


def test_insert_is_refused_where_it_cannot_go(built: Built, lead: Person, at: datetime) -> None:
    other, here = build_tool(lead, at), {"by": lead, "at": at + HOUR}
    fit, one = inserts.fit, built.inserts["1"]
    refused("insert.of_another_tool", fit, insert=one, position=other.positions[1], **here)
    refused("insert.already_there", fit, insert=one, position=built.positions[1], **here)
    refused("insert.fitted_later", fit, insert=one, position=built.positions[2], by=lead, at=at)
    inserts.take_out(insert=one, by=lead, at=at + 3 * HOUR)
    refused("insert.place_was_taken", fit, insert=built.inserts["9"], position=built.positions[1], **here)
    refused("insert.not_fitted", inserts.take_out, insert=one, by=lead, at=at + 4 * HOUR)
    far = datetime.fromisoformat("2999-01-01T00:00+00:00")
    refused("insert.fitted_in_future", fit, insert=one, position=built.positions[1], by=lead, at=far)
    assert Fitting.objects.filter(insert=one).count() == 1


def test_retired_insert_comes_out_and_stays_out(built: Built, lead: Person, at: datetime) -> None:
    one = built.inserts["1"]
    refused("insert.retired_without_reason", inserts.retire, insert=one, why=" ", by=lead, at=at + HOUR)
    inserts.retire(insert=one, why="cracked", by=lead, at=at + HOUR)
    assert sits(built, at + HOUR).get(1) is None
    assert trail(one)[-1][0::3] == ("retired_at", "cracked")
    refused("insert.retired", inserts.fit, insert=one, position=built.positions[1], by=lead, at=at + 2 * HOUR)
    refused("insert.retired", inserts.retire, insert=one, why="again", by=lead, at=at + 2 * HOUR)
    assert one not in Insert.objects.spare()


def test_insert_with_a_number_or_hardness_that_cannot_be_is_refused(built: Built, lead: Person, at: datetime) -> None:
    draft = {"tool": built.tool, "kind": "cavity", "steel": "1.2343", "by": lead, "at": at}
    refused("insert.number_taken", inserts.add_insert, number=" 1 ", **draft)
    refused("insert.hardness_off_scale", inserts.add_insert, number="X", hardness_hrc=Decimal(400), **draft)


def test_coating_that_is_stripped_leaves_a_trail(built: Built, lead: Person, at: datetime) -> None:
    one = built.inserts["1"]
    inserts.set_coating(insert=one, coating="hard chrome", why="WO-3", by=lead, at=at)
    inserts.set_coating(insert=one, coating="", why="stripped before welding", by=lead, at=at + HOUR)
    assert trail(one)[-2:] == [
        ("coating", "", "hard chrome", "WO-3"),
        ("coating", "hard chrome", "", "stripped before welding"),
    ]


def test_inserts_and_faces_are_listed_with_their_place_in_fixed_queries(
    built: Built, lead: Person, at: datetime, django_assert_num_queries: Any
) -> None:
    with django_assert_num_queries(2):
        places = {row.number: [fitting.position.number for fitting in row.sits] for row in Insert.objects.with_place()}
    assert (places["3"], places["9"]) == ([3], [])
    with django_assert_num_queries(3):
        cards = [
            (face.insert.number, len(face.spots.all()), len(face.insert.sits))
            for face in Face.objects.in_tool(built.tool).for_card()
        ]
    assert ("9", 2, 0) in cards
    assert ("1", 2, 1) in cards
    assert Face.objects.fitted().count() == 8
    with django_assert_num_queries(1):
        assert len([(row.insert.number, row.position.number) for row in inserts_at(built.tool, at)]) == 8
