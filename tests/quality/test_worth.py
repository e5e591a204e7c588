"""What a reading is worth: the range that holds it, the gauge's latest study, nothing of the surface's scatter."""

from __future__ import annotations

from decimal import Decimal
from math import hypot, sqrt
from typing import Any

import pytest

from shop.quality.judging import GaugeUncertainty, Terms, judge_values
from shop.quality.models import CalibrationRange, GaugeStudy, Verdict
from shop.quality.worth import WorthBook, worths_of
from shop.standards.budget import CalibrationRange as Range
from tests.measuring import Shop

STEP = 0.1 / sqrt(12)


def study(shop: Shop, days: float, repeatability: str, **given: Any) -> GaugeStudy:
    fields = {
        "gauge": shop.gloss, "parameter": "gloss", "geometry_deg": 60, "unit": "GU", "people": ["A", "B"],
        "parts": ["1", "2"], "values": [], "repeatability": Decimal(repeatability), "repeatability_df": 20,
        "percent_grr": 9, "fitness": "fit", "by": shop.inspector, "at": shop.day(days),
    }  # fmt: skip
    return GaugeStudy.objects.create(**{**fields, **given})


def ranged(shop: Shop, lower: str, upper: str, expanded: str) -> CalibrationRange:
    return CalibrationRange.objects.create(
        calibration=shop.gloss.calibrations.get(), lower=Decimal(lower), upper=Decimal(upper),
        expanded_a=Decimal(expanded), by=shop.inspector, at=shop.start,
    )  # fmt: skip


def test_range_that_holds_the_value_speaks_and_outside_all_the_whole_certificate(satin_shop: Shop) -> None:
    ranged(satin_shop, "0", "10", "0.1")
    ranged(satin_shop, "10", "100", "0.8")
    known = worths_of([satin_shop.gloss.pk], satin_shop.day(1))[satin_shop.gloss.pk]
    gauge = known.of(satin_shop.gloss, "gloss", 60, "GU")
    assert gauge.at(3) == pytest.approx(hypot(0.05, STEP))
    assert gauge.at(50) == pytest.approx(hypot(0.4, STEP))
    assert gauge.at(200) == pytest.approx(hypot(0.1, STEP))
    # Where two ranges meet the less certain of them holds.
    assert gauge.at(10) == pytest.approx(hypot(0.4, STEP))


def test_verdict_goes_by_range_and_latest_study(satin_shop: Shop) -> None:
    ranged(satin_shop, "0", "10", "0.1")
    study(satin_shop, 0.5, "0.3")
    study(satin_shop, 1, "0.08")
    judged = satin_shop.read(2, 3.0)
    assert judged is not None
    assert float(judged.standard_uncertainty) == pytest.approx(hypot(0.05, 0.08, STEP), abs=1e-6)


def test_study_counts_only_once_it_was_made_and_only_for_what_it_read(satin_shop: Shop) -> None:
    study(satin_shop, 3, "0.5")
    study(satin_shop, 1, "0.5", geometry_deg=20)
    judged = satin_shop.read(2, 3.0)
    assert judged is not None
    assert float(judged.standard_uncertainty) == pytest.approx(hypot(0.1, STEP), abs=1e-6)


def test_study_that_was_put_right_no_longer_counts(satin_shop: Shop) -> None:
    old = study(satin_shop, 1, "0.5")
    study(satin_shop, 1, "0.02", supersedes=old, why="a decimal sign")
    judged = satin_shop.read(2, 3.0)
    assert judged is not None
    assert float(judged.standard_uncertainty) == pytest.approx(hypot(0.1, 0.02, STEP), abs=1e-6)


def test_study_in_inches_is_read_in_the_unit_of_the_reading(shop: Shop) -> None:
    study(shop, 1, "2", gauge=shop.stylus, parameter="Ra", geometry_deg=None, unit="uin")
    known = worths_of([shop.stylus.pk], shop.day(2))[shop.stylus.pk]
    assert known.of(shop.stylus, "Ra", None, "um").repeatability == pytest.approx(0.0508)


def test_more_readings_steady_the_mean_and_neither_calibration_nor_a_worst_value() -> None:
    gauge = GaugeUncertainty(expanded_a=0.2, repeatability=0.3)
    mean = Terms("gloss", 2.0, 4.0, "")
    assert judge_values([3.0, 3.1, 2.9], mean, gauge).standard_uncertainty == pytest.approx(hypot(0.1, 0.3 / sqrt(3)))
    sixteen = Terms("Ra", None, 0.8, "ISO 4288:1996")
    spread = judge_values([0.4, 0.5, 0.6], sixteen, gauge)
    assert spread.standard_uncertainty == pytest.approx(hypot(0.1, 0.3 / sqrt(3)))
    worst = Terms("Ra", None, 0.8, "ISO 21920-3:2021")
    assert judge_values([0.4, 0.5, 0.6], worst, gauge).standard_uncertainty == pytest.approx(hypot(0.1, 0.3))


def test_scatter_over_the_surface_moves_the_statistic_and_leaves_the_uncertainty() -> None:
    gauge = GaugeUncertainty(expanded_a=0.2, repeatability=0.05)
    sixteen = Terms("Ra", None, 0.8, "ISO 4288:1996")
    even, rough = (judge_values(values, sixteen, gauge) for values in ([0.5, 0.5, 0.5], [0.3, 0.5, 0.7]))
    assert rough.statistic > even.statistic
    assert rough.standard_uncertainty == pytest.approx(even.standard_uncertainty)


def test_budget_shows_what_the_verdict_counts() -> None:
    gauge = GaugeUncertainty(0.2, 0.0, 2.0, 0.1, (Range(0.1, 0.0, 2.0, 0.0, 10.0),), 0.08, 20)
    found = gauge.budget(3.0, repeats=4)
    assert [row.name for row in found.rows] == ["calibration", "repeatability", "resolution"]
    assert found.combined == gauge.at(3.0, 4) == pytest.approx(hypot(0.05, 0.04, STEP))
    assert sum(row.share_percent for row in found.rows) == pytest.approx(100)


def test_many_brought_at_once_are_worth_the_same_as_one_by_one(shop: Shop) -> None:
    study(shop, 1, "0.3")
    study(shop, 3, "0.1")
    book = WorthBook([shop.gloss.pk])
    for days in (0.5, 2, 4):
        moment = shop.day(days)
        for known in (book.at([shop.gloss.pk], moment), worths_of([shop.gloss.pk], moment)):
            found = known[shop.gloss.pk].of(shop.gloss, "gloss", 60, "GU").repeatability
            assert found == {0.5: 0.0, 2: 0.3, 4: 0.1}[days]


def test_reading_put_right_is_judged_by_the_same_range_and_study(satin_shop: Shop) -> None:
    from shop.quality.services import inspections

    ranged(satin_shop, "0", "10", "0.1")
    study(satin_shop, 1, "0.08")
    inspection = satin_shop.take(2, satin_shop.draft(3.0))
    inspections.correct(
        reading=satin_shop.reading(inspection), value=Decimal("3.2"), why="misread", by=satin_shop.inspector,
        at=satin_shop.day(2),
    )  # fmt: skip
    now = Verdict.objects.in_force().get(inspection=inspection)
    assert float(now.standard_uncertainty) == pytest.approx(hypot(0.05, 0.08, STEP), abs=1e-6)
