"""What the faces of a group share, by restricted maximum likelihood."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shop.drift.pooling import fit_pool, sums_of
from shop.refusal import Refused


def group(seed: int, faces: int, readings: int, *, slope_sd: float = 2e-5) -> list[tuple[list[float], list[float]]]:
    rng = np.random.default_rng(seed)
    made = []
    for _ in range(faces):
        shots = np.linspace(0, 60_000, readings)
        line = rng.normal(2.0, 0.3) + rng.normal(5e-5, slope_sd) * shots
        made.append((shots.tolist(), (line + rng.normal(0, 0.1, readings)).tolist()))
    return made


def test_group_is_found_again_from_many_faces() -> None:
    pool = fit_pool(group(4, faces=300, readings=8))
    assert pool.intercept_mean == pytest.approx(2.0, abs=4 * pool.se_intercept_mean)
    assert pool.slope_mean == pytest.approx(5e-5, abs=4 * pool.se_slope_mean)
    assert pool.intercept_sd == pytest.approx(0.3, rel=0.15)
    assert pool.slope_sd == pytest.approx(2e-5, rel=0.15)
    assert pool.residual_sd == pytest.approx(0.1, rel=0.08)
    assert (pool.faces, pool.readings) == (300, 2400)


def test_balanced_group_agrees_with_the_means_of_its_own_lines() -> None:
    # With the same shots on every face the mean line is the mean of the faces' own least squares lines.
    made = group(7, faces=12, readings=6)
    own = np.array([np.polyfit(shots, values, 1) for shots, values in made])
    pool = fit_pool(made)
    assert pool.slope_mean == pytest.approx(own[:, 0].mean(), rel=1e-6)
    assert pool.intercept_mean == pytest.approx(own[:, 1].mean(), rel=1e-6)
    # And the slopes of those lines spread by what the faces and the readings spread.
    shots = np.asarray(made[0][0])
    of_readings = pool.residual_sd**2 / ((shots - shots.mean()) ** 2).sum()
    assert math.hypot(pool.slope_sd, math.sqrt(of_readings)) == pytest.approx(own[:, 0].std(ddof=1), rel=1e-3)


def test_other_units_of_shots_and_values_change_nothing_else() -> None:
    made = group(3, faces=10, readings=5)
    plain = fit_pool(made)
    other = fit_pool([([x / 1000 for x in shots], [25.4 * y for y in values]) for shots, values in made])
    assert other.slope_mean == pytest.approx(25_400 * plain.slope_mean, rel=1e-5)
    assert other.slope_sd == pytest.approx(25_400 * plain.slope_sd, rel=1e-3)
    assert other.residual_sd == pytest.approx(25.4 * plain.residual_sd, rel=1e-5)


def test_faces_of_one_reading_join_a_pool_that_others_carry() -> None:
    made = [*group(9, faces=6, readings=6), ([20_000.0], [3.0]), ([], [])]
    pool = fit_pool(made)
    assert (pool.faces, pool.readings) == (8, 37)
    assert pool.slope_mean == pytest.approx(5e-5, abs=5 * pool.se_slope_mean)


@pytest.mark.parametrize(
    ("faces", "code"),
    [
        ([], "pool.no_reading"),
        ([([], []), ([], [])], "pool.no_reading"),
        ([([1, 2, 3], [1, 2])], "pool.lengths"),
        ([([1, 2, math.nan], [1, 2, 3])], "pool.not_finite"),
        ([([1, 2], [1, math.inf])], "pool.not_finite"),
        ([([1, 2, 3], [1, 2, 3.5])], "pool.too_thin"),
        ([([1, 2], [1, 2]), ([1, 2], [1, 3])], "pool.too_thin"),
    ],
)
def test_group_that_cannot_be_pooled_is_refused(faces: list[tuple[list[float], list[float]]], code: str) -> None:
    with pytest.raises(Refused) as refused:
        fit_pool(faces)
    assert refused.value.code == code


def test_sums_of_a_fall_are_those_of_the_rise_turned_over() -> None:
    made = group(2, faces=3, readings=4)
    turned = [(shots, [-value for value in values]) for shots, values in made]
    down, up = sums_of(made, -1.0), sums_of(turned)
    assert np.array_equal(down.xy, up.xy)
    assert np.array_equal(down.yy, up.yy)
