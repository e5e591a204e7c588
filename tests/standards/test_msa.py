"""Gauge studies: what leaves them as they are, what they say at the edge, what they refuse."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from shop.refusal import Refused
from shop.standards.msa import fitness, gauge_study
from shop.standards.msa_anova import analyse
from shop.standards.range_factors import d2, d2_star

METHODS = ["range", "anova"]
SHAPES = st.tuples(st.integers(2, 6), st.integers(2, 4), st.integers(2, 3))
HUNDREDTHS = SHAPES.flatmap(lambda shape: arrays(np.int64, shape, elements=st.integers(-500, 500))).filter(
    lambda table: all(np.ptp(table.mean(axis=axes)) > 0 for axes in ((0, 2), (1, 2)))
)
GOOD = [[[1.0, 1.1], [1.2, 1.1]], [[2.0, 2.1], [2.0, 2.2]], [[3.0, 3.1], [3.1, 3.1]]]


@pytest.mark.parametrize("method", METHODS)
@given(table=HUNDREDTHS, data=st.data())
def test_order_of_people_and_parts_changes_nothing(method: str, table: Any, data: st.DataObject) -> None:
    people = data.draw(st.permutations(range(table.shape[1])))
    parts = data.draw(st.permutations(range(table.shape[0])))
    own, other = gauge_study(table / 100, method), gauge_study(table[parts][:, people] / 100, method)
    for name in ("ev", "av", "grr", "pv", "tv"):
        assert getattr(other, name) == pytest.approx(getattr(own, name), rel=2e-3, abs=1e-7)


@pytest.mark.parametrize("method", METHODS)
@given(table=HUNDREDTHS, by=st.integers(-1000, 1000))
def test_offset_of_the_gauge_changes_nothing(method: str, table: Any, by: int) -> None:
    own, other = (gauge_study((table + shift) / 100, method, figures=None) for shift in (0, by))
    for name in ("ev", "av", "grr", "pv", "tv"):
        assert getattr(other, name) == pytest.approx(getattr(own, name), abs=1e-6)


@pytest.mark.parametrize("method", METHODS)
@given(table=HUNDREDTHS)
def test_parts_of_the_study_add_up(method: str, table: Any) -> None:
    own = gauge_study(table / 100, method, tolerance=10.0)
    assert own.grr == pytest.approx(math.hypot(own.ev, own.av))
    assert own.tv == pytest.approx(math.hypot(own.grr, own.pv))
    assert own.percent_grr**2 + own.percent_pv**2 == pytest.approx(1e4)
    assert own.tolerance_percent_grr == pytest.approx(60 * own.grr)


@given(table=HUNDREDTHS)
def test_sums_of_squares_add_up_and_intervals_hold_their_estimate(table: Any) -> None:
    found = analyse(table / 100)
    assert found.table[-1].sum_of_squares == pytest.approx(float(((table / 100 - table.mean() / 100) ** 2).sum()))
    assert found.table[-1].df == table.size - 1
    for component in found.components:
        if component.lower is not None and component.upper is not None:
            assert component.lower <= max(0.0, component.estimate) + 1e-9
            assert component.upper >= component.estimate - 1e-9


@pytest.mark.parametrize("seed", range(3))
def test_analysis_finds_the_variances_that_were_put_in(seed: int) -> None:
    chance = np.random.default_rng(seed)
    table = (
        chance.normal(0, 3, (400, 1, 1)) + chance.normal(0, 2, (1, 60, 1)) + chance.normal(0, 1, (400, 60, 1))
        + chance.normal(0, 0.5, (400, 60, 2))
    )  # fmt: skip
    found = analyse(table)
    assert not found.pooled
    for name, true in (("part", 9.0), ("person", 4.0), ("interaction", 1.0), ("repeatability", 0.25)):
        assert found.component(name).variance == pytest.approx(true, rel=0.45 if name in ("part", "person") else 0.03)


def test_interval_holds_the_truth_about_as_often_as_it_says() -> None:
    chance = np.random.default_rng(7)
    held = {"repeatability": 0, "person": 0, "part": 0, "grr": 0, "total": 0}
    truth = {"repeatability": 1.0, "person": 1.0, "part": 9.0, "grr": 2.5, "total": 11.5}
    for _ in range(400):
        table = (
            chance.normal(0, 3, (8, 1, 1)) + chance.normal(0, 1, (1, 4, 1)) + chance.normal(0, 0.5**0.5, (8, 4, 1))
            + chance.normal(0, 1, (8, 4, 2))
        )  # fmt: skip
        found = analyse(table, alpha=0.999999, confidence=0.9)
        for name in held:
            component = found.component(name)
            assert component.lower is not None
            assert component.upper is not None
            held[name] += component.lower <= truth[name] <= component.upper
    assert all(0.86 <= count / 400 <= 0.96 for count in held.values()), held


def test_interval_of_people_touches_zero_just_where_their_test_does() -> None:
    chance = np.random.default_rng(1)
    table = chance.normal(0, 1, (6, 3, 2)) + np.array([0, 0.3, 0.6])[None, :, None]
    found = analyse(table, alpha=1e-9)
    assert found.pooled_table is not None
    p = next(row.p for row in found.pooled_table if row.source == "person")
    assert p is not None
    for confidence, empty in ((1 - 2 * p - 1e-6, False), (1 - 2 * p + 1e-6, True)):
        assert (analyse(table, 1e-9, confidence).component("person").lower == 0) == empty


@pytest.mark.parametrize("method", METHODS)
def test_people_who_agree_better_than_repeats_add_nothing_and_this_is_said(method: str) -> None:
    found = gauge_study([[[0.0, 1.0], [1.0, 0.0]], [[5.0, 4.0], [4.0, 5.0]], [[9.0, 8.0], [8.0, 9.0]]], method)
    assert found.av == 0
    assert found.av_floored
    assert "gauge_study.av_floored" in [note.code for note in found.notes]


@pytest.mark.parametrize("method", METHODS)
def test_one_person_gives_repeatability_only(method: str) -> None:
    found = gauge_study([[[1.0, 1.1]], [[2.0, 2.1]], [[3.0, 3.0]]], method)
    assert found.av == 0
    assert found.grr == found.ev > 0
    assert [note.code for note in found.notes] == ["gauge_study.one_person"]


@pytest.mark.parametrize("method", METHODS)
def test_gauge_that_never_scatters_has_no_count_of_categories(method: str) -> None:
    found = gauge_study([[[1.0, 1.0], [1.0, 1.0]], [[2.0, 2.0], [2.0, 2.0]]], method)
    assert (found.grr, found.ndc, found.fitness.verdict) == (0, None, "fit")
    assert "gauge_study.no_scatter" in [note.code for note in found.notes]


def test_people_who_differ_from_part_to_part_are_seen_by_the_analysis_only() -> None:
    crossed = [[[0.0, 0.0], [1.0, 1.0]], [[1.0, 1.0], [0.0, 0.0]]]
    with pytest.raises(Refused) as refused:
        gauge_study(crossed, "range")
    assert refused.value.code == "gauge_study.range_sees_nothing"
    found = gauge_study(crossed, "anova")
    assert found.anova is not None
    assert not found.anova.pooled
    assert found.percent_grr == pytest.approx(100)


def test_chart_names_the_cell_whose_repeats_lie_too_far_apart() -> None:
    values = [[[float(part), part + 0.1], [float(part), part + 0.1]] for part in range(10)]
    values[4][1] = [4.0, 5.5]
    found = gauge_study(values, "anova").chart
    assert found.ranges_beyond == ((4, 1),)
    assert found.share_outside > 0.5
    assert found.part_averages[0] == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("percent", "ndc", "verdict"),
    [(9.99, 14, "fit"), (10.0, 14, "conditional"), (30.0, 4, "conditional"), (30.01, 4, "not fit"),
     (5.0, 4, "conditional"), (5.0, None, "fit")],
)  # fmt: skip
def test_verdict_goes_by_percent_and_categories(percent: float, ndc: int | None, verdict: str) -> None:
    assert fitness(percent, ndc).verdict == verdict


def test_tolerance_is_judged_without_categories() -> None:
    assert fitness(5.0, of="tolerance").enough_categories is None


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(
    ("values", "code"),
    [
        ([], "study.too_few"),
        ([[[1.0, 2.0]]], "study.too_few"),
        ([[[1.0], [2.0]], [[3.0], [4.0]]], "study.too_few"),
        ([[[1.0, 2.0], [2.0, 3.0]], [[3.0, 4.0]]], "study.ragged"),
        ([[[1.0, 2.0], [2.0, 3.0]], [[3.0, 4.0], [4.0]]], "study.trial_missing"),
        ([[[1.0, 2.0], [2.0, None]], [[3.0, 4.0], [4.0, 5.0]]], "study.trial_missing"),
        ([[[1.0, 2.0], [2.0, math.nan]], [[3.0, 4.0], [4.0, 5.0]]], "study.not_a_number"),
        ([[[1.0, 2.0], [2.0, "2,x"]], [[3.0, 4.0], [4.0, 5.0]]], "study.not_a_number"),
        ([[[1.0, 1.0], [1.0, 1.0]], [[1.0, 1.0], [1.0, 1.0]]], "study.all_equal"),
    ],
)
def test_table_that_is_not_a_study_is_refused(method: str, values: Any, code: str) -> None:
    with pytest.raises(Refused) as refused:
        gauge_study(values, method)
    assert refused.value.code == code
    assert refused.value.next_step
    assert refused.value.plain()


def test_refusal_names_the_cell() -> None:
    with pytest.raises(Refused) as refused:
        gauge_study([*GOOD[:2], [[3.0, 3.1], [math.inf, 3.0]]], "anova")
    assert [refused.value.values[name] for name in ("part", "person", "trial")] == [3, 2, 1]


@pytest.mark.parametrize("how", [{"method": "median"}, {"tolerance": 0.0}, {"alpha": 1.0}, {"confidence": math.nan}])
def test_impossible_question_is_refused(how: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        gauge_study(GOOD, **{"method": "anova", **how})


def test_range_of_too_many_parts_is_refused() -> None:
    values = [[[float(part), part + 0.5]] for part in range(21)]
    assert gauge_study(values, "anova").parts == 21
    with pytest.raises(Refused):
        gauge_study(values, "range")


# Closed forms: the mean range of two is 2/sqrt(pi), of three 3/sqrt(pi); d2* of one pair is sqrt(2).
def test_factors_have_their_closed_forms() -> None:
    assert d2(2) == pytest.approx(2 / math.sqrt(math.pi), rel=1e-12)
    assert d2(3) == pytest.approx(3 / math.sqrt(math.pi), rel=1e-12)
    assert d2_star(2, 1) == pytest.approx(math.sqrt(2), rel=1e-12)
    assert d2_star(2, 16) == d2(2)
    for impossible in ((1, 1), (21, 1), (2, 0)):
        with pytest.raises(Refused):
            d2_star(*impossible)
