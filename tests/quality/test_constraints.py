"""The database itself refuses what must not be, whoever writes."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.quality.models import Calibration, Gauge, Inspection, PlanItem, Reading, Verdict
from tests.factories import plaque
from tests.measuring import Shop


def copy_of(row: Any, **changed: Any) -> Any:
    kept = {one.attname: getattr(row, one.attname) for one in row._meta.concrete_fields if one.name != "id"}
    return type(row)(**{**kept, **changed})


def breaks(constraint: str, row: Any) -> None:
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        row.save(force_insert=True)
    # SQLite names a unique constraint by its columns, or by the index where that is partial or by expression.
    said = str(caught.value)
    assert constraint in said or "UNIQUE constraint failed" in said


def test_gauge_number_once_and_resolution_positive(shop: Shop) -> None:
    breaks("gauge_number_once", copy_of(shop.gloss))
    breaks("gauge_resolution_positive", copy_of(shop.gloss, number="new", resolution=Decimal(0)))
    assert Gauge.objects.count() == 3


@pytest.mark.parametrize("changed", [{"expanded_a": -1}, {"expanded_b": -1}, {"coverage_k": 0}])
def test_calibration_uncertainty_is_sane(shop: Shop, changed: dict[str, int]) -> None:
    breaks("calibration_uncertainty_sane", copy_of(Calibration.objects.first(), **changed))


def test_plan_says_how_often_and_stands_once_even_without_a_spot(shop: Shop) -> None:
    item = PlanItem.objects.create(face=shop.face, parameter="gloss", where="part", every_days=7)
    breaks("plan_says_how_often", copy_of(item, parameter="Ra", every_days=None))
    breaks("plan_says_how_often", copy_of(item, parameter="Ra", every_days=0))
    breaks("plan_item_once", copy_of(item))
    ended = copy_of(item, ended_at=shop.day(1))
    ended.save(force_insert=True)
    assert PlanItem.objects.count() == 2


@pytest.mark.parametrize(
    ("constraint", "changed"),
    [
        ("reading_value_possible", {"value": Decimal("-0.0001")}),
        ("reading_by_gauge_or_plaque", {"gauge_id": None}),
        ("reading_by_gauge_or_plaque", {"parameter": "look gloss", "value": 0}),
        ("reading_says_why", {"void": True}),
        ("reading_says_why", {"supersedes_id": "itself", "why": ""}),
    ],
)
def test_reading_that_must_not_be_is_refused(satin_shop: Shop, constraint: str, changed: dict[str, Any]) -> None:
    reading = satin_shop.reading(satin_shop.take(1, satin_shop.draft("3.0")))
    given = {name: reading.pk if value == "itself" else value for name, value in changed.items()}
    breaks(constraint, copy_of(reading, **given))
    assert Reading.objects.count() == 1


@pytest.mark.parametrize("grade", [-3, 3])
def test_grade_beyond_two_is_refused(satin_shop: Shop, grade: int) -> None:
    reading = satin_shop.reading(satin_shop.take(1, satin_shop.draft("3.0")))
    by_eye = {"parameter": "look gloss", "gauge_id": None, "plaque_id": plaque(satin_shop.lead).pk, "value": grade}
    breaks("reading_value_possible", copy_of(reading, **by_eye))


def test_reading_is_superseded_once(satin_shop: Shop) -> None:
    reading = satin_shop.reading(satin_shop.take(1, satin_shop.draft("3.0")))
    copy_of(reading, supersedes_id=reading.pk, why="misread").save(force_insert=True)
    breaks("reading_supersedes", copy_of(reading, supersedes_id=reading.pk, why="misread again"))


@pytest.mark.parametrize(
    ("constraint", "changed"),
    [
        ("verdict_once", {}),
        ("verdict_once", {"spot_id": None, "twice": True}),
        ("verdict_outcome_known", {"outcome": "perhaps"}),
        ("verdict_conformance_is_a_chance", {"conformance": Decimal("1.1")}),
        ("verdict_conformance_is_a_chance", {"conformance": Decimal("-0.1")}),
        ("verdict_says_why", {"void": True}),
    ],
)
def test_verdict_that_must_not_be_is_refused(satin_shop: Shop, constraint: str, changed: dict[str, Any]) -> None:
    verdict = satin_shop.read(1, "3.0")
    if changed.pop("twice", False):
        copy_of(verdict, **changed).save(force_insert=True)
    breaks(constraint, copy_of(verdict, **changed))


@pytest.mark.parametrize("model", [Calibration, Inspection, Reading, Verdict])
def test_ledger_rows_are_neither_altered_nor_deleted(satin_shop: Shop, model: Any) -> None:
    satin_shop.read(1, "3.0")
    for alter in (lambda rows: rows.update(at=satin_shop.day(2)), lambda rows: rows._raw_delete("default")):
        with pytest.raises(IntegrityError), transaction.atomic():
            alter(model.objects.all())
    assert model.objects.exists()
