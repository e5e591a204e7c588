"""What a plant reckons with: its costs or the seeds that stand in for them, and what bad parts come to."""

from __future__ import annotations

from collections.abc import Collection
from decimal import ROUND_HALF_UP, Decimal

from shop.bench.models import Costs, PartCost
from shop.people import wording
from shop.people.models import Plant
from shop.units import FAST_SPACE, MINUS, THIN_SPACE

SEEDS = Costs()
WHOLE_FROM = 10


def costs_of(plant: Plant) -> Costs:
    """Return the plant's costs; where it has set none the seeds, which no row keeps."""
    return Costs.objects.filter(plant=plant).first() or Costs(plant=plant)


def part_costs(plant: Plant, tool_ids: Collection[int]) -> tuple[str, dict[int, Decimal]]:
    """Return the currency, and what a bad part of each tool costs: its own, else the plant's mean. Two queries."""
    costs = costs_of(plant)
    own = dict(PartCost.objects.filter(tool__in=tool_ids).values_list("tool_id", "amount"))
    return costs.currency, {tool_id: own.get(tool_id, Decimal(costs.bad_part)) for tool_id in tool_ids}


def waiting_cost(bad_shots: float | None, part_cost: Decimal) -> Decimal | None:
    """Return what waiting is to be expected to cost on one face: a part of its cavity for each shot beyond the limit.

    None where nothing is known of the shots to come.
    """
    if bad_shots is None:
        return None
    return (Decimal(str(bad_shots)) * part_cost).quantize(Decimal("0.01"))


def money(amount: Decimal | float | None, currency: str) -> str:
    """Return an amount as the reader reads it, in whole units from ten on: 1.50 EUR, 12 EUR, 3 400 EUR."""
    if amount is None:
        return wording.NOTHING
    value = Decimal(str(amount))
    if abs(value) < WHOLE_FROM and value != 0:
        words = wording.number(value.quantize(Decimal("0.01"), ROUND_HALF_UP))
    else:
        words = f"{int(value.quantize(Decimal(1), ROUND_HALF_UP)):,}".replace(",", THIN_SPACE)
    return words.replace("-", MINUS) + f"{FAST_SPACE}{currency}"
