"""Shots become dates: against calendars worked out by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from shop.drift.calendar import COURSES, Coming, DatedChance, Gap, Pace, Planned, pace
from shop.refusal import Refused

STEADY = Pace(1_000.0, 0.0)
# Three runs of ten days with ten days between them, 20,000 shots each.
RUNS = tuple(Planned(20.0 * n, 20.0 * n + 10.0, 20_000.0) for n in range(3))


def steps(limit: float) -> object:
    """A face that reaches its limit at exactly so many shots."""
    return lambda shots: 1.0 if shots >= limit else 0.0


def test_planned_runs_make_their_shots_and_gaps_make_none() -> None:
    coming = Coming(RUNS, STEADY)
    by = [float(coming.shots_by(day)[0]) for day in (0, 5, 10, 20, 25, 50, 52)]
    assert by == [0, 10_000, 20_000, 20_000, 30_000, 60_000, 62_000]


def test_run_that_has_begun_goes_on_with_what_is_left_of_it() -> None:
    coming = Coming((Planned(-5.0, 5.0, 8_000.0),), STEADY)
    assert float(coming.shots_by(2.5)[0]) == 4_000


def test_rate_without_a_plan_is_spread_as_a_log_normal_of_the_same_mean() -> None:
    courses = Coming((), Pace(1_000.0, 0.4)).shots_by(10.0)
    assert len(courses) == COURSES
    assert courses.mean() == pytest.approx(10_000)
    assert np.all(np.diff(courses) > 0)
    # The middle course is the median, exp(-s2/2) below the mean, but for what nine of them leave of the tails.
    assert courses[COURSES // 2] / courses.mean() == pytest.approx(math.exp(-0.4**2 / 2), rel=0.02)


def test_limit_after_35_000_shots_is_reached_in_the_second_run() -> None:
    # 20,000 in the first run, 15,000 more at 2,000 a day from day 20 on.
    dated = DatedChance(steps(35_000), Coming(RUNS, STEADY))
    assert dated.by(27.0) < 0.5 < dated.by(28.0)
    assert dated.day_of(0.5) == pytest.approx(27.5, abs=0.5)


def test_face_whose_cavity_was_blocked_half_the_time_lasts_twice_as_long() -> None:
    dated = DatedChance(steps(15_000), Coming((), STEADY), share=0.5)
    assert dated.day_of(0.5) == pytest.approx(30.0, rel=0.2)


def test_chance_is_mixed_over_the_rates_that_may_come() -> None:
    # A face that is reached at exactly 10,000 shots: by day 10 that is the chance of a rate of 1,000 a day or more.
    spread = 0.5
    dated = DatedChance(steps(10_000), Coming((), Pace(1_000.0, spread)))
    above_the_mean = 1.0 - norm.cdf(spread / 2)
    assert dated.by(10.0) == pytest.approx(above_the_mean, abs=1.0 / COURSES)


def test_date_that_is_not_within_ten_years_is_not_named() -> None:
    assert DatedChance(lambda _shots: 0.0, Coming((), STEADY)).day_of(0.1) is None
    assert DatedChance(steps(5_000), Coming((), Pace(0.0, 0.5))).day_of(0.1) is None
    assert DatedChance(lambda _shots: 0.3, Coming((), STEADY)).day_of(0.1) == 0.0


def test_shots_beyond_the_limit_are_each_days_shots_by_their_chance() -> None:
    # Reached on day 14 of 28 at 1,000 a day: 14,000 are beyond it.
    assert DatedChance(steps(14_000), Coming((), STEADY)).shots_beyond(28) == pytest.approx(14_000, rel=0.1)
    assert DatedChance(lambda _shots: 0.25, Coming((), STEADY)).shots_beyond(28) == pytest.approx(7_000)
    assert DatedChance(steps(14_000), Coming((), Pace(0.0, 0.5))).shots_beyond(28) == 0


def test_gaps_lie_before_and_between_planned_runs_and_short_ones_are_left_out() -> None:
    later = tuple(Planned(run.first + 3.0, run.last + 3.0, run.shots) for run in RUNS)
    assert Coming(later, STEADY).gaps(2.0, 30.0) == [Gap(0.0, 3.0), Gap(13.0, 23.0)]
    assert Coming(later, STEADY).gaps(5.0, 30.0) == [Gap(13.0, 23.0)]
    assert Coming((), STEADY).gaps(2.0, 30.0) == []


def test_pace_of_even_weeks_is_certain_and_of_few_weeks_is_not() -> None:
    assert pace([7_000.0] * 12) == Pace(1_000.0, 0.0)
    assert pace([7_000.0, 7_000.0]).spread == 0.5
    assert pace([]) == Pace(0.0, 0.5)
    uneven = pace([0.0, 14_000.0] * 6)
    assert uneven.per_day == 1_000
    # The weeks differ by 104 % of their mean; four of them and four to come by that times root of a half.
    assert uneven.spread == pytest.approx(math.sqrt(math.log1p(1.0445**2 / 2)), rel=1e-3)


def test_chance_that_is_none_is_refused() -> None:
    with pytest.raises(Refused):
        DatedChance(steps(1), Coming((), STEADY)).day_of(1.0)
