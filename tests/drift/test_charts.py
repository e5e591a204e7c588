"""Control charts, run rules and the residuals they watch."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from shop.drift.charts import cusum, ewma, individuals
from shop.drift.residuals import one_step_ahead, standardised
from shop.drift.run_rules import (
    EIGHT_ON_ONE_SIDE,
    EIGHT_OUTSIDE_ONE,
    FIFTEEN_WITHIN_ONE,
    FOUR_OF_FIVE_BEYOND_ONE,
    FOURTEEN_ALTERNATING,
    NELSON,
    NINE_ON_ONE_SIDE,
    ONE_BEYOND_THREE,
    SIX_RISING_OR_FALLING,
    TWO_OF_THREE_BEYOND_TWO,
    WESTERN_ELECTRIC,
    RunRule,
    run_rules,
)
from shop.drift.trend import fit_line
from shop.refusal import Refused

values = st.lists(st.floats(-50, 50).map(lambda value: round(value, 3)), min_size=1, max_size=40)


@given(values, st.floats(0.01, 1), st.floats(0.5, 4))
def test_ewma_is_the_weighted_sum_it_is_defined_as(x: list[float], weight: float, width: float) -> None:
    chart = ewma(x, 1.0, 2.0, weight, width)
    n = len(x)
    last = sum(weight * (1 - weight) ** (n - 1 - i) * value for i, value in enumerate(x)) + (1 - weight) ** n
    assert chart.statistic[-1] == pytest.approx(last, rel=1e-9, abs=1e-9)
    spread = 2.0 * math.sqrt(sum((weight * (1 - weight) ** i) ** 2 for i in range(n)))
    assert chart.upper[-1] - 1.0 == pytest.approx(width * spread, rel=1e-9)
    assert 1.0 - chart.lower[-1] == pytest.approx(width * spread, rel=1e-9)


@given(values, st.floats(0.5, 4))
def test_ewma_of_weight_one_is_a_chart_of_single_values(x: list[float], width: float) -> None:
    chart = ewma(x, 0.0, 3.0, 1.0, width)
    assert list(chart.statistic) == x
    assert chart.alarms == tuple(i for i, value in enumerate(x) if abs(value) > width * 3.0)


@given(values, st.floats(0, 2), st.floats(0.5, 6))
def test_cusum_is_the_largest_sum_of_any_stretch_up_to_now(x: list[float], k: float, h: float) -> None:
    chart = cusum(x, 5.0, 2.0, k, h)
    for now in range(len(x)):
        stretches = [math.fsum(value - 5.0 - 2.0 * k for value in x[since : now + 1]) for since in range(now + 1)]
        assert chart.high[now] == pytest.approx(max(0.0, *stretches), abs=1e-9)
    assert chart.limit == pytest.approx(2.0 * h)
    assert chart.alarms == tuple(np.flatnonzero(np.maximum(chart.high, chart.low) > 2.0 * h))


@given(values)
def test_cusum_of_mirrored_values_swaps_its_sides(x: list[float]) -> None:
    chart, mirrored = cusum(x, 0.0, 1.0, 0.5, 4.0), cusum([-value for value in x], 0.0, 1.0, 0.5, 4.0)
    assert list(chart.high) == list(mirrored.low)
    assert chart.alarms == mirrored.alarms


def test_cusum_with_a_head_start_finds_a_wrong_start_sooner() -> None:
    wrong_from_the_start = [1.5] * 10
    plain = cusum(wrong_from_the_start, 0.0, 1.0, 0.5, 4.0)
    ahead = cusum(wrong_from_the_start, 0.0, 1.0, 0.5, 4.0, head_start=2.0)
    assert (plain.alarms[0], ahead.alarms[0]) == (4, 2)


def test_individuals_sets_limits_at_266_moving_ranges() -> None:
    chart = individuals([10.0, 12.0, 11.0, 13.0, 11.0])
    moving_range = (2 + 1 + 2 + 2) / 4
    assert chart.centre == pytest.approx(11.4)
    assert chart.upper - chart.centre == pytest.approx(2.66 * moving_range, rel=2e-4)
    assert chart.centre - chart.lower == pytest.approx(2.66 * moving_range, rel=2e-4)


def test_individuals_finds_the_value_that_does_not_belong() -> None:
    assert individuals([5.0, 5.1, 4.9, 5.0, 5.1, 4.9, 5.0, 5.1, 9.0, 5.0, 4.9, 5.1, 5.0]).alarms == (8,)


@pytest.mark.parametrize(
    ("rule", "pattern", "at"),
    [
        (ONE_BEYOND_THREE, [0.5, -3.1], 1),
        (TWO_OF_THREE_BEYOND_TWO, [2.1, 0.0, 2.2], 2),
        (FOUR_OF_FIVE_BEYOND_ONE, [-1.1, -1.2, 0.4, -1.3, -1.4], 4),
        (EIGHT_ON_ONE_SIDE, [0.1] * 8, 7),
        (NINE_ON_ONE_SIDE, [-0.1] * 9, 8),
        (SIX_RISING_OR_FALLING, [-0.3, -0.2, -0.1, 0.2, 0.3, 0.4], 5),
        (FOURTEEN_ALTERNATING, [0.5, -0.5] * 7, 13),
        (FIFTEEN_WITHIN_ONE, [0.9, -0.9, 0.2] * 5, 14),
        (EIGHT_OUTSIDE_ONE, [1.5, -1.5] * 4, 7),
    ],
    ids=lambda value: value.code if isinstance(value, RunRule) else "",
)
def test_run_rule_is_broken_where_its_pattern_is_complete_and_not_before(
    rule: RunRule, pattern: list[float], at: int
) -> None:
    scaled = [20.0 + 4.0 * value for value in pattern]
    (broken,) = run_rules(scaled, 20.0, 4.0, [rule])
    assert (broken.rule, broken.alarms) == (rule, (at,))
    assert not run_rules(scaled[:-1], 20.0, 4.0, [rule])


def test_run_rule_of_one_side_does_not_add_both_sides() -> None:
    assert not run_rules([2.5, -2.5, 0.0], 0.0, 1.0, [TWO_OF_THREE_BEYOND_TWO])


@given(values)
def test_run_rules_of_mirrored_values_are_the_same(x: list[float]) -> None:
    for rules in (WESTERN_ELECTRIC, NELSON):
        assert run_rules(x, 0.0, 10.0, rules) == run_rules([-value for value in x], 0.0, 10.0, rules)


def test_one_step_ahead_scores_are_independent_standard_normals() -> None:
    rng = np.random.default_rng(20261125)
    scores = []
    for _ in range(2000):
        shots = np.sort(rng.uniform(0, 4e5, 9))
        scores.append(one_step_ahead(shots, 0.8 + 1e-6 * shots + rng.normal(0, 0.05, 9))[3:])
    table = np.array(scores)
    assert stats.kstest(table.ravel(), "norm").pvalue > 0.01
    between = np.corrcoef(table.T) - np.eye(6)
    assert np.abs(between).max() < 0.1


def test_leave_one_out_scores_do_not_alarm_more_often_with_few_readings() -> None:
    rng = np.random.default_rng(7)
    beyond = []
    for _ in range(3000):
        shots = np.sort(rng.uniform(0, 4e5, 4))
        seen = 0.8 + 1e-6 * shots + rng.normal(0, 0.05, 4)
        beyond.append(np.abs(standardised(fit_line(shots, seen), shots, seen)) > 2.0)
    assert np.mean(beyond) == pytest.approx(0.0455, abs=0.008)


@given(st.integers(0, 2**32 - 1), st.integers(4, 12))
def test_leave_one_out_score_is_that_of_the_line_through_the_others(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    shots, seen = np.sort(rng.uniform(0, 100, n)), rng.normal(5, 1, n)
    scores = standardised(fit_line(shots, seen), shots, seen)
    left_out = int(rng.integers(n))
    others = np.arange(n) != left_out
    line = fit_line(shots[others], seen[others])
    mean, error = line.predict(shots[left_out])
    assert error is not None
    assert line.residual_sd is not None
    assume(line.residual_sd > 1e-3)
    t = (seen[left_out] - mean) / math.hypot(error, line.residual_sd)
    expected = stats.norm.ppf(stats.t.cdf(-abs(t), line.df))
    assert -abs(scores[left_out]) == pytest.approx(expected, rel=1e-5)


@given(st.integers(0, 2**32 - 1), st.integers(4, 12))
def test_last_score_one_step_ahead_is_the_last_left_out(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    shots, seen = np.sort(rng.uniform(0, 100, n)), rng.normal(5, 1, n)
    ahead = one_step_ahead(shots, seen)[-1]
    assert ahead == pytest.approx(standardised(fit_line(shots, seen), shots, seen)[-1], rel=1e-4, abs=1e-6)


def test_scores_say_nothing_until_the_readings_before_can_predict() -> None:
    scores = one_step_ahead([0, 100, 200, 300, 400], [1.0, 1.1, 1.25, 1.3, 9.0])
    assert list(scores[:3]) == [0.0, 0.0, 0.0]
    assert scores[4] > 2


def test_pooled_scatter_lets_the_third_reading_be_judged() -> None:
    assert one_step_ahead([0, 100, 200], [1.0, 1.1, 2.2], pooled_sd=0.05, pooled_df=60)[2] > 3
    assert abs(one_step_ahead([0, 100, 200], [1.0, 1.1, 1.22], pooled_sd=0.05, pooled_df=60)[2]) < 1


def test_readings_repeated_at_the_first_shots_tell_the_scatter() -> None:
    pooled = one_step_ahead([0, 0, 100, 100, 200], [1.0, 1.2, 2.0, 2.1, 3.1])
    assert list(pooled[:3]) == [0.0, 0.0, 0.0]
    assert pooled[3] != 0


def test_trend_without_scatter_raises_no_alarm_by_rounding() -> None:
    shots = [1000.0 * i for i in range(12)]
    assert np.abs(one_step_ahead(shots, [0.1 + 3e-7 * s for s in shots])).max() < 1


def test_reading_that_carries_the_line_alone_scores_nothing() -> None:
    shots, seen = [0.0, 0.0, 0.0, 100.0], [1.0, 1.1, 0.9, 7.0]
    assert standardised(fit_line(shots, seen), shots, seen)[3] == 0


def test_scores_of_a_line_through_the_origin_leave_one_out_too() -> None:
    shots, seen = [10.0, 20.0, 30.0, 40.0], [1.0, 2.1, 2.9, 4.2]
    scores = standardised(fit_line(shots, seen, through_origin=True), shots, seen)
    line = fit_line(shots[:3], seen[:3], through_origin=True)
    mean, error = line.predict(40.0)
    assert error is not None
    assert line.residual_sd is not None
    t = (seen[3] - mean) / math.hypot(error, line.residual_sd)
    assert scores[3] == pytest.approx(stats.norm.ppf(stats.t.cdf(t, line.df)))


@settings(max_examples=30)
@given(st.floats(0.001, 1000), st.integers(0, 2**32 - 1))
def test_scores_do_not_depend_on_the_unit(unit: float, seed: int) -> None:
    rng = np.random.default_rng(seed)
    shots, seen = np.sort(rng.uniform(0, 100, 8)), rng.normal(5, 1, 8)
    assert one_step_ahead(shots, seen * unit) == pytest.approx(one_step_ahead(shots, seen), rel=1e-6, abs=1e-6)


@pytest.mark.parametrize(
    ("code", "call"),
    [
        ("chart.not_a_number", lambda: ewma([1.0, math.nan], 0.0, 1.0, 0.2, 3.0)),
        ("chart.not_a_number", lambda: cusum([[1.0]], 0.0, 1.0, 0.5, 4.0)),  # type: ignore[list-item]
        ("chart.target", lambda: ewma([1.0], math.inf, 1.0, 0.2, 3.0)),
        ("chart.sigma", lambda: cusum([1.0], 0.0, 0.0, 0.5, 4.0)),
        ("chart.weight", lambda: ewma([1.0], 0.0, 1.0, 0.0, 3.0)),
        ("chart.weight", lambda: ewma([1.0], 0.0, 1.0, 1.1, 3.0)),
        ("chart.width", lambda: ewma([1.0], 0.0, 1.0, 0.2, -3.0)),
        ("chart.width", lambda: cusum([1.0], 0.0, 1.0, 0.5, 0.0)),
        ("chart.allowance", lambda: cusum([1.0], 0.0, 1.0, -0.5, 4.0)),
        ("chart.head_start", lambda: cusum([1.0], 0.0, 1.0, 0.5, 4.0, head_start=4.0)),
        ("chart.too_few", lambda: individuals([1.0])),
        ("chart.no_rule", lambda: run_rules([1.0], 0.0, 1.0, [])),
        ("residuals.lengths_differ", lambda: one_step_ahead([1.0], [1.0, 2.0])),
        ("residuals.pooled", lambda: one_step_ahead([1.0], [1.0], pooled_sd=-1.0)),
        ("residuals.other_readings", lambda: standardised(fit_line([0, 1, 2], [0, 1, 3]), [0, 1], [0, 1])),
        ("residuals.too_few", lambda: standardised(fit_line([0, 1, 2], [0, 1, 3]), [0, 1, 2], [0, 1, 3])),
    ],
)
def test_impossible_chart_is_refused_in_a_sentence(code: str, call: object) -> None:
    with pytest.raises(Refused) as refused:
        call()  # type: ignore[operator]
    assert refused.value.code == code
    assert "{" not in refused.value.plain()
