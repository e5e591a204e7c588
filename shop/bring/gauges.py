"""gauges.csv: one row a calibration, or a gauge that has none yet; a gauge is entered with its first row."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from functools import partial

from django.db import models

from shop.bring.answer import Brought
from shop.bring.one_by_one import FileOf
from shop.bring.sheet import Bad, Row, bad_row
from shop.people.models import Person, Plant
from shop.quality.models import Calibration, Gauge
from shop.quality.services import gauges
from shop.refusal import gettext_noop
from shop.tooling.services.checks import not_in_future

OF_GAUGE = {"kind": "kind", "serial": "serial", "resolution": "resolution", "place": "place"}
OF_CALIBRATION = {
    "expanded a": "expanded_a",
    "expanded b": "expanded_b",
    "coverage k": "coverage_k",
    "passed": "passed",
    "certificate": "certificate",
}


def take(rows: Sequence[Row], plant: Plant, by: Person, at: datetime) -> Brought:
    """Enter the gauges that are new and book the calibrations; what is there is never changed."""
    there = {gauge.number: gauge for gauge in Gauge.objects.filter(plant=plant)}
    booked = set(Calibration.objects.filter(gauge__plant=plant).values_list("gauge__number", "at"))
    file = FileOf("gauges", rows, plant, by, at, ref_of_row=_key)
    for row in file.new_rows():
        gauge, faults = there.get(row["number"]), list(_faults(row, there))
        file.brought.bad += faults
        if faults or (gauge is not None and file.differs(row, gauge, OF_GAUGE)):
            continue
        if gauge is not None and (not row["calibrated at"] or (row["number"], row["calibrated at"]) in booked):
            file.brought.known += 1
        else:
            file.tried(row, "number", partial(_take_row, row, there, plant, by, at))
    return file.done()


def _key(row: Row) -> tuple[object, ...]:
    if row["calibrated at"] is None:
        return "gauge", row["number"]
    return "calibration", row["number"], row["calibrated at"].isoformat()


def _faults(row: Row, there: Mapping[str, Gauge]) -> Iterator[Bad]:
    """Yield what the row lacks: a new gauge says what it is, a calibration how good and how long."""
    wanted = [] if row["number"] in there else ["kind", "resolution"]
    if row["calibrated at"] is not None:
        wanted += ["due on", "expanded a"]
    for column in wanted:
        if row[column] is None:
            yield bad_row(row, column, "bring.empty", gettext_noop("must be given"))
    if row["calibrated at"] is None:
        for column in ("due on", *OF_CALIBRATION):
            if row[column] is not None:
                yield bad_row(row, column, "bring.not_calibrated", gettext_noop("needs calibrated at beside it"))


def _take_row(row: Row, there: dict[str, Gauge], plant: Plant, by: Person, at: datetime) -> models.Model:
    gauge = there.get(row["number"])
    if gauge is None:
        fields = {field: row[column] for column, field in OF_GAUGE.items() if row[column] is not None}
        gauge = gauges.add_gauge(plant=plant, number=row["number"], by=by, at=at, **fields)
    made: models.Model = gauge
    if row["calibrated at"] is not None:
        not_in_future(row["calibrated at"], code="calibration.in_future", field="calibrated at")
        fields = {field: row[column] for column, field in OF_CALIBRATION.items() if row[column] is not None}
        made = gauges.calibrate(gauge=gauge, due_on=row["due on"], by=by, at=row["calibrated at"], **fields)
    # Known from here on, and only where the whole row was taken.
    there[row["number"]] = gauge
    return made
