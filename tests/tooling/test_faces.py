"""Faces with spots, finish lives one after the other, and the steel a face has left."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shop.people.models import Person
from shop.refusal import Refused
from shop.tooling.models import Face, FinishLife, SteelEntry
from shop.tooling.services import faces
from shop.tooling.services.faces import SpotDraft
from tests.conftest import AT
from tests.factories import Built, add_face, build_tool
from tests.tooling.refusing import refused, trail

HOUR = timedelta(hours=1)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    """A tool with one face that has 400 um of steel to give."""
    return build_tool(lead, at)


def life_at(face: Face, at: datetime) -> FinishLife | None:
    return FinishLife.objects.at_time(at).filter(face=face).first()


def left(face: Face) -> Decimal | None:
    return SteelEntry.objects.left_by_face([face.pk])[face.pk]


def test_face_is_entered_with_its_spots_and_its_first_life(built: Built, lead: Person, at: datetime) -> None:
    spots = [SpotDraft("gate", "gate", 10, 50), SpotDraft("far", "end of fill", 90, 50)]
    face = add_face(built.insert, "lens", lead, at, spots=spots, life_began_at=at - HOUR)
    life = life_at(face, at)
    assert life is not None
    assert (life.number, life.began_by, life.began_at) == (1, "new tool", at - HOUR)
    assert [(spot.name, spot.kind, spot.x) for spot in face.spots.all()] == [
        ("gate", "gate", 10), ("far", "end of fill", 90),
    ]  # fmt: skip
    logo = add_face(built.insert, "logo", lead, at, zone_of=face)
    assert list(face.zones.all()) == [logo]


def test_face_that_cannot_be_is_refused(built: Built, lead: Person, at: datetime) -> None:
    draft = {"insert": built.insert, "by": lead, "at": at}
    other = build_tool(lead, at).face
    refused("face.name_taken", faces.add_face, name=" show 1", **draft)
    refused("face.zone_of_another_insert", faces.add_face, name="logo", zone_of=other, **draft)
    refused("face.off_the_map", faces.add_face, name="rim", spots=[SpotDraft("rim", x=101)], **draft)
    refused("face.off_the_map", faces.add_face, name="rim", map_w=120, **draft)
    assert Face.objects.in_tool(built.tool).count() == 1


def test_lives_follow_one_another_and_none_runs_while_the_face_is_in_work(
    built: Built, lead: Person, at: datetime
) -> None:
    face = built.face
    refused("life.still_running", faces.begin_life, face=face, began_by="WO-1", by=lead, at=at + HOUR)
    refused("life.ends_before_it_began", faces.end_life, face=face, ended_by="WO-1", by=lead, at=at - HOUR)
    ended = faces.end_life(face=face, ended_by="WO-1 full refinish", by=lead, at=at + 2 * HOUR)
    assert trail(ended)[-1][0::3] == ("ended_at", "WO-1 full refinish")
    refused("life.none_running", faces.end_life, face=face, ended_by="WO-2", by=lead, at=at + 3 * HOUR)
    refused("life.before_last_ended", faces.begin_life, face=face, began_by="WO-1", by=lead, at=at + HOUR)
    assert life_at(face, at + 3 * HOUR) is None
    second = faces.begin_life(face=face, began_by="WO-1 full refinish", by=lead, at=at + 4 * HOUR)
    assert (second.number, life_at(face, at + 4 * HOUR), life_at(face, at + HOUR)) == (2, second, ended)
    assert life_at(face, at - HOUR) is None
    assert list(FinishLife.objects.running().filter(face=face)) == [second]


def test_steel_taken_leaves_less_and_more_than_is_left_is_refused(built: Built, lead: Person, at: datetime) -> None:
    take = {"face": built.face, "work": "WO-1 full refinish", "by": lead}
    booked = faces.take_steel(depth_um=Decimal("150.5"), at=at + HOUR, **take)
    assert (booked.left_um, booked.allowance_known) == (Decimal("249.5"), True)
    no = refused("steel.not_there", faces.take_steel, depth_um=Decimal(250), at=at + 2 * HOUR, **take)
    assert (no.values["left"].value, no.values["left"].unit) == (Decimal("249.5"), "um")
    refused("steel.negative", faces.take_steel, depth_um=Decimal(-1), at=at + 2 * HOUR, **take)
    assert faces.take_steel(depth_um=Decimal("249.5"), at=at + 2 * HOUR, **take).left_um == 0


def test_steel_booked_late_still_leaves_what_was_taken_since(built: Built, lead: Person, at: datetime) -> None:
    take = {"face": built.face, "work": "WO-1", "by": lead}
    faces.take_steel(depth_um=Decimal(300), at=at + 3 * HOUR, **take)
    no = refused("steel.not_there", faces.take_steel, depth_um=Decimal(101), at=at + HOUR, **take)
    assert no.values["left"].value == 100
    assert faces.take_steel(depth_um=Decimal(100), at=at + HOUR, **take).left_um == 0


def test_unknown_allowance_is_taken_and_said(built: Built, lead: Person, at: datetime) -> None:
    face = add_face(built.insert, "grip", lead, at, steel_to_give_um=None)
    booked = faces.take_steel(face=face, depth_um=Decimal(900), work="WO-1", by=lead, at=at)
    assert (booked.left_um, booked.allowance_known) == (None, False)
    recut = faces.recut(face=face, allowance_um=Decimal(200), work="WO-2 re-cut", by=lead, at=at + HOUR)
    assert recut.left_um == 200


def test_recut_gives_a_new_allowance_and_keeps_the_history(built: Built, lead: Person, at: datetime) -> None:
    take = {"face": built.face, "work": "WO-1", "by": lead}
    faces.take_steel(depth_um=Decimal(390), at=at, **take)
    faces.recut(face=built.face, allowance_um=Decimal(250), work="WO-2 re-cut", by=lead, at=at + 5 * HOUR)
    assert left(built.face) == 250
    refused("steel.not_there", faces.take_steel, depth_um=Decimal(11), at=at + HOUR, **take)
    faces.take_steel(depth_um=Decimal(10), at=at + HOUR, **take)
    faces.take_steel(depth_um=Decimal(240), at=at + 6 * HOUR, **take)
    assert (left(built.face), SteelEntry.objects.in_force().count()) == (10, 4)


def test_steel_booking_is_put_right_by_one_that_supersedes_it(built: Built, lead: Person, at: datetime) -> None:
    wrong = faces.take_steel(face=built.face, depth_um=Decimal(300), work="WO-1", by=lead, at=at).entry
    refused("steel.corrected_without_reason", faces.correct_steel, entry=wrong, depth_um=Decimal(1), why="", by=lead)
    refused("steel.not_there", faces.correct_steel, entry=wrong, depth_um=Decimal(401), why="typing", by=lead)
    booked = faces.correct_steel(entry=wrong, depth_um=Decimal(30), why="typing", by=lead)
    assert (booked.left_um, booked.entry.supersedes, booked.entry.at) == (Decimal(370), wrong, at)
    refused("steel.already_corrected", faces.correct_steel, entry=wrong, depth_um=Decimal(3), why="again", by=lead)


bookings = st.lists(st.tuples(st.booleans(), st.integers(0, 250), st.integers(0, 50)), max_size=12)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(bookings)
def test_face_never_gives_steel_it_did_not_have(
    built: Built, lead: Person, drawn: list[tuple[bool, int, int]]
) -> None:
    face = Face.objects.create(insert=built.insert, name=f"drawn {Face.objects.count()}", steel_to_give_um=400)
    for cut_anew, depth, hour in drawn:
        booking = {"face": face, "work": "WO", "by": lead, "at": AT + hour * HOUR}
        try:
            if cut_anew and depth > 200:
                faces.recut(allowance_um=Decimal(depth), **booking)
            else:
                faces.take_steel(depth_um=Decimal(depth), **booking)
        except Refused:
            continue
    balance = Decimal(400)
    for entry in SteelEntry.objects.filter(face=face).order_by("at", "id"):
        balance = entry.depth_um if entry.kind == "re-cut" else balance - entry.depth_um
        assert balance >= 0
    assert left(face) == balance
