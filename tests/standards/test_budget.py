"""Uncertainty budgets of a reading and of a difference."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards.budget import (
    CalibrationRange,
    Contribution,
    Offset,
    combine,
    coverage_factor,
    difference_budget,
    reading_budget,
)

GLOSS = CalibrationRange(0.4, 0.01, 2.0, 0.0, 100.0)
sizes = st.floats(0, 100, allow_subnormal=False).map(lambda x: round(x, 3))


def test_reading_adds_calibration_repeatability_and_resolution() -> None:
    found = reading_budget(20.0, GLOSS, repeatability=0.2, repeatability_df=20, repeats=4, resolution=0.1)
    assert {row.name: row.standard_uncertainty for row in found.rows} == pytest.approx(
        {"calibration": 0.3, "repeatability": 0.1, "resolution": 0.05 / math.sqrt(3)}
    )
    assert found.combined == pytest.approx(math.sqrt(0.09 + 0.01 + 0.01 / 12))
    assert found.expanded == found.coverage_k * found.combined
    assert sum(row.share_percent for row in found.rows) == pytest.approx(100)
    assert [row.distribution for row in found.rows] == ["normal", "normal", "rectangular"]


def test_known_offset_is_taken_off_and_its_doubt_stays() -> None:
    found = reading_budget(20.0, GLOSS, offset=Offset(0.5, 0.4, 9))
    assert found.value == 19.5
    assert found.rows[-1].name == "offset"
    assert found.combined == pytest.approx(0.5)
    assert found.effective_df == pytest.approx(0.5**4 / (0.4**4 / 9))


def test_uncertainty_comes_from_the_range_that_holds_the_value() -> None:
    ranges = [CalibrationRange(0.2, upper=10.0), CalibrationRange(0.6, lower=10.0, upper=100.0)]
    assert [reading_budget(value, ranges).combined for value in (9.0, 10.0, 11.0)] == [0.1, 0.3, 0.3]


@pytest.mark.parametrize("value", [-0.1, 100.1])
def test_value_outside_every_calibrated_range_is_refused(value: float) -> None:
    with pytest.raises(Refused) as refused:
        reading_budget(value, GLOSS)
    assert refused.value.code == "calibration.not_at_value"
    assert "0–100" in refused.value.plain()


def test_what_the_calibration_does_not_know_cancels_in_a_difference() -> None:
    flat = CalibrationRange(2.0)
    found = difference_budget(20.0, 19.5, flat, repeatability=0.1, resolution=0.1)
    assert found.value == 0.5
    assert found.rows[0].standard_uncertainty == 0
    assert found.combined == pytest.approx(math.sqrt(2 * (0.01 + 0.01 / 12)))
    assert found.combined == pytest.approx(difference_budget(20, 19.5, repeatability=0.1, resolution=0.1).combined)


def test_what_grows_with_the_value_keeps_its_part_of_a_difference() -> None:
    found = difference_budget(30.0, 20.0, GLOSS)
    assert found.combined == pytest.approx(0.01 * 10 / 2)


def test_nothing_is_common_to_two_calibrated_ranges() -> None:
    ranges = [CalibrationRange(0.6, upper=10.0), CalibrationRange(0.8, lower=10.0)]
    assert difference_budget(9.0, 11.0, ranges).combined == pytest.approx(0.5)


def test_one_estimate_of_repeatability_keeps_its_degrees_of_freedom_in_a_difference() -> None:
    assert difference_budget(1.0, 2.0, repeatability=0.1, repeatability_df=20).effective_df == pytest.approx(20)


@given(st.lists(st.tuples(sizes, st.integers(1, 100)), min_size=1, max_size=6))
def test_effective_degrees_lie_between_the_least_and_the_sum(parts: list[tuple[float, int]]) -> None:
    found = combine(0.0, [Contribution(str(n), size, df=df) for n, (size, df) in enumerate(parts)])
    counted = [df for size, df in parts if size > 0]
    if counted:
        assert min(counted) - 1e-6 <= found.effective_df <= sum(counted) + 1e-6
        assert found.combined >= max(size for size, _ in parts) * (1 - 1e-12)
    else:
        assert (found.combined, found.expanded, found.effective_df) == (0, 0, math.inf)


@given(sizes, sizes, st.floats(0.1, 10))
def test_budget_grows_with_its_unit(repeatability: float, resolution: float, scale: float) -> None:
    one = difference_budget(0.0, 0.0, repeatability=repeatability, repeatability_df=7, resolution=resolution)
    other = difference_budget(
        0.0, 0.0, repeatability=repeatability * scale, repeatability_df=7, resolution=resolution * scale
    )
    assert other.combined == pytest.approx(one.combined * scale, abs=1e-12)


def test_coverage_is_students_or_normal_and_cut_to_whole_degrees() -> None:
    assert coverage_factor(math.inf) == pytest.approx(1.959964, abs=1e-6)
    assert coverage_factor(16.9) == coverage_factor(16.0) > coverage_factor(17.0)
    assert coverage_factor(0.3) == coverage_factor(1.0)
    assert coverage_factor(18.999) == coverage_factor(19.0)


@pytest.mark.parametrize(
    "ask",
    [
        lambda: combine(math.nan, []),
        lambda: combine(0.0, [Contribution("x", -1.0)]),
        lambda: combine(0.0, [Contribution("x", math.inf)]),
        lambda: combine(0.0, [Contribution("x", 1.0, df=0)]),
        lambda: combine(0.0, [], confidence=1.0),
        lambda: coverage_factor(math.nan),
        lambda: reading_budget(1.0, CalibrationRange(-0.1)),
        lambda: reading_budget(1.0, CalibrationRange(0.1, coverage_k=0.0)),
        lambda: reading_budget(1.0, []),
        lambda: reading_budget(1.0, GLOSS, repeats=0),
        lambda: reading_budget(1.0, GLOSS, resolution=-0.1),
        lambda: reading_budget(1.0, GLOSS, offset=Offset(math.nan, 0.1)),
        lambda: difference_budget(math.inf, 1.0),
    ],
)
def test_impossible_number_is_refused(ask: Callable[[], Any]) -> None:
    with pytest.raises(Refused):
        ask()
