"""What the invented plant has before anything happens: people, presses, resins, customers, plaques, gauges, houses."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from shop.bench.models import OutsideHouse
from shop.bench.services.houses import add_house
from shop.people.models import Person, Plant
from shop.people.services import add_person, add_plant
from shop.press.models import Press
from shop.press.services.presses import add_press
from shop.quality.services import gauges
from shop.tooling.models import Customer, Resin
from shop.tooling.services import names

YEAR = timedelta(days=365)


@dataclass(frozen=True)
class Setting:
    """The plant and who does what in it."""

    plant: Plant
    people: dict[str, Person]
    presses: dict[str, Press]
    resins: dict[str, Resin]
    houses: dict[str, OutsideHouse]


def set_up(told: dict[str, Any], *, first: datetime, last: datetime, password: str) -> Setting:
    """Enter the plant; raise Refused where it is there already."""
    plant = add_plant(**told["plant"])
    people: dict[str, Person] = {}
    for username, name, role in told["people"]:
        people[username] = add_person(
            plant=plant,
            username=username,
            name=name,
            role=role,
            by=people.get("lead"),
            at=first,
            password=password,
            # Hashing is slow on purpose, and all of them share one password.
            same_password_as=people.get("lead"),
        )
    lead = people["lead"]
    _names(told, lead, first)
    _plaques(told, plant, last, lead, first)
    _gauges(told, plant, people["quality"], first, last)
    return Setting(
        plant=plant,
        people=people,
        presses={
            name: add_press(plant=plant, name=name, most_shots_per_hour=most, by=lead, at=first)
            for name, most in told["presses"]
        },
        resins={resin.name: resin for resin in Resin.objects.all()},
        houses={
            name: add_house(plant=plant, name=name, kind=kind, lead_time_days=days, by=lead, at=first)
            for name, kind, days in told["houses"]
        },
    )


def _names(told: dict[str, Any], by: Person, at: datetime) -> None:
    """Enter customers and resins; those of a plant beside it are shared."""
    for customer in told["customers"]:
        if not Customer.objects.filter(name=customer["name"]).exists():
            names.add_customer(**customer, by=by, at=at)
    for resin in told["resins"]:
        if not Resin.objects.filter(name=resin["name"]).exists():
            names.add_resin(**{**resin, "severity": Decimal(resin["severity"])}, by=by, at=at)


def _plaques(told: dict[str, Any], plant: Plant, last: datetime, by: Person, at: datetime) -> None:
    for index, (number, house, code, depth, _how) in enumerate(told["plaques"]):
        names.add_plaque(
            plant=plant,
            number=number,
            house=house,
            code=code,
            copy="working",
            signed_by="the customer",
            place="light booth",
            expires_on=(last + timedelta(days=200 + 30 * index)).date(),
            pattern_depth_um=depth and Decimal(depth),
            by=by,
            at=at,
        )


def _gauges(told: dict[str, Any], plant: Plant, by: Person, first: datetime, last: datetime) -> None:
    """Enter the gauges, calibrated every year; one of them is overdue now."""
    for index, means in enumerate(told["gauges"]):
        gauge = gauges.add_gauge(
            plant=plant,
            number=means["number"],
            kind=means["kind"],
            resolution=Decimal(means["resolution"]),
            place=means["place"],
            serial=f"M{2200 + index}",
            by=by,
            at=first,
        )
        done = first - timedelta(days=20 + 17 * index)
        while done < last:
            due = done + YEAR
            if due >= last and means["number"] == told["overdue_gauge"]:
                break
            gauges.calibrate(
                gauge=gauge,
                due_on=(due + timedelta(days=3)).date(),
                expanded_a=Decimal(means["a"]),
                expanded_b=Decimal(means["b"]),
                certificate=f"C-{means['number']}-{done:%y}",
                by=by,
                at=done,
            )
            done = due
