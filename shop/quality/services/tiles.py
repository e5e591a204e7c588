"""Write checks on the tile: what a gauge showed on it before use, and what that says."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from shop.ledger.services import once
from shop.people.models import Person
from shop.quality.gauge_units import unit_of_gauge
from shop.quality.models import Gauge, TileCheck
from shop.quality.services.checks import not_in_future
from shop.quality.worth import worths_of
from shop.refusal import Refused, gettext_noop
from shop.standards import offset
from shop.units import Quantity

LARGEST = Decimal(10_000)


@once("tile check", TileCheck, timed=False)
def check_tile(
    *,
    gauge: Gauge,
    tile: str,
    value: Decimal,
    tile_value: Decimal,
    limit: Decimal,
    by: Person,
    at: datetime,
    tile_expanded: Decimal = Decimal(0),
    note: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> TileCheck:
    """Write down what the gauge showed on its tile: good, look again, or unfit beyond the shop's limit.

    "Unfit" alone takes nothing back: tile and gauge are wiped and read again first. Raises Refused for a gauge out of
    use, in the future, or for figures that cannot be.
    """
    not_in_future(at)
    unit = unit_of_gauge(gauge.kind)
    if gauge.retired_at is not None:
        raise Refused(
            "tile.gauge_retired", gettext_noop("Gauge {gauge} is out of use."),
            next_step=gettext_noop("Check a gauge that is in use."), gauge=gauge.number,
        )  # fmt: skip
    for number, field, least in (
        (value, "tile-value", 0), (tile_value, "tile-tile_value", 0), (tile_expanded, "tile-expanded", 0),
        (limit, "tile-limit", Decimal("0.0001")),
    ):  # fmt: skip
        if not least <= number < LARGEST / (1 if field in ("tile-value", "tile-tile_value") else 10):
            raise Refused(
                "tile.figure_impossible", gettext_noop("{value} is not possible here."),
                next_step=gettext_noop("Copy the tile's figures from its certificate, and read the gauge again."),
                field=field, value=Quantity(number, unit),
            )  # fmt: skip
    found = offset.tile_check(
        float(value), float(tile_value), float(tile_expanded), _expanded(gauge, tile_value, at), float(limit)
    )
    return TileCheck.objects.create(
        gauge=gauge, tile=tile, unit=unit, value=value, tile_value=tile_value, tile_expanded=tile_expanded,
        limit=limit, outcome=found.verdict, note=note, by=by, at=at,
    )  # fmt: skip


def _expanded(gauge: Gauge, value: Decimal, at: datetime) -> float:
    """Return the gauge's own expanded uncertainty at the tile's value, 0 where it was never calibrated."""
    known = worths_of([gauge.pk], at)[gauge.pk]
    said = known.of(gauge, "", None, unit_of_gauge(gauge.kind)).certificate(float(value))
    ranges = said if isinstance(said, tuple) else (said,)
    return max(one.expanded_a + one.expanded_b * float(value) for one in ranges)
