"""Write calibrations: what a certificate says, of the whole range and of parts of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import pairwise
from uuid import UUID

from shop.ledger.services import once
from shop.paper.models import StoredFile
from shop.people.models import Person
from shop.quality.models import Calibration, CalibrationRange, Gauge
from shop.quality.services import unfit
from shop.quality.services.checks import not_in_future
from shop.refusal import Refused, gettext_noop

LARGEST = Decimal(1_000)
LEAST_K = Decimal("0.01")
# As far as the database keeps a bound.
STEP = Decimal("0.0001")


@dataclass(frozen=True)
class RangeDraft:
    """Part of the range with an uncertainty of its own, U = a + b x value at the certificate's coverage."""

    lower: Decimal
    upper: Decimal
    expanded_a: Decimal
    expanded_b: Decimal = Decimal(0)


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
    ranges: Sequence[RangeDraft] = (),
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Calibration:
    """Book a calibration: passed or not, valid until, and U = a + b x value at coverage k, also by range.

    One that was not passed casts doubt on what the gauge read since its last good check: a finding is opened with it.
    """
    if due_on < at.date():
        raise Refused(
            "calibration.due_before_done",
            gettext_noop("A calibration of {day} cannot run out on {value}, before it was done."),
            next_step=gettext_noop("Enter the date until which it holds."),
            field="due_on",
            value=due_on,
            day=at.date(),
        )
    _check_uncertainty(expanded_a, expanded_b, coverage_k)
    _check_ranges(ranges)
    if not passed:
        not_in_future(at)
    calibration: Calibration = Calibration.objects.create(
        gauge=gauge, due_on=due_on, expanded_a=expanded_a, expanded_b=expanded_b, coverage_k=coverage_k,
        passed=passed, certificate=certificate, file=file, by=by, at=at,
    )  # fmt: skip
    CalibrationRange.objects.bulk_create(
        CalibrationRange(
            calibration=calibration, lower=one.lower, upper=one.upper, expanded_a=one.expanded_a,
            expanded_b=one.expanded_b, by=by, at=at,
        )
        for one in ranges
    )  # fmt: skip
    unfit.after_calibration(calibration=calibration, by=by)
    return calibration


def _check_uncertainty(a: Decimal, b: Decimal, k: Decimal, field: str = "expanded_a") -> None:
    if min(a, b) < 0 or k < LEAST_K or a >= LARGEST or b >= 100 or k >= 10:
        raise Refused(
            "calibration.uncertainty_impossible",
            gettext_noop("An uncertainty of {a} + {b} x value at k = {k} is not possible."),
            next_step=gettext_noop("Copy U and k from the certificate; neither is below zero."),
            field=field,
            a=a,
            b=b,
            k=k,
        )


def _check_ranges(ranges: Sequence[RangeDraft]) -> None:
    for index, one in enumerate(ranges):
        if not (0 <= one.lower < one.upper < 100_000 and one.lower.quantize(STEP) < one.upper.quantize(STEP)):
            raise Refused(
                "calibration.range_impossible",
                gettext_noop("A range from {lower} to {upper} is none."),
                next_step=gettext_noop("Enter where it begins and where it ends, the lower first."),
                field=f"ranges-{index}-lower",
                lower=one.lower,
                upper=one.upper,
            )
        _check_uncertainty(one.expanded_a, one.expanded_b, Decimal(1), f"ranges-{index}-a")
    for first, second in pairwise(sorted(ranges, key=lambda one: one.lower)):
        if second.lower < first.upper:
            raise Refused(
                "calibration.ranges_overlap",
                gettext_noop("The range up to {value} reaches into the one that begins at {limit}."),
                next_step=gettext_noop("Let each range begin where the one before it ends."),
                field="ranges-0-lower",
                value=first.upper,
                limit=second.lower,
            )
