"""People and plants are made and changed by services that leave a trail."""

from __future__ import annotations

from datetime import datetime
from typing import Any

import pytest
from django.contrib.auth import authenticate
from django.db import IntegrityError, transaction

from shop.ledger.models import Change
from shop.people import services
from shop.people.models import Person, Plant
from shop.refusal import Refused

pytestmark = pytest.mark.django_db
GOOD = "a stone and a felt"


def add(plant: Plant, by: Person | None, at: datetime, **changed: Any) -> Person:
    fields = {"username": "Eva", "name": "Eva Kern", "role": "polisher", "password": GOOD, **changed}
    return services.add_person(plant=plant, by=by, at=at, **fields)


def test_person_signs_in_with_the_password_given(plant: Plant, owner: Person, at: datetime) -> None:
    person = add(plant, owner, at)
    assert authenticate(username="eva", password=GOOD) == person
    assert authenticate(username="eva", password="something else") is None


def test_person_without_a_password_cannot_sign_in(plant: Plant, owner: Person, at: datetime) -> None:
    person = add(plant, owner, at, password=None)
    assert not person.has_usable_password()


def test_first_person_of_a_plant_is_added_by_nobody_else(plant: Plant, at: datetime) -> None:
    person = add(plant, None, at, role="owner")
    assert Change.objects.get(row_id=person.pk, field="added").by == person


@pytest.mark.parametrize(
    ("changed", "code"),
    [
        ({"username": " EVA "}, "person.username_taken"),
        ({"username": "new", "password": "short"}, "person.password_too_easy"),
        ({"username": "new", "password": "password1234"}, "person.password_too_easy"),
        ({"username": "new", "role": "foreman"}, "people.value_not_allowed"),
    ],
)
def test_person_who_cannot_be_is_refused(
    plant: Plant, owner: Person, at: datetime, changed: dict[str, str], code: str
) -> None:
    add(plant, owner, at)
    with pytest.raises(Refused) as refused:
        add(plant, owner, at, **changed)
    assert refused.value.code == code
    assert Person.objects.exclude(pk=owner.pk).count() == 1


def test_role_unknown_is_refused_by_the_database(plant: Plant, lead: Person) -> None:
    with pytest.raises(IntegrityError, match="person_role_known"), transaction.atomic():
        Person.objects.filter(pk=lead.pk).update(role="foreman")


def test_change_of_a_person_is_in_the_trail(plant: Plant, owner: Person, lead: Person, at: datetime) -> None:
    services.change_person(person=lead, by=owner, at=at, why="moved to quality", role="quality", language="en")
    lead.refresh_from_db()
    assert lead.role == "quality"
    trail = Change.objects.filter(room="people.person", row_id=lead.pk).values_list("field", "old", "new", "why")
    assert list(trail) == [("role", "lead", "quality", "moved to quality")]


def test_new_password_is_in_the_trail_but_not_what_it_is(owner: Person, lead: Person, at: datetime) -> None:
    services.set_password(person=lead, password=GOOD, by=owner, at=at)
    assert authenticate(username=lead.username, password=GOOD) == lead
    change = Change.objects.get(row_id=lead.pk, field="password")
    assert (change.old, change.new) == ("", "changed")


@pytest.mark.parametrize("fields", [{"language": "tlh"}, {"units": "cubits"}, {"decimal_sign": "dash"}])
def test_person_reads_only_what_is_offered(lead: Person, at: datetime, fields: dict[str, str]) -> None:
    with pytest.raises(Refused) as refused:
        services.change_person(person=lead, by=lead, at=at, **fields)
    assert refused.value.field in fields


def test_password_and_plant_are_not_changed_by_the_way(owner: Person, lead: Person, at: datetime) -> None:
    with pytest.raises(TypeError, match="password"):
        services.change_person(person=lead, by=owner, at=at, password="x")


@pytest.mark.parametrize(
    "fields", [{"time_zone": "Mars/Olympus"}, {"units": "cubits"}, {"call_chance": "0.9"}, {"paper_size": "A5"}]
)
def test_plant_takes_only_settings_it_knows(
    plant: Plant, owner: Person, at: datetime, fields: dict[str, str]
) -> None:
    with pytest.raises(Refused) as refused:
        services.change_plant(plant=plant, by=owner, at=at, **fields)
    assert refused.value.field in fields
    assert not Change.objects.exists()


def test_plant_settings_change_with_a_trail(plant: Plant, owner: Person, at: datetime) -> None:
    services.change_plant(plant=plant, by=owner, at=at, lead_time_days=21, decimal_comma=False)
    plant.refresh_from_db()
    assert plant.lead_time_days == 21
    assert list(Change.objects.values_list("field", "old", "new")) == [("lead_time_days", "14", "21")]


def test_plant_name_is_taken_once(plant: Plant) -> None:
    with pytest.raises(Refused, match=plant.name):
        services.add_plant(name=plant.name)
    assert services.add_plant(name="Altmühl", time_zone="America/Chicago", units="inch").units == "inch"


def test_software_signs_as_itself_and_nobody_signs_in_as_it(plant: Plant) -> None:
    hand = services.the_software(plant)
    assert services.the_software(plant) == hand
    assert (hand.username, hand.is_active, hand.has_usable_password()) == (f"facewright-{plant.pk}", False, False)
