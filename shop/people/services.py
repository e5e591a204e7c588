"""The writers of people and plants."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any, TypeVar
from zoneinfo import available_timezones

from django.conf import settings
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction

from shop.ledger.services import record_change
from shop.people import ra_table
from shop.people.models import Person, Plant, Role
from shop.refusal import Refused, gettext_noop
from shop.standards import grades

PLANT_FIELDS = frozenset(
    {
        "name", "time_zone", "units", "decimal_comma", "paper_size", "release_override", "call_chance",
        "lead_time_days", "conformance_required", "grade_ra_variant", "grade_ra_bands", "grade_ra_name",
    }
)
Row = TypeVar("Row", Plant, Person)
PERSON_FIELDS = frozenset({"name", "role", "language", "units", "decimal_sign", "is_active"})


def add_plant(*, name: str, **fields: Any) -> Plant:
    """Make a plant; the first there is has nobody yet who could make it.

    Raises
    ------
    Refused
        When the name is taken or a value is not one the plant can have.
    """
    if Plant.objects.filter(name=name).exists():
        raise Refused(
            "plant.name_taken",
            gettext_noop("There is a plant named {name} already."),
            next_step=gettext_noop("Give the new plant another name."),
            field="name",
            name=name,
        )
    plant = Plant(name=name, **fields)
    _check(plant)
    plant.save(force_insert=True)
    return plant


@transaction.atomic
def change_plant(*, plant: Plant, by: Person, at: datetime, why: str = "", **fields: Any) -> Plant:
    """Change what the plant has set for itself.

    Raises
    ------
    Refused
        When a value is not one the plant can have.
    """
    return _change(Plant.objects.select_for_update().get(pk=plant.pk), PLANT_FIELDS, fields, by=by, at=at, why=why)


@transaction.atomic
def choose_ra_bands(
    *,
    plant: Plant,
    why: str,
    by: Person,
    at: datetime,
    variant: int | None = None,
    bands: Mapping[str, tuple[Decimal, Decimal]] | None = None,
    name: str = "",
) -> Plant:
    """Choose the Ra bands that stand beside the grades: a published variant, or the plant's own under its own name.

    Raises
    ------
    Refused
        When there is no reason, no such variant or band, or the name stands for other bands on records already.
    """
    if not why.strip():
        raise Refused(
            "grade.why_missing",
            gettext_noop("A choice of Ra bands wants a reason: every record from now on names them."),
            next_step=gettext_noop("Say why, in a few words."),
            field="why",
        )
    held = Plant.objects.select_for_update().get(pk=plant.pk)
    if bands is None:
        grades.ra_source(variant or 0)
        chosen: dict[str, Any] = {"grade_ra_variant": variant, "grade_ra_bands": None, "grade_ra_name": ""}
    else:
        chosen = {"grade_ra_bands": ra_table.checked(held, bands, name), "grade_ra_name": name.strip()}
    return _change(held, PLANT_FIELDS, chosen, by=by, at=at, why=why.strip())


@transaction.atomic
def add_person(
    *,
    plant: Plant,
    username: str,
    name: str,
    role: str,
    by: Person | None,
    at: datetime,
    password: str | None = None,
    same_password_as: Person | None = None,
    **fields: Any,
) -> Person:
    """Make a person; without a password nobody can sign in as them. `by` is None for the first of a plant.

    `same_password_as` gives them the password of somebody who was checked already, for people who share one.

    Raises
    ------
    Refused
        When the sign-in name is taken, or the password too easy.
    """
    username = username.strip().lower()
    if Person.objects.filter(username=username).exists():
        raise Refused(
            "person.username_taken",
            gettext_noop("Somebody signs in as {username} already."),
            next_step=gettext_noop("Choose another sign-in name."),
            field="username",
            username=username,
        )
    person = Person(plant=plant, username=username, name=name, role=role, **fields)
    if same_password_as is not None:
        person.password = same_password_as.password
    else:
        _set_password(person, password)
    _check(person)
    person.save(force_insert=True)
    record_change(person, "added", "", f"{username} {role}", by=by or person, at=at)
    return person


@transaction.atomic
def change_person(*, person: Person, by: Person, at: datetime, why: str = "", **fields: Any) -> Person:
    """Change a person's name, role, language, units, decimal sign, or whether they may sign in.

    Raises
    ------
    Refused
        When a value is not one a person can have, or the plant would be left without an owner.
    """
    # The plant is held, so that two owners cannot retire each other at the same moment.
    Plant.objects.select_for_update().get(pk=person.plant_id)
    held = Person.objects.select_for_update().get(pk=person.pk)
    owned = held.role == Role.OWNER and held.is_active
    changed = _change(held, PERSON_FIELDS, fields, by=by, at=at, why=why)
    if owned:
        _check_owned(changed)
    return changed


@transaction.atomic
def set_password(*, person: Person, password: str, by: Person, at: datetime) -> Person:
    """Give a person a new password; the trail says that it changed and never what it is.

    Raises
    ------
    Refused
        When the password is too easy.
    """
    _set_password(person, password)
    person.save(update_fields=["password"])
    record_change(person, "password", "", "changed", by=by, at=at)
    return person


def the_software(plant: Plant) -> Person:
    """Return the hand that signs what the software does by itself in this plant; nobody can sign in as it."""
    person, _made = Person.objects.get_or_create(
        username=f"facewright-{plant.pk}",
        defaults={
            "plant": plant, "name": "Facewright", "role": Role.OWNER, "is_active": False, "password": "!",
        },
    )
    return person


def _check_owned(changed: Person) -> None:
    """Refuse that the last owner of a plant stops being one: nobody could make another."""
    if not Person.objects.filter(plant=changed.plant_id, role=Role.OWNER, is_active=True).exists():
        raise Refused(
            "person.last_owner",
            gettext_noop("{name} is the only owner of this plant."),
            next_step=gettext_noop("Make somebody else an owner first."),
            field="role",
            name=changed.name,
        )


def _set_password(person: Person, password: str | None) -> None:
    if password is not None:
        try:
            validate_password(password, person)
        except ValidationError as error:
            raise Refused(
                "person.password_too_easy",
                gettext_noop("That password is too easy: {faults}"),
                next_step=gettext_noop("Choose one of ten letters or more that is not in a list of common ones."),
                field="password",
                faults=" ".join(error.messages),
            ) from None
    person.set_password(password)


def _change(
    row: Row, allowed: frozenset[str], fields: dict[str, Any], *, by: Person, at: datetime, why: str
) -> Row:
    if unknown := set(fields) - allowed:
        raise TypeError(f"{type(row).__name__} has no {', '.join(sorted(unknown))} to change")
    before = {name: getattr(row, name) for name in fields}
    for name, value in fields.items():
        setattr(row, name, value)
    _check(row)
    row.save(update_fields=list(fields))
    for name, old in before.items():
        record_change(row, name, old, getattr(row, name), by=by, at=at, why=why)
    return row


def _check(row: Plant | Person) -> None:
    """Refuse a value that the field's own validators or choices do not know."""
    try:
        row.clean_fields()
        if isinstance(row, Plant) and row.time_zone not in available_timezones():
            raise ValidationError({"time_zone": [row.time_zone]})
        if isinstance(row, Person) and row.language not in dict(settings.LANGUAGES):
            raise ValidationError({"language": [row.language]})
    except ValidationError as error:
        field, faults = next(iter(error.message_dict.items()))
        raise Refused(
            "people.value_not_allowed",
            gettext_noop("{name} cannot be {value}: {faults}"),
            next_step=gettext_noop("Choose one of the values that are offered."),
            field=field,
            name=str(getattr(row._meta.get_field(field), "verbose_name", field)),
            value=getattr(row, field),
            faults=" ".join(faults),
        ) from None
