"""Many faces at once give what each gives alone."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shop.drift.bulk import fit_lines, probability_by, shots_at
from shop.drift.crossing import crossing
from shop.drift.trend import fit_line
from shop.refusal import Refused

FIELDS = ["intercept", "slope", "se_intercept", "se_slope", "residual_sd", "mean_x", "sxx"]


def many(seed: int, groups: int, most: int = 14) -> tuple[list[list[float]], list[list[float]]]:
    random = np.random.default_rng(seed)
    shots, values = [], []
    for _ in range(groups):
        x = np.sort(random.choice(400, size=random.integers(3, most), replace=False)) * 1000.0 + random.integers(
            0, 10**6
        )
        shots.append(list(x))
        values.append(list(random.uniform(0.2, 5) + random.normal(0, 2e-6) * x + random.normal(0, 0.1, len(x))))
    return shots, values


def joined(groups: list[list[float]]) -> tuple[list[float], list[int]]:
    return [v for group in groups for v in group], [0, *np.cumsum([len(g) for g in groups]).tolist()]


@given(st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_lines_agree_with_one_at_a_time(seed: int) -> None:
    shots, values = many(seed, 25)
    flat, offsets = joined(shots)
    lines = fit_lines(flat, joined(values)[0], offsets)
    for i, (x, y) in enumerate(zip(shots, values, strict=True)):
        alone = fit_line(x, y)
        # An intercept or slope near 0 is a difference of large terms: its digits are those of the terms.
        size = max(map(abs, y))
        floor = {"intercept": size + abs(alone.slope) * alone.mean_x, "slope": size / (max(x) - min(x))}
        for name in FIELDS:
            expected = getattr(alone, name)
            assert getattr(lines, name)[i] == pytest.approx(expected, rel=1e-12, abs=1e-12 * floor.get(name, 0.0)), name
        assert lines.n[i] == alone.n


@given(st.integers(0, 10_000), st.sampled_from([0.01, 0.1, 0.5, 0.9, 0.99]), st.booleans())
@settings(max_examples=60, deadline=None)
def test_crossings_agree_with_one_at_a_time(seed: int, chance: float, up: bool) -> None:
    shots, values = many(seed, 25)
    flat, offsets = joined(shots)
    lines = fit_lines(flat, joined(values)[0], offsets)
    limits = np.random.default_rng(seed).uniform(0.1, 8, 25)
    until = np.random.default_rng(seed + 1).uniform(0, 3e6, 25)
    at = shots_at(lines, limits, np.full(25, up), chance)
    by = probability_by(lines, limits, np.full(25, up), until)
    for i in range(25):
        line = lines.line(i)
        assert line is not None
        alone = crossing(line, float(limits[i]), "up" if up else "down")
        expected = alone.shots_at(chance)
        assert at[i] == (math.inf if expected is None else pytest.approx(expected, rel=1e-12, abs=1e-6))
        assert by[i] == pytest.approx(alone.probability_by(float(until[i])), rel=1e-12, abs=1e-300)


def test_groups_without_a_line_are_left_empty() -> None:
    lines = fit_lines([5, 1, 2, 7, 7, 7, 1, 2, 4], [1, 1, 2, 1, 2, 3, 1, 2, 4], [0, 1, 3, 3, 6, 9])
    assert lines.fitted.tolist() == [False, True, False, False, True]
    assert [lines.line(i) is None for i in range(5)] == [True, False, True, True, False]
    assert np.isnan(lines.slope[[0, 2, 3]]).all()
    assert lines.slope[1] == pytest.approx(1)
    assert np.isnan(lines.residual_sd[1])
    two = lines.line(1)
    assert two is not None
    assert two == fit_line([1, 2], [1, 2])


def test_chances_of_groups_without_spread_are_not_known() -> None:
    lines = fit_lines([1, 2, 1, 2, 4, 1, 2, 4], [1, 2, 1, 2.1, 4, 1, 2.1, 4], [0, 2, 5, 8])
    at = shots_at(lines, [10, 10, math.nan], [True, True, True], 0.5)
    by = probability_by(lines, [10, 10, math.nan], [True, True, True], [1, 1, 1])
    assert np.isnan(at).tolist() == np.isnan(by).tolist() == [True, False, True]


def test_exact_line_has_certain_chances() -> None:
    lines = fit_lines([0, 1, 2, 0, 1, 2], [1, 1, 1, 1, 1, 1], [0, 3, 6])
    assert probability_by(lines, [2, 1], [True, True], [5, 5]).tolist() == [0.0, 1.0]
    assert shots_at(lines, [2, 1], [True, True], 0.5).tolist() == [math.inf, 0.0]


def test_nothing_gives_nothing() -> None:
    lines = fit_lines([], [], [0])
    assert len(lines.n) == 0
    assert shots_at(lines, [], [], 0.5).size == 0


@pytest.mark.parametrize(
    ("shots", "values", "offsets", "code"),
    [
        ([1, 2], [1], [0, 2], "trend.lengths_differ"),
        ([1, 2], [1, 2], [0, 1], "trend.lengths_differ"),
        ([1, 2], [1, 2], [0, 2, 1, 2], "trend.lengths_differ"),
        ([1, 2], [1, 2], [], "trend.lengths_differ"),
        ([1, math.nan], [1, 2], [0, 2], "trend.not_a_number"),
        ([1, 2], [1, math.inf], [0, 2], "trend.not_a_number"),
    ],
)
def test_readings_that_fit_no_groups_are_refused(
    shots: list[float], values: list[float], offsets: list[int], code: str
) -> None:
    with pytest.raises(Refused) as refused:
        fit_lines(shots, values, offsets)
    assert refused.value.code == code


@pytest.mark.parametrize("bad", [-1.0, math.nan, math.inf])
def test_shots_that_cannot_be_run_are_refused(bad: float) -> None:
    lines = fit_lines([0, 1, 2], [1, 2, 2.9], [0, 3])
    with pytest.raises(Refused) as refused:
        probability_by(lines, [5], [True], [bad])
    assert refused.value.code == "crossing.shots"


def test_chance_outside_zero_to_one_is_refused() -> None:
    lines = fit_lines([0, 1, 2], [1, 2, 2.9], [0, 3])
    with pytest.raises(Refused):
        shots_at(lines, [5], [True], 1.0)
