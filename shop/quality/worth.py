"""What a gauge's readings are worth at a time: its latest certificate with ranges, and its latest studies."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import QuerySet

from shop.quality.judging import GaugeUncertainty
from shop.quality.models import Calibration, Gauge, GaugeStudy, Reading
from shop.standards import budget
from shop.units import convert

StudyKey = tuple[str, int | None]


@dataclass(frozen=True)
class Worth:
    """What was known of one gauge: its latest calibration, and its latest study by parameter and angle."""

    calibration: Calibration | None = None
    studies: Mapping[StudyKey, GaugeStudy] = field(default_factory=dict)

    def of(self, gauge: Gauge, parameter: str, geometry_deg: int | None, unit: str) -> GaugeUncertainty:
        """Return what a reading of the parameter in `unit` is worth; without a calibration, what else is known."""
        study = self.studies.get((parameter, geometry_deg))
        last = self.calibration
        return GaugeUncertainty(
            expanded_a=0.0 if last is None else float(last.expanded_a),
            expanded_b=0.0 if last is None else float(last.expanded_b),
            coverage_k=2.0 if last is None else float(last.coverage_k),
            resolution=float(gauge.resolution),
            ranges=() if last is None else ranges_of(last),
            repeatability=float(convert(study.repeatability, study.unit, unit)) if study else 0.0,
            repeatability_df=float(study.repeatability_df) if study else float("inf"),
        )


def ranges_of(calibration: Calibration) -> tuple[budget.CalibrationRange, ...]:
    """Return the ranges of a certificate that have an uncertainty of their own."""
    k = float(calibration.coverage_k)
    return tuple(
        budget.CalibrationRange(float(one.expanded_a), float(one.expanded_b), k, float(one.lower), float(one.upper))
        for one in calibration.ranges.all()
    )


def worths_of(gauge_ids: Collection[int], at: datetime) -> dict[int, Worth]:
    """Return what was known of each gauge by `at`, in three queries."""
    calibrations = calibrations_with_ranges(gauge_ids).filter(at__lte=at)
    latest = {one.gauge_id: one for one in calibrations}
    studies = _latest(studies_in_force(gauge_ids).filter(at__lte=at))
    return {pk: Worth(latest.get(pk), studies.get(pk, {})) for pk in gauge_ids}


class WorthBook:
    """What was known of many gauges at any time, in three queries for all of them."""

    def __init__(self, gauge_ids: Collection[int]) -> None:
        self._calibrations = list(calibrations_with_ranges(gauge_ids))
        self._studies = list(studies_in_force(gauge_ids))

    def at(self, gauge_ids: Iterable[int], at: datetime) -> dict[int, Worth]:
        """Return what was known of the gauges by `at`."""
        latest = {one.gauge_id: one for one in self._calibrations if one.at <= at}
        studies = _latest(one for one in self._studies if one.at <= at)
        return {pk: Worth(latest.get(pk), studies.get(pk, {})) for pk in gauge_ids}


def gauge_uncertainty(reading: Reading, worths: Mapping[int, Worth]) -> GaugeUncertainty | None:
    """Return what the reading's gauge was known to be worth; None for what was read by eye."""
    if reading.gauge is None:
        return None
    known = worths.get(reading.gauge.pk, Worth())
    return known.of(reading.gauge, reading.parameter, reading.geometry_deg, reading.unit)


def calibrations_with_ranges(gauge_ids: Collection[int]) -> QuerySet[Calibration]:
    """Return the calibrations of gauges, the latest last, with their ranges."""
    return Calibration.objects.filter(gauge__in=gauge_ids).prefetch_related("ranges").order_by("at", "id")


def studies_in_force(gauge_ids: Collection[int]) -> QuerySet[GaugeStudy]:
    """Return the studies of gauges that nothing has put right, the latest last."""
    rows = GaugeStudy.objects.filter(gauge__in=gauge_ids, superseded_by__isnull=True, void=False)
    return rows.order_by("at", "id")


def _latest(studies: Iterable[GaugeStudy]) -> dict[int, dict[StudyKey, GaugeStudy]]:
    found: dict[int, dict[StudyKey, GaugeStudy]] = {}
    for study in studies:
        found.setdefault(study.gauge_id, {})[study.parameter, study.geometry_deg] = study
    return found
