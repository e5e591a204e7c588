"""The criterion of when to pull, against the equations that the literature gives for its optimum."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq

from shop.craft.pulling import FARTHEST, Law, cheapest, sum_up_to, use_of


@pytest.mark.parametrize("shape", [1.5, 2.0, 3.0, 5.0])
@pytest.mark.parametrize("dearer", [3.0, 10.0, 50.0])
def test_cheapest_cycle_is_the_optimal_age_of_barlow_and_proschan(shape: float, dearer: float) -> None:
    """Age replacement: h(T) times the integral of R to T, less F(T), equals cp / (cf - cp)."""
    law, planned = Law(1.0, shape), 1.0
    scale = 1.0 / np.log(2.0) ** (1.0 / shape)

    def survival(age: float) -> float:
        return float(np.exp(-((age / scale) ** shape)))

    def out_of_balance(age: float) -> float:
        hazard = shape / scale * (age / scale) ** (shape - 1.0)
        return hazard * quad(survival, 0.0, age)[0] - (1.0 - survival(age)) - planned / (dearer - planned)

    optimal = brentq(out_of_balance, 1e-3, 50.0)

    ages = np.linspace(0.0, optimal * 3.0, 20_001)
    failed = law.chance_by(ages)
    lengths = sum_up_to(ages, 1.0 - failed)
    costs = planned * (1.0 - failed) + dearer * failed
    assert ages[1 + cheapest(costs[1:], lengths[1:])] == pytest.approx(optimal, rel=1e-3)


def test_life_that_does_not_age_is_never_pulled_early() -> None:
    """With a constant hazard there is no optimal age: the longer the cheaper."""
    ages = np.linspace(0.0, 40.0, 4001)
    failed = Law(1.0, 1.0).chance_by(ages)
    lengths = sum_up_to(ages, 1.0 - failed)
    costs = (1.0 - failed) + 10.0 * failed
    rates = costs[1:] / lengths[1:]
    assert np.all(np.diff(rates) <= 1e-12)


@pytest.mark.parametrize("shape", [2.0, 4.0, 8.0])
@pytest.mark.parametrize("bad_part", [0.05, 0.5, 5.0])
def test_use_of_a_life_solves_the_equation_of_rising_running_costs(shape: float, bad_part: float) -> None:
    """Jardine and Tsang: one more shot costs as much as a shot in the mean, c(T F(T) - integral of F) = work."""
    law, work = Law(100_000.0, shape), 800.0

    def chance(shots: float) -> float:
        return float(law.chance_by(np.array([shots]))[0])

    def out_of_balance(shots: float) -> float:
        return bad_part * (shots * chance(shots) - quad(chance, 0.0, shots)[0]) - work

    end = law.shots_at(FARTHEST)
    optimal = end if out_of_balance(end) < 0 else brentq(out_of_balance, 1.0, end)
    used = use_of(law, work, bad_part)
    assert used.shots == pytest.approx(optimal, rel=2e-3)
    assert used.bad_parts == pytest.approx(quad(chance, 0.0, used.shots)[0], rel=1e-3)
    assert used.waiting == pytest.approx(bad_part * used.bad_parts)
