"""Write gauges and their calibrations."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from shop.ledger.services import once, record_change
from shop.paper.models import StoredFile
from shop.people.models import Person, Plant
from shop.quality.models import Calibration, Gauge
from shop.refusal import Refused, gettext_noop


@transaction.atomic
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
) -> Gauge:
    """Add a gauge; until it has been calibrated nothing that it reads decides anything."""
    if Gauge.objects.filter(plant=plant, number=number).exists():
        raise Refused(
            "gauge.number_taken",
            gettext_noop("There is a gauge {number} already."),
            next_step=gettext_noop("Give this one another number."),
            field="number",
            number=number,
        )
    if resolution <= 0:
        raise Refused(
            "gauge.resolution_not_positive",
            gettext_noop("A resolution of {value} is none; the limit is above {limit}."),
            next_step=gettext_noop("Enter the smallest step that the gauge shows."),
            field="resolution",
            value=resolution,
            limit=0,
        )
    gauge = Gauge.objects.create(
        plant=plant, number=number, kind=Gauge.Kind(kind), resolution=resolution, serial=serial, place=place
    )
    record_change(gauge, "number", "", number, by=by, at=at)
    return gauge


@transaction.atomic
def retire_gauge(*, gauge: Gauge, by: Person, at: datetime, why: str = "") -> Gauge:
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


@once("calibration", Calibration, timed=False)
def calibrate(
    *,
    gauge: Gauge,
    due_on: date,
    expanded_a: Decimal,
    by: Person,
    at: datetime,
    expanded_b: Decimal = Decimal(0),
    coverage_k: Decimal = Decimal(2),
    passed: bool = True,
    certificate: str = "",
    file: StoredFile | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Calibration:
    """Book a calibration: passed or not, valid until, and U = a + b x value at coverage k."""
    if due_on < at.date():
        raise Refused(
            "calibration.due_before_done",
            gettext_noop("A calibration of {day} cannot run out on {value}, before it was done."),
            next_step=gettext_noop("Enter the date until which it holds."),
            field="due_on",
            value=due_on,
            day=at.date(),
        )
    if min(expanded_a, expanded_b) < 0 or coverage_k <= 0:
        raise Refused(
            "calibration.uncertainty_impossible",
            gettext_noop("An uncertainty of {a} + {b} x value at k = {k} is not possible."),
            next_step=gettext_noop("Copy U and k from the certificate; neither is below zero."),
            field="expanded_a",
            a=expanded_a,
            b=expanded_b,
            k=coverage_k,
        )
    return Calibration.objects.create(
        gauge=gauge,
        due_on=due_on,
        expanded_a=expanded_a,
        expanded_b=expanded_b,
        coverage_k=coverage_k,
        passed=passed,
        certificate=certificate,
        file=file,
        by=by,
        at=at,
    )
