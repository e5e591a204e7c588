"""What speaks against a finish stays with the line whose route was laid."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from shop.bench.services import planning, proposing
from shop.bench.suiting import notes_of
from shop.people.models import Person
from shop.tooling.models import Face
from tests.bench.orders import call, line_of
from tests.factories import Built, by_plaque


def test_order_keeps_what_the_face_cannot_have(built: Built, lead: Person, at: datetime) -> None:
    face = built.faces["show 1"]
    by_plaque(face, lead, at)
    Face.objects.filter(pk=face.pk).update(steel_to_give_um=Decimal(5))
    (order,) = proposing.propose([call(face, lead, at)], by=lead, at=at)
    line = planning.set_work(line=line_of(order), work="full refinish", by=lead, at=at)
    notes = {note.topic: note for note in notes_of(line)}
    assert notes["steel left"].refuses
    assert notes["steel left"].saying.values["left"].value == 5
    assert notes["steel left"].change is not None


def test_notes_follow_the_work_that_is_chosen(built: Built, lead: Person, at: datetime) -> None:
    face = built.faces["show 1"]
    Face.objects.filter(pk=face.pk).update(steel_to_give_um=Decimal(1))
    (order,) = proposing.propose([call(face, lead, at)], by=lead, at=at)
    heavy = planning.set_work(line=line_of(order), work="full refinish", by=lead, at=at)
    assert "steel left" in {note.topic for note in notes_of(heavy)}
    light = planning.set_work(line=line_of(order), work="clean", by=lead, at=at)
    assert "steel left" not in {note.topic for note in notes_of(light)}


def test_note_says_which_gauge_is_missing(built: Built, lead: Person, at: datetime) -> None:
    (order,) = proposing.propose([call(built.face, lead, at)], by=lead, at=at)
    line = line_of(order)
    notes = [note for note in notes_of(line) if note.topic == "how measured"]
    assert {note.saying.values["parameter"] for note in notes} == {"Ra", "gloss"}
