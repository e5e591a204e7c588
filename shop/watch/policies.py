"""When faces are called: the plant's rules, and what a customer asks for otherwise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shop.people.models import Plant
from shop.watch.models import Policy

RUN_LENGTH = 370


@dataclass(frozen=True)
class Rules:
    """What holds for the faces of one customer's tools."""

    call_chance: float
    lead_time_days: int
    call_not_proven: bool = True
    chart: str = str(Policy.Chart.EWMA)
    run_length: int = RUN_LENGTH
    interval_shots: int | None = None


DEFAULTS = Rules(0.1, 14)


class Book:
    """The rules of one plant, by customer."""

    def __init__(self, plant: Plant, policies: Mapping[int | None, Policy]) -> None:
        self._plant = plant
        self._policies = policies

    def of(self, customer_id: int | None) -> Rules:
        """Return the rules for a customer; what is left empty is the plant's."""
        rows = [self._policies[key] for key in (customer_id, None) if key in self._policies]

        def first(name: str, otherwise: object) -> object:
            return next((found for row in rows if (found := getattr(row, name)) not in (None, "")), otherwise)

        interval = first("interval_shots", None)
        return Rules(
            call_chance=float(str(first("call_chance", self._plant.call_chance))),
            lead_time_days=int(str(first("lead_time_days", self._plant.lead_time_days))),
            call_not_proven=bool(first("call_not_proven", True)),
            chart=str(first("chart", Policy.Chart.EWMA)),
            run_length=int(str(first("run_length", RUN_LENGTH))),
            interval_shots=None if interval is None else int(str(interval)),
        )


def book(plant: Plant) -> Book:
    """Return the rules of a plant, in one query."""
    return Book(plant, {policy.customer_id: policy for policy in Policy.objects.filter(plant=plant)})
