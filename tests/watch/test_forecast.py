"""What a trend says of the shots to come, from its own line and from its group, and what it leaves out."""

from __future__ import annotations

import numpy as np
import pytest

from shop.drift import courses
from shop.drift.trend import fit_line
from shop.watch.fitting import fit
from shop.watch.forecast import outlook, reached_at
from shop.watch.models import Pool, Trend
from shop.watch.path import packed

SHOTS = [0.0, 10_000.0, 20_000.0, 30_000.0, 40_000.0, 50_000.0]


def fitted(
    values: list[float], *, lower: float | None, upper: float | None, shots: list[float] | None = None,
    pool: Pool | None = None, severity: float = 1.0,
) -> Trend:  # fmt: skip
    """A trend through these readings, seen from its last shot."""
    shots = shots or SHOTS[: len(values)]
    trend = Trend(
        parameter="gloss",
        lower=lower,
        upper=upper,
        life_shots=shots[-1],
        life_wear=shots[-1],
        severity=severity,
        last_value=values[-1],
    )
    trend.points = packed((x, y, 0.0, 1.0, n, n) for n, (x, y) in enumerate(zip(shots, values, strict=True)))
    fit(trend, {pool.side: pool} if pool else {})
    return trend


def group(seed: int = 1, side: str = "upper") -> Pool:
    """Thirty faces that begin at half their limit and wear up to it in about a hundred thousand shots."""
    rng = np.random.default_rng(seed)
    faces = []
    for _ in range(30):
        rate = rng.lognormal(np.log(0.5 / 100_000), 0.3)
        shots = np.linspace(0, 80_000, 9)
        faces.append((shots, 0.5 + rate * shots + rng.normal(0, 0.01, 9)))
    learned = courses.learn(faces, 1.0, "up")
    return Pool(side=side, faces=30, readings=270, scale=learned[0].scale, courses=[one.kept() for one in learned])


def test_limit_that_the_face_wears_away_from_is_not_reached_in_the_past() -> None:
    trend = fitted([2.05, 2.26, 2.44, 2.66, 2.85, 3.04], lower=2.0, upper=4.0)
    assert trend.towards == "upper"
    assert trend.chance_now is not None
    assert trend.chance_now < 0.001
    assert trend.left_10 is not None
    assert trend.left_10 > 40_000


def test_line_seen_from_now_meets_its_limit_where_the_line_of_the_life_does() -> None:
    values = [0.10, 0.13, 0.145, 0.16, 0.19, 0.21]
    line = fit_line(SHOTS, values)
    trend = fitted(values, lower=None, upper=0.4)
    assert trend.left_50 == pytest.approx((0.4 - line.intercept) / line.slope - 50_000, abs=1)


def test_shots_of_a_filled_resin_are_fewer_than_shots_of_an_unfilled_one() -> None:
    values = [0.10, 0.13, 0.145, 0.16, 0.19, 0.21]
    mild, harsh = (fitted(values, lower=None, upper=0.4, severity=one) for one in (1.0, 2.0))
    assert mild.left_50 is not None
    assert harsh.left_50 == pytest.approx(mild.left_50 / 2, abs=1)


def test_two_readings_and_a_group_make_a_forecast_and_the_own_line_stays_unknown() -> None:
    trend = fitted([2.0, 2.2], lower=None, upper=4.0, pool=group())
    assert trend.pool is not None
    assert trend.own_left_50 is None
    assert trend.left_10 is not None
    assert trend.left_50 is not None
    # The group needs about 100,000 shots from half the limit to it.
    assert 50_000 < trend.left_50 < 150_000
    assert trend.left_10 < trend.left_50


def test_many_readings_outweigh_the_group() -> None:
    shots = list(np.linspace(0.0, 50_000.0, 20))
    slow = [2.0 + 4e-6 * x + 0.002 * (-1) ** n for n, x in enumerate(shots)]
    trend = fitted(slow, lower=None, upper=4.0, shots=shots, pool=group())
    assert trend.left_50 == pytest.approx((4.0 - 2.0) / 4e-6 - 50_000, rel=0.2)
    assert trend.own_left_50 == pytest.approx((4.0 - 2.0) / 4e-6 - 50_000, rel=0.05)


def test_limit_that_the_group_does_not_know_is_watched_by_the_own_line() -> None:
    trend = fitted([3.0, 2.9, 2.82, 2.70, 2.61, 2.5], lower=2.0, upper=4.0, pool=group())
    assert trend.towards == "lower"
    assert trend.pool is None
    assert trend.left_50 == trend.own_left_50


def test_three_readings_that_scatter_are_no_sign_that_a_face_goes_against_its_group() -> None:
    values, shots = [2.9, 3.2, 2.8], [0.0, 1_000.0, 20_000.0]
    alone = fitted(values, lower=2.0, upper=4.0, shots=shots)
    assert alone.towards == "lower"
    pooled = fitted(values, lower=2.0, upper=4.0, shots=shots, pool=group())
    assert pooled.towards == "upper"
    assert pooled.chance_now is not None
    assert pooled.chance_now < 0.01


def test_level_to_come_lies_between_its_edges_and_rises_with_the_wear() -> None:
    ahead = outlook(fitted([2.0, 2.2, 2.38], lower=None, upper=4.0, pool=group()), {"upper": group()})
    assert ahead is not None
    assert ahead.pooled
    now, later = ahead.level_at(0), ahead.level_at(50_000)
    assert now[0] < now[1] < now[2]
    assert later[1] > now[1]
    assert later[2] - later[0] > now[2] - now[0]


def test_line_through_grades_leaves_its_limit_halfway_to_the_next_grade() -> None:
    by_eye = Trend(parameter="look gloss", lower=-1.0, upper=1.0)
    by_gauge = Trend(parameter="gloss", lower=2.0, upper=4.0)
    assert reached_at(by_eye) == (-1.5, 1.5)
    assert reached_at(by_gauge) == (2.0, 4.0)
