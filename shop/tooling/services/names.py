"""Writing what tools are named after: customers, resins, plaques."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Acceptance, Customer, Plaque, Resin


@transaction.atomic
def add_customer(
    *, name: str, by: Person, at: datetime, acceptance: str = Acceptance.GUARDED, buy_off: bool = False
) -> Customer:
    """Enter a customer: by which rule parts are judged, and whether they sign before a tool is released."""
    name = _free(Customer, "customer", name=name)
    customer = Customer.objects.create(name=name, acceptance=Acceptance(acceptance), buy_off=buy_off)
    record_change(customer, "name", None, name, by=by, at=at, why="entered")
    return customer


@transaction.atomic
def add_resin(
    *,
    name: str,
    by: Person,
    at: datetime,
    family: str = "",
    filler: str = "",
    filler_percent: int = 0,
    severity: Decimal = Decimal(1),
) -> Resin:
    """Enter a resin; without a family it is of the one that its name begins with."""
    name = _free(Resin, "resin", name=name)
    if severity <= 0:
        raise Refused(
            "resin.severity_not_positive",
            gettext_noop("A severity of {value} is none; the limit is above {limit}."),
            next_step=gettext_noop("Enter 1 for an unfilled resin, more for one that wears faster."),
            field="severity",
            value=severity,
            limit=0,
        )
    resin = Resin.objects.create(
        name=name,
        family=family or name.split()[0].split("-")[0][:12],
        filler=filler,
        filler_percent=filler_percent,
        severity=severity,
    )
    record_change(resin, "name", None, name, by=by, at=at, why="entered")
    return resin


@transaction.atomic
def add_plaque(*, plant: Plant, number: str, by: Person, at: datetime, **fields: Any) -> Plaque:
    """Enter a plaque under its number; `fields` say whose it is, what it shows, where it lies, until when it holds."""
    number = _free(Plaque, "plaque", plant=plant, number=number)
    plaque = Plaque.objects.create(plant=plant, number=number, **fields)
    record_change(plaque, "number", None, number, by=by, at=at, why="entered")
    return plaque


def customer_named(name: str, *, by: Person, at: datetime) -> Customer:
    """Return the customer of that name, entered where it is new."""
    found: Customer | None = Customer.objects.filter(name=name.strip()).first()
    return found or add_customer(name=name, by=by, at=at)


def resin_named(name: str, *, by: Person, at: datetime) -> Resin:
    """Return the resin of that name, entered where it is new."""
    found: Resin | None = Resin.objects.filter(name=name.strip()).first()
    return found or add_resin(name=name, by=by, at=at)


def plaque_numbered(number: str, *, plant: Plant, by: Person, at: datetime) -> Plaque:
    """Return the plant's plaque of that number, entered where it is new."""
    found: Plaque | None = Plaque.objects.filter(plant=plant, number=number.strip()).first()
    return found or add_plaque(plant=plant, number=number, by=by, at=at)


def _free(model: type[Customer] | type[Resin] | type[Plaque], kind: str, **key: Any) -> str:
    """Return the name without blanks around it; refuse an empty one, and one that is taken."""
    field = "number" if "number" in key else "name"
    name = str(key[field]).strip()
    if not name:
        raise Refused(
            f"{kind}.name_wanted",
            gettext_noop("No name is given."),
            next_step=gettext_noop("Give a name."),
            field=field,
        )
    if model._default_manager.filter(**{**key, field: name}).exists():
        raise Refused(
            f"{kind}.name_taken",
            gettext_noop("{name} is there already."),
            next_step=gettext_noop("Take the one that is there, or give another name."),
            field=field,
            name=name,
        )
    return name
