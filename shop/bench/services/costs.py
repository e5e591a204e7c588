"""Writing what a plant reckons with: its hours and steel, a tool's bad parts, what an outside house asks."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import models, transaction

from shop.bench.models import Costs, OutsideHouse, OutsidePrice, PartCost, Work
from shop.bench.services import moving
from shop.ledger.services import record_change
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Tool

FIGURES = ("bench_hour", "press_hour", "change_hours", "strip_hours", "steel_um", "bad_part")
CURRENCY = re.compile(r"[A-Z]{3}")


@transaction.atomic
def set_costs(
    *, plant: Plant, currency: str, figures: Mapping[str, Decimal], by: Person, at: datetime, why: str = ""
) -> Costs:
    """Set what the plant reckons with; what is not given stays as it is, or as the seed that stood in for it.

    Refuses a figure below nought or too large to be kept, and a currency that is not three letters.
    """
    currency = currency.strip().upper()
    if not CURRENCY.fullmatch(currency):
        raise Refused(
            "costs.currency",
            gettext_noop("“{currency}” is not a currency in three letters."),
            next_step=gettext_noop("Write EUR, CHF, USD."),
            field="currency",
            currency=currency,
        )
    for name, amount in figures.items():
        if name not in FIGURES:
            raise TypeError(f"{name} is no figure of the costs")
        _can_be_kept(Costs, name, amount)
    Plant.objects.select_for_update().get(pk=plant.pk)
    costs = Costs.objects.filter(plant=plant).first()
    if costs is not None:
        moving.change(costs, by=by, at=at, why=why, currency=currency, **figures)
        return costs
    costs = Costs.objects.create(plant=plant, currency=currency, **figures)
    costs.refresh_from_db()
    for name in ("currency", *FIGURES):
        record_change(costs, name, None, getattr(costs, name), by=by, at=at, why=why)
    return costs


@transaction.atomic
def set_part_cost(*, tool: Tool, amount: Decimal | None, by: Person, at: datetime, why: str = "") -> PartCost | None:
    """Set what a bad part of this tool costs; without an amount the plant's mean holds again."""
    if amount is not None:
        _can_be_kept(PartCost, "amount", amount)
    Tool.objects.select_for_update().get(pk=tool.pk)
    own = PartCost.objects.filter(tool=tool).first()
    record_change(tool, "part_cost", own.amount if own else None, amount, by=by, at=at, why=why)
    if amount is None:
        PartCost.objects.filter(tool=tool).delete()
        return None
    if own is None:
        return PartCost.objects.create(tool=tool, amount=amount)
    own.amount = amount
    own.save(update_fields=["amount"])
    return own


@transaction.atomic
def set_price(
    *,
    house: OutsideHouse,
    work: str,
    a_face: Decimal | None,
    by: Person,
    at: datetime,
    a_visit: Decimal = Decimal(0),
    days: int | None = None,
    why: str = "",
) -> OutsidePrice | None:
    """Set what a house asks for a work on a face and for the visit, and how long it keeps the tool.

    Without a price for a face the house is not asked for this work any more.
    """
    if work not in Work.values:
        raise Refused(
            "price.unknown_work",
            gettext_noop("“{work}” is not a work that is done to a face."),
            next_step=gettext_noop("Choose one of the list."),
            field="work",
            work=work,
        )
    OutsideHouse.objects.select_for_update().get(pk=house.pk)
    held = OutsidePrice.objects.filter(house=house, work=work).first()
    if a_face is None:
        record_change(house, f"price of {work}", _words(held), None, by=by, at=at, why=why)
        OutsidePrice.objects.filter(house=house, work=work).delete()
        return None
    _can_be_kept(OutsidePrice, "a_face", a_face)
    _can_be_kept(OutsidePrice, "a_visit", a_visit)
    price = OutsidePrice(house=house, work=work, a_face=a_face, a_visit=a_visit, days=days)
    record_change(house, f"price of {work}", _words(held), _words(price), by=by, at=at, why=why)
    if held is None:
        price.save(force_insert=True)
    else:
        price.pk = held.pk
        price.save(update_fields=["a_face", "a_visit", "days"])
    return price


def _words(price: OutsidePrice | None) -> str | None:
    """Return a price as the trail of changes keeps it."""
    if price is None:
        return None
    days = "" if price.days is None else f", {price.days} d"
    return f"{price.a_visit:.2f} + {price.a_face:.2f}{days}"


def _can_be_kept(model: type[models.Model], name: str, amount: Decimal) -> None:
    """Refuse an amount below nought, or beyond what its column holds."""
    field: Any = model._meta.get_field(name)
    most = Decimal(10) ** (field.max_digits - field.decimal_places)
    if not 0 <= amount < most:
        raise Refused(
            "costs.out_of_range",
            gettext_noop("{amount} is not a cost: it must be from 0 to below {most}."),
            next_step=gettext_noop("Look at the figure and its unit."),
            field=name,
            amount=amount,
            most=most,
        )
