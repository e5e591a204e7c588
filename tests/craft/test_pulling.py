"""How long a life lasts and how far it is best used."""

from __future__ import annotations

import numpy as np
import pytest

from shop.craft.pulling import Law, cheapest, sum_up_to, use_of

LAW = Law(100_000.0, 4.0)


def test_half_of_the_lives_end_by_the_median() -> None:
    assert LAW.chance_by(np.array([0.0, 100_000.0])) == pytest.approx([0.0, 0.5])
    assert LAW.shots_at(0.5) == pytest.approx(100_000.0)


def test_chance_and_shots_are_each_others_inverse() -> None:
    for chance in (0.01, 0.1, 0.9):
        assert LAW.chance_by(np.array([LAW.shots_at(chance)])) == pytest.approx([chance])


def test_chance_before_the_first_shot_is_none() -> None:
    assert LAW.chance_by(np.array([-5.0])) == pytest.approx([0.0])


def test_bad_shots_add_up_by_trapezoids() -> None:
    summed = sum_up_to(np.array([0.0, 100.0, 300.0]), np.array([0.0, 0.2, 0.6]))
    assert summed == pytest.approx([0.0, 10.0, 90.0])


def test_first_of_several_cheapest_is_taken() -> None:
    assert cheapest(np.array([4.0, 6.0, 9.0]), np.array([1.0, 2.0, 3.0])) == 1


def test_life_is_used_less_far_where_bad_parts_are_dear() -> None:
    dear, cheap = use_of(LAW, 500.0, 5.0), use_of(LAW, 500.0, 0.05)
    assert dear.shots < cheap.shots < LAW.median


def test_life_is_used_farther_where_the_work_is_dear() -> None:
    assert use_of(LAW, 2000.0, 1.0).shots > use_of(LAW, 200.0, 1.0).shots


def test_life_is_planned_no_farther_than_its_median_where_bad_parts_cost_nothing() -> None:
    used = use_of(LAW, 500.0, 0.0)
    assert used.shots == pytest.approx(100_000.0)
    assert used.waiting == 0.0
    assert used.bad_parts > 0.0
