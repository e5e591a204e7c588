"""Write gauges: enter one, take one out of use. Calibrations, tile checks and offsets have modules of their own."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from shop.ledger.services import once, record_change
from shop.people.models import Person, Plant
from shop.quality.models import Gauge
from shop.quality.services.calibrations import RangeDraft, calibrate
from shop.refusal import Refused, gettext_noop

__all__ = ["RangeDraft", "add_gauge", "calibrate", "retire_gauge"]

# As small as the database keeps it.
SMALLEST = Decimal("0.0001")


@once("gauge", Gauge, timed=False)
def add_gauge(
    *,
    plant: Plant,
    number: str,
    kind: str,
    resolution: Decimal,
    by: Person,
    at: datetime,
    serial: str = "",
    place: str = "",
    owner: str = "",
    aperture_mm: Decimal | None = None,
    tip_um: Decimal | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Gauge:
    """Add a gauge; until it has been calibrated nothing that it reads decides anything.

    `owner` says whose it is where it is not the plant's own.
    """
    if Gauge.objects.filter(plant=plant, number=number).exists():
        raise Refused(
            "gauge.number_taken",
            gettext_noop("There is a gauge {number} already."),
            next_step=gettext_noop("Give this one another number."),
            field="number",
            number=number,
        )
    if not SMALLEST <= resolution < 1000:
        raise Refused(
            "gauge.resolution_not_positive",
            gettext_noop("A resolution of {value} is none; the limit is above {limit}."),
            next_step=gettext_noop("Enter the smallest step that the gauge shows."),
            field="resolution",
            value=resolution,
            limit=0,
        )
    _check_shape(Gauge.Kind(kind), aperture_mm, tip_um)
    gauge = Gauge.objects.create(
        plant=plant, number=number, kind=Gauge.Kind(kind), resolution=resolution, serial=serial, place=place,
        owner=owner, aperture_mm=aperture_mm, tip_um=tip_um,
    )  # fmt: skip
    record_change(gauge, "number", "", number, by=by, at=at)
    return gauge


@once("gauge retired", Gauge, timed=False)
def retire_gauge(
    *,
    gauge: Gauge,
    by: Person,
    at: datetime,
    why: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Gauge:
    """Take a gauge out of use; what it has read stays."""
    held: Gauge = Gauge.objects.select_for_update().get(pk=gauge.pk)
    if held.retired_at is not None:
        raise Refused(
            "gauge.retired_already",
            gettext_noop("Gauge {gauge} was taken out of use on {day}."),
            next_step=gettext_noop("There is nothing left to do."),
            gauge=held.number,
            day=held.retired_at,
        )
    held.retired_at = at
    held.save(update_fields=["retired_at"])
    record_change(held, "retired_at", None, at, by=by, at=at, why=why)
    return held


def _check_shape(kind: Gauge.Kind, aperture_mm: Decimal | None, tip_um: Decimal | None) -> None:
    """Refuse an aperture of what measures no gloss, a tip of what traces nothing, and either where it is none."""
    for value, field, of, template in (
        (aperture_mm, "aperture_mm", Gauge.Kind.GLOSS, gettext_noop("An aperture belongs to a glossmeter.")),
        (tip_um, "tip_um", Gauge.Kind.STYLUS, gettext_noop("A tip belongs to a stylus.")),
    ):
        if value is not None and kind != of:
            raise Refused("gauge.not_its_shape", template, next_step=gettext_noop("Leave it empty."), field=field)
        if value is not None and not 0 < value < 1000:
            raise Refused(
                "gauge.shape_impossible",
                gettext_noop("A size of {value} is not possible; it is above {limit}."),
                next_step=gettext_noop("Copy it from the gauge's data sheet, or leave it empty."),
                field=field,
                value=value,
                limit=0,
            )
