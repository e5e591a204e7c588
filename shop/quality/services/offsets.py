"""Write offsets: what one gauge reads above another of its kind, from a comparison in pairs."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from shop.ledger.services import once
from shop.people.models import Person
from shop.quality.gauge_units import unit_of_gauge
from shop.quality.models import Gauge, GaugeOffset
from shop.quality.services.checks import GAUGES_FOR, not_in_future
from shop.refusal import Refused, gettext_noop
from shop.standards.offset import paired_offset
from shop.tooling.models import Parameter
from shop.tooling.services.spec_checks import ANGLES_DEG
from shop.units import Quantity

MOST_PAIRS = 200
LARGEST = Decimal(10_000)
Pair = tuple[Decimal, Decimal]


@once("gauge offset", GaugeOffset, timed=False)
def compare(
    *,
    ours: Gauge,
    theirs: Gauge,
    parameter: str,
    pairs: Sequence[Pair],
    by: Person,
    at: datetime,
    geometry_deg: int | None = None,
    note: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> GaugeOffset:
    """Write down what `ours` reads above `theirs`, from the same pieces read on both; the pairs are kept as typed.

    Raises Refused for two gauges that cannot be compared, fewer than three pairs, or values that cannot be.
    """
    not_in_future(at)
    _check_gauges(ours, theirs, Parameter(parameter), geometry_deg)
    unit = unit_of_gauge(ours.kind)
    _check_pairs(pairs, unit)
    found = paired_offset([float(one) for one, _other in pairs], [float(other) for _one, other in pairs])
    return GaugeOffset.objects.create(
        ours=ours, theirs=theirs, parameter=parameter, geometry_deg=geometry_deg, unit=unit,
        pairs=[[format(one, "f"), format(other, "f")] for one, other in pairs],
        offset=_decimal(found.offset, "0.00001"), standard_uncertainty=_decimal(found.standard_error, "0.000001"),
        effective_df=Decimal(found.df), depends_on_level=found.depends_on_level, note=note, by=by, at=at,
    )  # fmt: skip


def _check_gauges(ours: Gauge, theirs: Gauge, parameter: Parameter, geometry_deg: int | None) -> None:
    if ours.pk == theirs.pk or ours.plant_id != theirs.plant_id or ours.kind != theirs.kind:
        raise Refused(
            "offset.not_two_of_a_kind",
            gettext_noop("Gauges {ours} and {theirs} are not two of one kind."),
            next_step=gettext_noop("Choose another gauge of the same kind; the customer's is entered with its owner."),
            field="theirs", ours=ours.number, theirs=theirs.number,
        )  # fmt: skip
    if ours.kind not in GAUGES_FOR.get(parameter, ()):
        raise Refused(
            "offset.wrong_parameter", gettext_noop("Gauge {gauge} does not read {parameter}."),
            next_step=gettext_noop("Choose what both gauges read."), field="parameter", gauge=ours.number,
            parameter=parameter,
        )  # fmt: skip
    if (geometry_deg in ANGLES_DEG) != (parameter == Parameter.GLOSS):
        raise Refused(
            "offset.angle", gettext_noop("Gloss is read at one of {limit}, and nothing else has an angle."),
            next_step=gettext_noop("Choose the angle of both gauges, or leave it empty."), field="angle",
            limit=", ".join(f"{angle}°" for angle in ANGLES_DEG),
        )  # fmt: skip


def _check_pairs(pairs: Sequence[Pair], unit: str) -> None:
    if len(pairs) > MOST_PAIRS:
        raise Refused(
            "offset.too_many", gettext_noop("{value} pairs are more than are taken here, {limit}."),
            next_step=gettext_noop("Ten to thirty pieces from low to high are enough."), field="paste",
            value=len(pairs), limit=MOST_PAIRS,
        )  # fmt: skip
    for one in (value for pair in pairs for value in pair):
        if not 0 <= one < LARGEST:
            raise Refused(
                "offset.value_impossible", gettext_noop("A reading of {value} is not possible."),
                next_step=gettext_noop("Enter what the gauge showed."), field="paste", value=Quantity(one, unit),
            )  # fmt: skip


def _decimal(value: float, step: str) -> Decimal:
    return Decimal(repr(value)).quantize(Decimal(step))
