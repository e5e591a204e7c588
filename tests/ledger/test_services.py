"""A write is taken once for each reference, and a change leaves its trail."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal
from uuid import UUID, uuid4

import pytest
from django.db import connection

from shop.ledger.models import Change, Receipt
from shop.ledger.services import once, record_change
from shop.people.models import Person, Plant
from shop.refusal import Refused

AT_THREE = datetime(2024, 1, 2, 3, tzinfo=UTC)


@dataclass(frozen=True)
class Draft:
    name: str
    depth: Decimal


@once("test.note", Change)
def note(
    *,
    plant: Plant,
    said: object,
    by: Person,
    at: datetime,
    added_later: str = "",
    ref: UUID | None = None,
) -> Change:
    change = record_change(plant, "note", "", f"{said}", by=by, at=at, why=added_later)
    assert change is not None
    return change


@once("test.clocked", Change, timed=False)
def clocked(*, plant: Plant, by: Person, at: datetime, ref: UUID | None = None) -> Change:
    return note(plant=plant, said="clocked", by=by, at=at)


@pytest.mark.django_db
def test_write_without_reference_is_taken_each_time(plant: Plant, lead: Person, at: datetime) -> None:
    assert note(plant=plant, said="a", by=lead, at=at) != note(plant=plant, said="a", by=lead, at=at)
    assert not Receipt.objects.exists()


@pytest.mark.django_db
def test_same_reference_and_content_answers_with_the_row_made_then(
    plant: Plant, lead: Person, polisher: Person, at: datetime
) -> None:
    ref = uuid4()
    first = note(plant=plant, said=[Draft("gate", Decimal("1.50"))], by=lead, at=at, ref=ref)
    berlin = at.astimezone(timezone(timedelta(hours=1)))
    again = note(
        plant=plant, said=(Draft("gate", Decimal("1.5")),), by=polisher, at=berlin, added_later="", ref=ref
    )
    assert again == first
    assert Change.objects.filter(field="note").count() == 1
    receipt = Receipt.objects.get()
    assert (receipt.ref, receipt.kind, receipt.made_id, receipt.by) == (ref, "test.note", first.pk, lead)


@pytest.mark.django_db
@pytest.mark.parametrize("other", ["b", Decimal(1), [Draft("gate", Decimal(2))], {"a": 1}, {1}, None, b"a", 1.5])
def test_same_reference_with_other_content_is_a_question(
    plant: Plant, lead: Person, at: datetime, other: object
) -> None:
    ref = uuid4()
    note(plant=plant, said="a", by=lead, at=at, ref=ref)
    with pytest.raises(Refused) as refused:
        note(plant=plant, said=other, by=lead, at=at, ref=ref)
    assert refused.value.code == "ref.other_content"
    assert refused.value.question
    assert refused.value.next_step
    assert Change.objects.filter(field="note").count() == 1


@pytest.mark.django_db
def test_same_reference_for_another_kind_of_write_is_a_question(plant: Plant, lead: Person, at: datetime) -> None:
    ref = uuid4()
    note(plant=plant, said="clocked", by=lead, at=at, ref=ref)
    with pytest.raises(Refused):
        clocked(plant=plant, by=lead, at=at, ref=ref)


@pytest.mark.django_db
def test_time_is_content_only_where_a_person_gave_it(plant: Plant, lead: Person, at: datetime) -> None:
    ref, later = uuid4(), at + timedelta(minutes=1)
    first = clocked(plant=plant, by=lead, at=at, ref=ref)
    assert clocked(plant=plant, by=lead, at=later, ref=ref) == first
    timed = uuid4()
    note(plant=plant, said="a", by=lead, at=at, ref=timed)
    with pytest.raises(Refused):
        note(plant=plant, said="a", by=lead, at=later, ref=timed)


@pytest.mark.django_db
def test_content_without_a_canonical_form_is_an_error_and_nothing_is_written(
    plant: Plant, lead: Person, at: datetime
) -> None:
    with pytest.raises(TypeError, match="canonical"):
        note(plant=plant, said=object(), by=lead, at=at, ref=uuid4())
    assert not Receipt.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_double_tap_at_the_same_moment_writes_once(plant: Plant, lead: Person, at: datetime) -> None:
    ref = uuid4()

    def tap(_: int) -> int:
        try:
            return note(plant=plant, said="tapped", by=lead, at=at, ref=ref).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as taps:
        made = set(taps.map(tap, range(6)))
    assert len(made) == 1
    assert Change.objects.filter(field="note").count() == 1


@pytest.mark.django_db
def test_change_keeps_old_and_new_as_text(
    plant: Plant, lead: Person, at: datetime, person_of: Callable[..., Person]
) -> None:
    change = record_change(plant, "began_at", None, AT_THREE, by=lead, at=at, why="typed wrong")
    assert change is not None
    assert (change.room, change.row_id, change.old, change.new) == (
        "people.plant", plant.pk, "", "2024-01-02T03:00:00+00:00",
    )  # fmt: skip
    assert (change.by, change.at, change.why) == (lead, at, "typed wrong")
    named = record_change(plant, "keeper", None, lead, by=lead, at=at)
    assert named is not None
    assert named.new == f"{lead.pk} Vera Lind"


@pytest.mark.django_db
def test_change_to_the_same_is_no_change(plant: Plant, lead: Person, at: datetime) -> None:
    assert record_change(plant, "name", "x", "x", by=lead, at=at) is None
    assert not Change.objects.filter(field="name").exists()
