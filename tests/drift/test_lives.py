"""How long finishes last: curves, laws and comparisons, from lives that ended, still run, or ended between looks."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats
from scipy.optimize import brentq

from shop.drift.lives import (
    kaplan_meier,
    lives,
    lives_between,
    log_rank,
    ratio_of_lives,
    turnbull,
    weibull,
    weibull_interval,
)
from shop.refusal import Refused

life = st.integers(1, 30).map(float)
some_lives = st.lists(st.tuples(life, st.booleans()), min_size=1, max_size=30)


def apart(pairs: list[tuple[float, bool]]) -> tuple[list[float], list[bool]]:
    return [time for time, _ in pairs], [ended for _, ended in pairs]


def made(seed: int, n: int, shape: float = 2.0, scale: float = 3e5, cut: float = 4e5) -> tuple[list[float], list[bool]]:
    rng = np.random.default_rng(seed)
    full = scale * rng.weibull(shape, n)
    watched = rng.uniform(0.2 * cut, cut, n)
    return np.minimum(full, watched).tolist(), (full <= watched).tolist()


# Without a law


@given(st.lists(life, min_size=1, max_size=30))
def test_survival_of_ended_lives_is_the_share_that_is_longer(times: list[float]) -> None:
    curve = kaplan_meier(times, [True] * len(times))
    for time, share, error in zip(curve.times, curve.survival, curve.standard_error, strict=True):
        longer = sum(each > time for each in times) / len(times)
        assert share == pytest.approx(longer)
        assert error == pytest.approx(math.sqrt(longer * (1 - longer) / len(times)), abs=1e-12)


@given(some_lives)
def test_survival_agrees_with_another_implementation(pairs: list[tuple[float, bool]]) -> None:
    times, ended = apart(pairs)
    assume(any(ended))
    uncensored = [t for t, e in pairs if e]
    right = [t for t, e in pairs if not e]
    reference = stats.ecdf(stats.CensoredData(uncensored=uncensored, right=right)).sf
    curve = kaplan_meier(times, ended)
    for time, share in zip(curve.times, curve.survival, strict=True):
        assert share == pytest.approx(float(reference.evaluate(time)), abs=1e-12)


@given(some_lives, st.floats(0.5, 0.99))
def test_band_holds_the_survival_and_stays_between_none_and_all(pairs: list[tuple[float, bool]], level: float) -> None:
    curve = kaplan_meier(*apart(pairs))
    lower, upper = curve.band(level)
    assert (lower >= 0).all()
    assert (upper <= 1).all()
    assert (lower <= curve.survival).all()
    assert (curve.survival <= upper).all()


def test_nothing_is_known_beyond_the_longest_running_life() -> None:
    curve = kaplan_meier([10, 20, 30], [True, True, False])
    assert curve.survival_at(5) == 1.0
    assert curve.survival_at(25) == pytest.approx(1 / 3)
    assert curve.survival_at(31) is None
    assert kaplan_meier([10, 20], [False, True]).survival_at(99) == 0.0


def test_median_has_a_least_value_only_while_most_lives_run() -> None:
    assert kaplan_meier([10, 20, 30, 40], [True, False, False, False]).median() == (None, 10.0, None)


def test_curve_of_running_lives_only_is_empty_and_all_outlast() -> None:
    curve = kaplan_meier([10, 20], [False, False])
    assert curve.times.size == 0
    assert curve.survival_at(15) == 1.0


@settings(deadline=None, max_examples=50)
@given(some_lives)
def test_turnbull_of_seen_ends_is_the_curve_of_kaplan_and_meier(pairs: list[tuple[float, bool]]) -> None:
    times, ended = apart(pairs)
    found = turnbull(times, [t if e else math.inf for t, e in pairs])
    curve = kaplan_meier(times, ended)
    assert found.settled
    for time, share in zip(curve.times, curve.survival, strict=True):
        assert found.survival_at(time) == pytest.approx((share, share), abs=1e-4)


def test_turnbull_lays_the_ends_where_the_looks_overlap() -> None:
    found = turnbull([0, 1, 2], [2, 3, 4])
    assert list(zip(found.left, found.right, strict=True)) == [(1, 2), (2, 3)]
    # By hand: the first must end in the first span, the third in the second, the middle one in either.
    assert found.mass == pytest.approx([0.5, 0.5], abs=1e-5)
    assert found.survival_at(1.5) == pytest.approx((0.5, 1.0), abs=1e-5)


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.integers(0, 12), st.integers(1, 6)), min_size=1, max_size=12))
def test_turnbull_can_not_be_bettered_by_moving_mass(spans: list[tuple[int, int]]) -> None:
    low, high = [a for a, _ in spans], [a + b for a, b in spans]
    found = turnbull(low, high)
    holds = np.array(
        [[left >= a and right <= b for left, right in zip(found.left, found.right, strict=True)]
         for a, b in zip(low, high, strict=True)]
    )  # fmt: skip
    assert math.fsum(found.mass) == pytest.approx(1.0, abs=1e-6)
    pull = (holds / (holds @ found.mass)[:, None]).sum(axis=0) / len(spans)
    assert pull.max() <= 1.0 + 1e-6


# Weibull's law


@settings(deadline=None, max_examples=30)
@given(st.integers(0, 2**32 - 1), st.integers(5, 60))
def test_law_is_where_the_likelihood_equation_says(seed: int, n: int) -> None:
    times, ended = made(seed, n)
    assume(sum(ended) >= 3)
    t, d = np.array(times) / max(times), np.array(ended)

    def equation(shape: float) -> float:
        powers = t**shape
        return float((powers @ np.log(t)) / powers.sum() - 1 / shape - np.log(t[d]).mean())

    shape = brentq(equation, 1e-3, 400, xtol=1e-13)
    law = weibull(times, ended)
    # The search stops where the likelihood is flat to its last digits, which leaves the shape half as many.
    assert law.shape == pytest.approx(shape, rel=1e-6)
    assert law.scale == pytest.approx(max(times) * ((t**shape).sum() / d.sum()) ** (1 / shape), rel=1e-6)


def test_law_of_ended_lives_agrees_with_another_implementation() -> None:
    times = made(3, 40, cut=1e9)[0]
    shape, _, scale = stats.weibull_min.fit(times, floc=0)
    law = weibull(times, [True] * 40)
    assert (law.shape, law.scale) == (pytest.approx(shape, rel=1e-3), pytest.approx(scale, rel=1e-3))
    assert law.log_likelihood >= stats.weibull_min.logpdf(times, shape, 0, scale).sum() - 1e-9


def test_covariance_is_the_inverse_of_the_curvature() -> None:
    law = weibull(*made(5, 50))
    t, d = (np.array(column) for column in made(5, 50))

    def log_likelihood(scale: float, shape: float) -> float:
        hazard = np.log(shape / scale) + (shape - 1) * np.log(t / scale)
        return float((d * hazard).sum() - ((t / scale) ** shape).sum())

    steps = np.array([law.scale, law.shape]) * 1e-4
    at = np.array([law.scale, law.shape])
    bend = np.zeros((2, 2))
    for i in range(2):
        for j in range(2):
            a, b = np.eye(2)[i] * steps, np.eye(2)[j] * steps
            corners = [log_likelihood(*(at + s * a + r * b)) * s * r for s in (1, -1) for r in (1, -1)]
            bend[i, j] = sum(corners) / (4 * steps[i] * steps[j])
    assert law.covariance == pytest.approx(np.linalg.inv(-bend), rel=1e-3)
    assert law.se_scale == pytest.approx(math.sqrt(law.covariance[0, 0]))


@settings(deadline=None, max_examples=25)
@given(st.integers(0, 2**32 - 1), st.floats(1e-3, 1e6))
def test_law_does_not_depend_on_the_unit(seed: int, unit: float) -> None:
    times, ended = made(seed, 25)
    assume(sum(ended) >= 3)
    law, other = weibull(times, ended), weibull([time * unit for time in times], ended)
    assert other.shape == pytest.approx(law.shape, rel=1e-7)
    assert other.scale == pytest.approx(law.scale * unit, rel=1e-7)
    assert other.quantile(0.1).lower == pytest.approx(law.quantile(0.1).lower * unit, rel=1e-5)


def test_bounds_lie_where_the_likelihood_has_fallen_by_half_a_chi_square() -> None:
    times, ended = made(8, 20)
    law = weibull(times, ended)
    for bound in (law.shape_interval().lower, law.shape_interval().upper):
        fallen = 2 * (law.log_likelihood - weibull(times, ended, shape=bound).log_likelihood)
        assert fallen == pytest.approx(stats.chi2.ppf(0.95, 1), rel=1e-6)


@settings(deadline=None, max_examples=8)
@given(st.integers(0, 2**32 - 1), st.sampled_from([0.5, 0.8, 0.95]))
def test_bounds_hold_their_estimate_and_widen_with_confidence(seed: int, level: float) -> None:
    times, ended = made(seed, 15)
    assume(sum(ended) >= 3)
    law = weibull(times, ended)
    for interval, wider in (
        (law.quantile(0.1, level), law.quantile(0.1, 0.99)),
        (law.mean(level), law.mean(0.99)),
        (law.shape_interval(level), law.shape_interval(0.99)),
        (law.scale_interval(level), law.scale_interval(0.99)),
    ):
        assert wider.lower < interval.lower < interval.estimate < interval.upper
        assert interval.upper < wider.upper or wider.upper == math.inf
    assert law.quantile(0.5).estimate == pytest.approx(law.scale * math.log(2) ** (1 / law.shape))
    assert law.mean().estimate == pytest.approx(law.scale * math.gamma(1 + 1 / law.shape))


def test_mean_life_interval_holds_the_truth_as_often_as_it_says() -> None:
    truth, held = 3e5 * math.gamma(1.5), 0
    for seed in range(200):
        interval = weibull(*made(seed, 20)).mean(0.8)
        held += interval.lower <= truth <= interval.upper
    assert held / 200 == pytest.approx(0.8, abs=0.085)


def test_exponential_mean_is_all_the_shots_over_the_ended_lives() -> None:
    law = weibull([100, 200, 300, 400], [True, False, True, False], shape=1)
    assert law.scale == pytest.approx(500)
    assert law.se_scale == pytest.approx(500 / math.sqrt(2))
    assert law.shape_interval() == law.shape_interval().__class__(1.0, 1.0, 1.0)
    assert law.mean() == law.scale_interval()


def test_narrow_spans_give_the_law_of_seen_ends() -> None:
    times, ended = made(21, 60)
    seen = weibull(times, ended)
    low = [t * (1 - 1e-5) if e else t for t, e in zip(times, ended, strict=True)]
    high = [t * (1 + 1e-5) if e else math.inf for t, e in zip(times, ended, strict=True)]
    found = weibull_interval(low, high)
    assert (found.shape, found.scale) == (pytest.approx(seen.shape, rel=1e-4), pytest.approx(seen.scale, rel=1e-4))


def test_lives_looked_at_now_and_then_tell_the_law_they_were_made_by() -> None:
    rng = np.random.default_rng(4)
    full = 3e5 * rng.weibull(2.0, 4000)
    looks = np.arange(0, 5e5, 7e4)
    before = looks[np.searchsorted(looks, full, side="left") - 1]
    after = np.append(looks, math.inf)[np.searchsorted(looks, full, side="left")]
    law = weibull_interval(before, after)
    assert law.shape == pytest.approx(2.0, abs=4 * law.se_shape)
    assert law.scale == pytest.approx(3e5, abs=4 * law.se_scale)
    found = turnbull(before, after)
    assert found.survival_at(looks[3])[0] == pytest.approx(law.survival_at(looks[3]), abs=0.03)


def test_band_of_the_law_holds_the_curve_everywhere() -> None:
    law = weibull(*made(6, 12))
    for time in (0.0, 1.0, 1e5, 3e5, 1e6, 1e9):
        lower, upper = law.band(time)
        assert 0 <= lower <= law.survival_at(time) <= upper <= 1


# Two groups


def test_ratio_of_lives_is_found_and_held_between_its_bounds() -> None:
    first, second = lives(*made(31, 80)), lives(*made(32, 80, scale=6e5, cut=8e5))
    found = ratio_of_lives(first, second)
    assert found.lower < 2.0 < found.upper
    assert found.p_value < 0.001
    assert found.same_shape_p is not None
    assert found.same_shape_p > 0.01


@settings(deadline=None, max_examples=10)
@given(st.integers(0, 1000))
def test_ratio_the_other_way_round_is_its_reciprocal(seed: int) -> None:
    first, second = lives(*made(seed, 15)), lives(*made(seed + 5000, 15, scale=4e5))
    there, back = ratio_of_lives(first, second), ratio_of_lives(second, first)
    assert there.ratio * back.ratio == pytest.approx(1, rel=1e-5)
    assert there.lower * back.upper == pytest.approx(1, rel=1e-4)
    assert there.shape == pytest.approx(back.shape, rel=1e-5)


def test_ratio_takes_lives_that_ended_between_looks() -> None:
    times, ended = made(41, 40)
    spans = lives_between([0.9 * t if e else t for t, e in zip(times, ended, strict=True)],
                          [1.1 * t if e else math.inf for t, e in zip(times, ended, strict=True)])  # fmt: skip
    longer = lives_between(spans.lower.repeat(spans.count.astype(int)) * 3,
                           spans.upper.repeat(spans.count.astype(int)) * 3)  # fmt: skip
    assert ratio_of_lives(spans, longer).ratio == pytest.approx(3, rel=1e-5)


def test_same_lives_in_both_groups_do_not_differ() -> None:
    times, ended = made(51, 20)
    assert log_rank(times, ended, times, ended).chi_square == pytest.approx(0, abs=1e-12)
    same = ratio_of_lives(lives(times, ended), lives(times, ended))
    assert (same.ratio, same.p_value) == (pytest.approx(1, abs=1e-5), pytest.approx(1, abs=1e-3))


@given(some_lives, some_lives)
def test_log_rank_agrees_with_another_implementation(
    first: list[tuple[float, bool]], second: list[tuple[float, bool]]
) -> None:
    one, two = apart(first), apart(second)
    try:
        found = log_rank(*one, *two)
    except Refused as refused:
        assert refused.code == "lives.never_together"  # noqa: PT017
        return
    held = [
        stats.CensoredData(uncensored=[t for t, e in pairs if e], right=[t for t, e in pairs if not e])
        for pairs in (first, second)
    ]
    reference = stats.logrank(*held)
    assert found.chi_square == pytest.approx(reference.statistic**2, rel=1e-9, abs=1e-12)
    assert found.p_value == pytest.approx(reference.pvalue, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize(
    ("code", "call"),
    [
        ("lives.lengths_differ", lambda: kaplan_meier([1.0, 2.0], [True])),
        ("lives.none", lambda: weibull([], [])),
        ("lives.mark", lambda: kaplan_meier([1.0], [2])),
        ("lives.time", lambda: kaplan_meier([0.0], [True])),
        ("lives.time", lambda: weibull([math.nan, 1.0], [True, True])),
        ("lives.time", lambda: weibull([math.inf, 1.0], [True, True])),
        ("lives.time", lambda: turnbull([-1.0], [2.0])),
        ("lives.time", lambda: turnbull([math.inf], [math.inf])),
        ("lives.time", lambda: turnbull([0.0], [0.0])),
        ("lives.bounds_crossed", lambda: weibull_interval([5.0], [4.0])),
        ("lives.too_few_ended", lambda: weibull([5.0, 6.0], [True, False])),
        ("lives.too_few_ended", lambda: weibull([5.0, 6.0], [False, False], shape=1)),
        ("lives.no_spread", lambda: weibull([5.0, 5.0, 4.0], [True, True, False])),
        ("lives.no_spread", lambda: weibull_interval([4.0, 4.0, 4.0], [5.0, 5.0, 5.0])),
        ("lives.no_spread", lambda: weibull_interval([1.0, 3.0], [3.0, 5.0])),
        ("lives.no_spread", lambda: weibull_interval([0.0, 0.0, 5.0], [2.0, 2.0, math.inf])),
        ("lives.shape", lambda: weibull([5.0, 6.0], [True, True], shape=0)),
        ("lives.level", lambda: kaplan_meier([5.0, 6.0], [True, True]).band(1.0)),
        ("lives.level", lambda: weibull([5.0, 6.0], [True, True]).mean(0.0)),
        ("lives.share", lambda: weibull([5.0, 6.0], [True, True]).quantile(1.0)),
        ("lives.share", lambda: kaplan_meier([5.0, 6.0], [True, True]).quantile(0.0)),
        ("lives.never_together", lambda: log_rank([5.0], [True], [2.0], [False])),
        ("lives.group_none_ended", lambda: ratio_of_lives(lives([1, 2], [True, True]), lives([3], [False]))),
    ],
)
def test_impossible_lives_are_refused_in_a_sentence(code: str, call: object) -> None:
    with pytest.raises(Refused) as refused:
        call()  # type: ignore[operator]
    assert refused.value.code == code
    assert "{" not in refused.value.plain()
