"""What a plant reckons with: its costs or the seeds that stand in for them, and what bad parts come to."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal

from django.utils.translation import gettext as _

from shop.bench.models import Costs, OutsidePrice, PartCost
from shop.bench.services.costs import FIGURES
from shop.ledger.models import Change
from shop.people import wording
from shop.people.models import Plant
from shop.units import FAST_SPACE, MINUS, THIN_SPACE

WHOLE_FROM = 10
MOST_PARTS = 200


@dataclass(frozen=True)
class CostRow:
    """One figure: its name, its words, its unit beside the amount, what it is for."""

    name: str
    words: str
    unit: str
    amount: Decimal
    meant: str


@dataclass(frozen=True)
class CostsSheet:
    """Everything that is reckoned with; `own` says that the plant has set it, `set_by` and `set_at` who last did."""

    currency: str
    own: bool
    set_by: str
    set_at: datetime | None
    rows: tuple[CostRow, ...]
    parts: tuple[PartCost, ...]
    prices: tuple[OutsidePrice, ...]


def costs_sheet(plant: Plant) -> CostsSheet:
    """Return the page of costs: four queries, however many prices."""
    costs = costs_of(plant)
    changes = Change.objects.filter(room=Costs._meta.label_lower, row_id=costs.pk or 0)
    last = changes.select_related("by").order_by("-at", "-id").first()
    parts = PartCost.objects.filter(tool__plant=plant).select_related("tool").order_by("tool__number")
    prices = OutsidePrice.objects.filter(house__plant=plant).select_related("house").order_by("house__name", "id")
    return CostsSheet(
        currency=costs.currency,
        own=costs.pk is not None,
        set_by=last.by.name if last else "",
        set_at=last.at if last else None,
        rows=tuple(_rows(costs)),
        parts=tuple(parts[:MOST_PARTS]),
        prices=tuple(prices),
    )


def _rows(costs: Costs) -> list[CostRow]:
    money_an_hour, hours = _("%(currency)s an hour") % {"currency": costs.currency}, _("hours")
    an_um = _("%(currency)s a µm") % {"currency": costs.currency}
    named = (
        ("bench_hour", _("An hour at the bench"), money_an_hour, _("wage and place of a polisher")),
        ("press_hour", _("An hour of the press"), money_an_hour, _("where it waits for the tool")),
        ("change_hours", _("The press waits for a pull"), hours, _("tool out, tool in, first-offs")),
        ("strip_hours", _("Bench before any face"), hours, _("strip-down and assembly, once a visit")),
        ("steel_um", _("A µm of a face's steel"), an_um, _("a new insert over the steel it has to give")),
        ("bad_part", _("A bad part"), costs.currency, _("in the mean of all tools: resin, sorting, delivery")),
    )
    return [CostRow(name, words, unit, getattr(costs, name), meant) for name, words, unit, meant in named]


def costs_of(plant: Plant) -> Costs:
    """Return the plant's costs; where it has set none the seeds, which no row keeps."""
    found = Costs.objects.filter(plant=plant).first()
    if found is not None:
        return found
    seeds = Costs(plant=plant)
    for name in FIGURES:
        # A default that no row has been through is still written as words.
        setattr(seeds, name, Decimal(getattr(seeds, name)))
    return seeds


def part_costs(plant: Plant, tool_ids: Collection[int]) -> tuple[str, dict[int, Decimal]]:
    """Return the currency, and what a bad part of each tool costs: its own, else the plant's mean. Two queries."""
    costs = costs_of(plant)
    own = dict(PartCost.objects.filter(tool__in=tool_ids).values_list("tool_id", "amount"))
    return costs.currency, {tool_id: own.get(tool_id, costs.bad_part) for tool_id in tool_ids}


def waiting_cost(bad_shots: float | None, part_cost: Decimal) -> Decimal | None:
    """Return what waiting is to be expected to cost on one face: a part of its cavity for each shot beyond the limit.

    None where nothing is known of the shots to come.
    """
    if bad_shots is None:
        return None
    return (Decimal(str(bad_shots)) * part_cost).quantize(Decimal("0.01"))


def money(amount: Decimal | float | None, currency: str, *, whole_from: int = WHOLE_FROM) -> str:
    """Return an amount as the reader reads it, in whole units from ten on: 1.50 EUR, 12 EUR, 3 400 EUR."""
    if amount is None:
        return wording.NOTHING
    value = Decimal(str(amount))
    if Decimal("0.005") <= abs(value) < whole_from:
        words = wording.number(value.quantize(Decimal("0.01"), ROUND_HALF_UP))
    else:
        words = f"{int(value.quantize(Decimal(1), ROUND_HALF_UP)):,}".replace(",", THIN_SPACE)
    return words.replace("-", MINUS) + f"{FAST_SPACE}{currency}"
