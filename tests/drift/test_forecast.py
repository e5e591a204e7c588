"""When the faces of a group reach their limit, the new ones by what their sisters have shown."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from shop.drift.crossing import crossing
from shop.drift.forecast import first_guess, forecast_group, mixed
from shop.drift.pooling import sums_of
from shop.drift.rates import Group, Hyper, _score, fit_group, posterior
from shop.drift.trend import fit_line
from shop.refusal import Refused

LIMIT = 10.0
Faces = list[tuple[list[float], list[float]]]


def plant(seed: int, counts: list[int], *, spread: float = 0.5, scatter: float = 0.4) -> tuple[Faces, np.ndarray]:
    """Faces whose rates spread by factors, with so many readings each, and where each truly crosses."""
    rng = np.random.default_rng(seed)
    faces, truth = [], []
    for count in counts:
        start, rate = rng.normal(2.0, 0.3), 5e-5 * math.exp(rng.normal(0, spread))
        shots = np.sort(rng.uniform(0, 80_000, count))
        faces.append((shots.tolist(), (start + rate * shots + rng.normal(0, scatter, count)).tolist()))
        truth.append((LIMIT - start) / rate)
    return faces, np.array(truth)


def oracle(scale: float) -> Group:
    return Group(Hyper(2.0, 0.3, math.log(5e-5 * scale), 0.5, 0.4), np.zeros((5, 5)))


def test_nodes_agree_with_an_integral_over_the_rate() -> None:
    # Source of the answer: scipy.integrate over the joint density, with the start summed by the normal's closed form.
    faces, _ = plant(1, [1, 2, 3, 8, 25])
    sums, group = sums_of(faces), oracle(1.0).hyper
    group = Hyper(2.0, 0.3, math.log(5e-5 * sums.scale), 0.5, 0.4)
    known = posterior(sums, group)
    for face, (shots, values) in enumerate(faces):
        x, y = np.asarray(shots) / sums.scale, np.asarray(values)
        about = 0.3**2 * np.ones((len(x), len(x))) + 0.4**2 * np.eye(len(x))

        def density(u: float, x: np.ndarray = x, y: np.ndarray = y, about: np.ndarray = about) -> float:
            mean = 2.0 + math.exp(u) * x
            likely = stats.multivariate_normal.pdf(y, mean, about)
            return float(likely * stats.norm.pdf(u, group.log_rate_mean, 0.5))

        peak = float(known.log_rate[face] @ known.weight[face])
        whole = integrate.quad(density, peak - 6, peak + 4, points=[peak], epsabs=0, epsrel=1e-9, limit=400)[0]
        first = integrate.quad(
            lambda u, density=density: u * density(u), peak - 6, peak + 4, points=[peak], epsabs=0, epsrel=1e-9,
            limit=400,
        )[0]  # fmt: skip
        at_pi = -0.5 * len(x) * math.log(2 * math.pi)
        assert known.log_likelihood[face] + at_pi == pytest.approx(math.log(whole), abs=1e-5)
        assert peak == pytest.approx(first / whole, abs=1e-5)


def test_group_that_is_known_gives_chances_that_are_right_as_often_as_they_say() -> None:
    inside = []
    for seed in range(40):
        faces, truth = plant(seed, [1, 2, 3, 5, 10, 20] * 5)
        sums = sums_of(faces)
        known = mixed([(sums, oracle(sums.scale), 1.0)], LIMIT, "up")
        inside += [0.1 < one.probability_by(at) < 0.9 for one, at in zip(known, truth, strict=True)]
    # 1200 faces: a standard error of 1.2 %.
    assert np.mean(inside) == pytest.approx(0.80, abs=0.036)


def test_group_that_must_be_learned_costs_little() -> None:
    inside, error, best = [], [], []
    for seed in range(20):
        faces, truth = plant(100 + seed, [1, 2, 3, 5, 10, 20] * 5)
        sums = sums_of(faces)
        best_known = mixed([(sums, oracle(sums.scale), 1.0)], LIMIT, "up")
        for one, other, at in zip(forecast_group(faces, LIMIT, "up"), best_known, truth, strict=True):
            inside.append(0.1 < one.probability_by(at) < 0.9)
            error.append(abs((one.shots_at(0.5) or 0.0) - at))
            best.append(abs((other.shots_at(0.5) or 0.0) - at))
    assert np.mean(inside) == pytest.approx(0.80, abs=0.06)
    assert np.median(error) < 1.15 * np.median(best)


def test_two_readings_borrow_from_the_sisters_and_twenty_speak_for_themselves() -> None:
    faces, _ = plant(11, [20] * 20)
    slow = (np.linspace(0, 80_000, 20).tolist(), np.linspace(2.0, 3.0, 20).tolist())
    short = ([0.0, 40_000.0], [2.0, 2.5])
    *_, of_short, of_slow = forecast_group([*faces, short, slow], LIMIT, "up")
    own = crossing(fit_line(*slow), LIMIT, "up").shots_at(0.5)
    assert of_slow.shots_at(0.5) == pytest.approx(own, rel=0.12)
    # Two readings half a unit apart say 640 000 shots; sisters that make it in 160 000 say otherwise.
    assert 150_000 < (of_short.shots_at(0.5) or 0) < 400_000
    assert (of_short.shots_at(0.1) or 0) < 0.6 * (of_short.shots_at(0.9) or 0)


def test_face_without_a_reading_is_forecast_as_its_group() -> None:
    faces, _ = plant(12, [8] * 30)
    *_, new = forecast_group([*faces, ([], [])], LIMIT, "up")
    low, middle, high = (new.shots_at(chance) for chance in (0.1, 0.5, 0.9))
    assert middle == pytest.approx(160_000, rel=0.3)
    assert (high or 0) / (low or 1) == pytest.approx(math.exp(2 * 1.2816 * 0.5), rel=0.5)


def test_fall_to_a_lower_limit_is_the_rise_turned_over() -> None:
    faces, _ = plant(13, [1, 3, 6, 9, 12])
    turned = [(shots, [-value for value in values]) for shots, values in faces]
    up = forecast_group(faces, LIMIT, "up")
    down = forecast_group(turned, -LIMIT, "down")
    assert [one.shots_at(0.5) for one in down] == pytest.approx([one.shots_at(0.5) for one in up])


def test_group_that_does_not_wear_is_not_called_soon() -> None:
    rng = np.random.default_rng(3)
    shots = np.linspace(0, 80_000, 9).tolist()
    faces = [(shots, rng.normal(2.0, 0.2, 9).tolist()) for _ in range(12)]
    assert all((one.shots_at(0.1) or math.inf) > 250_000 for one in forecast_group(faces, LIMIT, "up"))


def test_face_that_is_over_already_has_no_shots_left() -> None:
    faces, _ = plant(14, [10] * 8)
    over = (faces[0][0], [value + 12 for value in faces[0][1]])
    assert forecast_group([*faces, over], LIMIT, "up")[-1].shots_at(0.5) == 0.0


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    counts=st.lists(st.integers(0, 12), min_size=3, max_size=12).filter(lambda counts: sum(counts) > 8),
)
def test_chance_never_falls_and_the_count_of_shots_gives_it_back(seed: int, counts: list[int]) -> None:
    faces, _ = plant(seed, counts)
    for one in forecast_group(faces, LIMIT, "up"):
        chances = [one.probability_by(shots) for shots in (0, 1e3, 1e4, 5e4, 1e5, 3e5, 1e6, 1e8)]
        assert chances == sorted(chances)
        for chance in (0.1, 0.5, 0.9):
            shots = one.shots_at(chance)
            if shots:
                assert one.probability_by(shots) == pytest.approx(chance, abs=1e-6)


def test_what_cannot_be_forecast_is_refused() -> None:
    faces, _ = plant(15, [5, 5, 5])
    for bad, limit, way, code in (
        (faces, math.nan, "up", "crossing.limit"),
        (faces, LIMIT, "sideways", "crossing.direction"),
        ([([1000.0], [2.0])] * 5, LIMIT, "up", "pool.no_spread"),
        ([([1000.0, 1000.0], [2.0, 2.1])] * 5, LIMIT, "up", "pool.no_spread"),
        ([([], [])], LIMIT, "up", "pool.no_reading"),
    ):
        with pytest.raises(Refused) as refused:
            forecast_group(bad, limit, way)
        assert refused.value.code == code
    one = forecast_group(faces, LIMIT, "up")[0]
    with pytest.raises(Refused) as chance:
        one.shots_at(1.0)
    with pytest.raises(Refused) as shots:
        one.probability_by(-1)
    assert (chance.value.code, shots.value.code) == ("crossing.probability", "crossing.shots")


def test_score_is_the_slope_of_the_likelihood() -> None:
    # Fisher's identity against differences, at a point that is not the peak.
    faces, _ = plant(16, [0, 1, 2, 3, 6, 20])
    sums = sums_of(faces)
    first = first_guess(sums, LIMIT)
    at = first.vector() + np.array([0.2, -0.3, 0.25, 0.2, 0.1])
    _, slope = _score(sums, at, first)
    for axis in range(5):
        step = np.zeros(5)
        step[axis] = 1e-5
        numeric = (_score(sums, at + step, first)[0] - _score(sums, at - step, first)[0]) / 2e-5
        assert slope[axis] == pytest.approx(numeric, rel=2e-3, abs=2e-3)


def test_spread_of_a_group_is_found_again() -> None:
    faces, _ = plant(17, [8] * 400)
    sums = sums_of(faces)
    found = fit_group(sums, first=first_guess(sums, LIMIT))
    group = found.hyper
    assert group.log_rate_sd == pytest.approx(0.5, rel=0.15)
    assert math.exp(group.log_rate_mean) / sums.scale == pytest.approx(5e-5, rel=0.1)
    assert group.residual_sd == pytest.approx(0.4, rel=0.05)
    # So many faces stand for themselves; of fewer, ten draws have the mean and the covariance of what is not known.
    assert found.draws() == [group]
    draws = np.array([draw.vector() for draw in replace(found, faces=40).draws()])
    assert draws.mean(0) == pytest.approx(group.vector())
    assert np.cov(draws.T, bias=True) == pytest.approx(found.covariance, rel=1e-6, abs=1e-12)
