"""What a line says of the shots to come, and what it leaves out."""

from __future__ import annotations

import pytest

from shop.drift.trend import fit_line
from shop.watch.forecast import forecast, reached_at
from shop.watch.models import Trend

SHOTS = [0.0, 10_000.0, 20_000.0, 30_000.0, 40_000.0, 50_000.0]


def test_limit_that_the_face_wears_away_from_is_not_reached_in_the_past() -> None:
    line = fit_line(SHOTS, [2.05, 2.26, 2.44, 2.66, 2.85, 3.04])
    seen = forecast(line, 2.0, 4.0, 50_000)
    assert seen.towards == "upper"
    assert seen.chance_now is not None
    assert seen.chance_now < 0.001
    assert seen.left[0] is not None
    assert seen.left[0] > 40_000


def test_line_seen_from_now_meets_its_limit_where_the_line_of_the_life_does() -> None:
    line = fit_line(SHOTS, [0.10, 0.13, 0.145, 0.16, 0.19, 0.21])
    seen = forecast(line, None, 0.4, 50_000)
    assert seen.left[1] == pytest.approx((0.4 - line.intercept) / line.slope - 50_000, abs=1)


def test_line_through_grades_leaves_its_limit_halfway_to_the_next_grade() -> None:
    by_eye = Trend(parameter="look gloss", lower=-1.0, upper=1.0)
    by_gauge = Trend(parameter="gloss", lower=2.0, upper=4.0)
    assert reached_at(by_eye) == (-1.5, 1.5)
    assert reached_at(by_gauge) == (2.0, 4.0)
