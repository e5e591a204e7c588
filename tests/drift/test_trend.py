"""Lines through readings: what they give, and what they refuse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.drift.trend import fit_line
from shop.refusal import Refused

SHOTS = [0.0, 10_000.0, 20_000.0, 30_000.0, 45_000.0]
VALUES = [0.40, 0.46, 0.49, 0.57, 0.66]


def test_line_agrees_with_another_least_squares() -> None:
    line = fit_line(SHOTS, VALUES)
    slope, intercept = np.polyfit(SHOTS, VALUES, 1)
    assert line.slope == pytest.approx(slope, rel=1e-10)
    assert line.intercept == pytest.approx(intercept, rel=1e-10)
    assert (line.n, line.df) == (5, 3)


def test_line_through_the_origin_begins_at_zero() -> None:
    line = fit_line([1, 2, 3], [2.1, 3.9, 6.0], through_origin=True)
    assert line.intercept == 0
    assert line.slope == pytest.approx((2.1 + 7.8 + 18.0) / 14)
    assert line.df == 2
    assert line.predict(0) == (0.0, 0.0)


def test_two_readings_make_a_line_without_spread() -> None:
    line = fit_line([0, 1000], [1.0, 1.5])
    assert (line.intercept, line.slope) == pytest.approx((1.0, 0.0005))
    assert line.residual_sd is None
    assert line.se_slope is None
    assert line.se_intercept is None
    assert line.predict(2000) == (pytest.approx(2.0), None)


def test_readings_on_a_line_have_no_scatter() -> None:
    line = fit_line([0, 1, 2, 3], [5.0, 5.0, 5.0, 5.0])
    assert (line.slope, line.residual_sd, line.se_slope) == (0.0, 0.0, 0.0)


def test_prediction_is_surest_in_the_middle_of_the_readings() -> None:
    line = fit_line(SHOTS, VALUES)
    at_middle, before, after = (line.predict(x)[1] for x in (line.mean_x, 0.0, 90_000.0))
    assert at_middle is not None
    assert before is not None
    assert after is not None
    assert at_middle == pytest.approx(line.residual_sd / math.sqrt(line.n) if line.residual_sd else 0)
    assert at_middle < before < after


def test_standard_error_at_zero_shots_is_that_of_the_intercept() -> None:
    line = fit_line(SHOTS, VALUES)
    assert line.predict(0.0)[1] == pytest.approx(line.se_intercept, rel=1e-14)


@pytest.mark.parametrize(
    ("shots", "values", "code"),
    [
        ([1, 2, 3], [1, 2], "trend.lengths_differ"),
        ([[1, 2], [3, 4]], [[1, 2], [3, 4]], "trend.lengths_differ"),
        ([], [], "trend.too_few"),
        ([1], [1], "trend.too_few"),
        ([5, 5, 5], [1, 2, 3], "trend.same_shots"),
        ([1, 2, math.nan], [1, 2, 3], "trend.not_a_number"),
        ([1, 2, 3], [1, math.nan, 3], "trend.not_a_number"),
        ([1, 2, math.inf], [1, 2, 3], "trend.not_a_number"),
        ([1, 2, 3], [1, 2, -math.inf], "trend.not_a_number"),
    ],
)
def test_readings_that_make_no_line_are_refused(shots: list[float], values: list[float], code: str) -> None:
    with pytest.raises(Refused) as refused:
        fit_line(shots, values)
    assert refused.value.code == code
    assert refused.value.next_step


def test_same_shots_are_seen_where_their_mean_is_rounded() -> None:
    with pytest.raises(Refused):
        fit_line([0.1] * 10, [float(i) for i in range(10)])


def test_origin_line_of_readings_at_no_shots_is_refused() -> None:
    with pytest.raises(Refused) as refused:
        fit_line([0, 0, 0], [1, 2, 3], through_origin=True)
    assert refused.value.code == "trend.same_shots"


@given(
    st.lists(st.integers(0, 2_000_000), min_size=4, max_size=30, unique=True),
    st.integers(0, 10_000_000),
    st.floats(0.1, 10),
    st.randoms(use_true_random=False),
)
def test_line_does_not_depend_on_where_the_counter_began(shots: list[int], offset: int, scale: float, random) -> None:
    values = [scale * (x * 1e-6 + random.uniform(-0.05, 0.05)) for x in shots]
    line, moved = fit_line(shots, values), fit_line([x + offset for x in shots], values)
    assert moved.slope == pytest.approx(line.slope, rel=1e-8, abs=1e-16)
    assert moved.residual_sd == pytest.approx(line.residual_sd, rel=1e-8)
    assert moved.predict(shots[0] + offset)[0] == pytest.approx(line.predict(shots[0])[0], rel=1e-8, abs=1e-9)
