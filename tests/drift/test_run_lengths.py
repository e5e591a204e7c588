"""How many values a chart sees before it alarms: computed, and counted in simulated runs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from shop.drift.charts import ewma_spread
from shop.drift.run_lengths import (
    Chart,
    cusum_run_length,
    design_for,
    ewma_run_length,
    run_rules_run_length,
)
from shop.drift.run_rules import (
    EIGHT_OUTSIDE_ONE,
    FIFTEEN_WITHIN_ONE,
    NELSON,
    ONE_BEYOND_THREE,
    TWO_OF_THREE_BEYOND_TWO,
    WESTERN_ELECTRIC,
    run_rules,
)
from shop.refusal import Refused


def single_values(width: float, shift: float) -> float:
    return float(1.0 / (stats.norm.sf(width - shift) + stats.norm.cdf(-width - shift)))


@settings(max_examples=25, deadline=None)
@given(st.floats(1.0, 4.0), st.floats(-3, 3))
def test_ewma_of_weight_one_runs_as_long_as_single_values(width: float, shift: float) -> None:
    assert ewma_run_length(1.0, width, shift) == pytest.approx(single_values(width, shift), rel=1e-7)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 0.9), st.floats(1.0, 3.5), st.floats(0, 3))
def test_run_lengths_are_the_same_for_either_side(weight: float, width: float, shift: float) -> None:
    assert ewma_run_length(weight, width, shift) == pytest.approx(ewma_run_length(weight, width, -shift), rel=1e-6)
    assert cusum_run_length(0.5, width, shift) == pytest.approx(cusum_run_length(0.5, width, -shift), rel=1e-6)


@settings(max_examples=25, deadline=None)
@given(st.floats(0.05, 0.9), st.floats(1.0, 3.5))
def test_exact_limits_alarm_no_later_than_steady_ones(weight: float, width: float) -> None:
    assert 1.0 <= ewma_run_length(weight, width) <= ewma_run_length(weight, width, steady=True) * (1 + 1e-9)


def test_ewma_run_length_is_met_in_simulated_runs() -> None:
    weight, width, runs = 0.2, 2.0, 20_000
    rng = np.random.default_rng(11)
    average, length, going = np.zeros(runs), np.zeros(runs), np.ones(runs, dtype=bool)
    for value in range(1, 1200):
        average = weight * rng.standard_normal(runs) + (1 - weight) * average
        length[going] = value
        going &= np.abs(average) <= width * float(ewma_spread(weight, value))
        if not going.any():
            break
    assert not going.any()
    computed = ewma_run_length(weight, width)
    assert length.mean() == pytest.approx(computed, abs=4 * length.std() / math.sqrt(runs))


def test_cusum_run_length_with_a_head_start_is_met_in_simulated_runs() -> None:
    runs = 20_000
    rng = np.random.default_rng(12)
    high, low = np.full(runs, 1.5), np.full(runs, 1.5)
    length, going = np.zeros(runs), np.ones(runs, dtype=bool)
    for value in range(1, 2000):
        x = rng.standard_normal(runs) + 0.25
        high, low = np.maximum(0, high + x - 0.5), np.maximum(0, low - x - 0.5)
        length[going] = value
        going &= np.maximum(high, low) <= 3.0
        if not going.any():
            break
    assert not going.any()
    computed = cusum_run_length(0.5, 3.0, 0.25, 1.5)
    assert length.mean() == pytest.approx(computed, abs=4 * length.std() / math.sqrt(runs))


@pytest.mark.parametrize("rules", [(FIFTEEN_WITHIN_ONE,), (EIGHT_OUTSIDE_ONE, ONE_BEYOND_THREE)])
def test_run_length_of_rules_is_met_in_simulated_runs(rules: tuple) -> None:
    rng = np.random.default_rng(13)
    lengths = []
    while len(lengths) < 300:
        broken = run_rules(rng.standard_normal(6000).tolist(), 0.0, 1.0, rules)
        assert broken, "a run of 6000 ends"
        lengths.append(min(each.alarms[0] for each in broken) + 1)
    computed = run_rules_run_length(rules)
    assert np.mean(lengths) == pytest.approx(computed, abs=4 * np.std(lengths) / math.sqrt(len(lengths)))


def test_row_of_fifteen_within_has_its_closed_form() -> None:
    p = stats.norm.cdf(1) - stats.norm.cdf(-1)
    assert run_rules_run_length([FIFTEEN_WITHIN_ONE]) == pytest.approx((1 - p**15) / ((1 - p) * p**15), rel=1e-9)


def test_each_rule_more_alarms_sooner() -> None:
    lengths = [run_rules_run_length(WESTERN_ELECTRIC[:count]) for count in (1, 2, 3, 4)]
    assert lengths == sorted(lengths, reverse=True)
    assert lengths[3] == pytest.approx(91.75, abs=0.01)


@pytest.mark.parametrize("chart", list(Chart))
@pytest.mark.parametrize("wanted", [10, 100, 370, 5000])
def test_design_has_the_run_length_it_was_asked_for(chart: Chart, wanted: float) -> None:
    design = design_for(wanted, chart)
    if chart is Chart.CUSUM:
        found = cusum_run_length(design.k, design.h)
    else:
        found = ewma_run_length(design.weight, design.width)
    assert found == pytest.approx(wanted, rel=1e-6)
    assert 1 < design.found_after < wanted


def test_default_design_finds_a_shift_sooner_than_single_values() -> None:
    default = design_for()
    assert (default.chart, default.in_control_run_length, default.weight) == (Chart.EWMA, 370.0, 0.2)
    assert default.width == pytest.approx(2.864, abs=5e-4)
    assert default.found_after < design_for(370, Chart.INDIVIDUALS).found_after / 4


@pytest.mark.parametrize("chart", list(Chart))
def test_design_alarms_on_a_face_that_leaves_its_pattern_and_not_before(chart: Chart) -> None:
    quiet = [0.3, -0.8, 0.5, -0.2, 0.9, -0.6]
    alarms = design_for(370, chart).alarms([*quiet, 3.5, 3.8, 4.0])
    assert alarms
    assert min(alarms) >= len(quiet)


def test_lost_run_length_is_endless() -> None:
    assert cusum_run_length(0.5, 40.0) == math.inf
    assert ewma_run_length(0.2, 8.0) == math.inf


@pytest.mark.parametrize(
    ("code", "call"),
    [
        ("chart.run_length", lambda: design_for(5)),
        ("chart.run_length", lambda: design_for(math.nan)),
        ("chart.unknown", lambda: design_for(370, "tea leaves")),
        ("chart.weight_too_small", lambda: ewma_run_length(1e-5, 3.0)),
        ("chart.width", lambda: ewma_run_length(0.2, 0.0)),
        ("chart.allowance", lambda: cusum_run_length(-1.0, 4.0)),
        ("chart.no_chain", lambda: run_rules_run_length(NELSON)),
        ("chart.no_rule", lambda: run_rules_run_length([])),
    ],
)
def test_impossible_run_length_is_refused_in_a_sentence(code: str, call: object) -> None:
    with pytest.raises(Refused) as refused:
        call()  # type: ignore[operator]
    assert refused.value.code == code
    assert "{" not in refused.value.plain()


def test_rule_named_twice_counts_once() -> None:
    near = TWO_OF_THREE_BEYOND_TWO
    assert run_rules_run_length([near, near]) == pytest.approx(run_rules_run_length([near]), rel=1e-12)
