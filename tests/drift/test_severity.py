"""What a shot of each resin counts, against faces whose truth is known."""

from __future__ import annotations

import numpy as np
import pytest

from shop.drift.severity import severities
from shop.refusal import Refused


def _faces(seed: int, truth: list[float], count: int, scatter: float = 0.02) -> list[tuple[np.ndarray, np.ndarray]]:
    rng = np.random.default_rng(seed)
    faces = []
    for _ in range(count):
        resin = rng.integers(0, len(truth), 10)
        made = np.zeros((10, len(truth)))
        made[np.arange(10), resin] = rng.uniform(3_000, 9_000, 10)
        shots = made.cumsum(0)
        rate = rng.lognormal(np.log(1e-5), 0.4)
        faces.append((shots, 2.0 + rate * (shots @ truth) + rng.normal(0, scatter, 10)))
    return faces


def test_a_filled_resin_is_found_to_wear_faster_than_the_plant_had_said() -> None:
    found = severities(_faces(1, [1.0, 3.0], 40), [1.0, 1.5])
    assert found.severity[1] / found.severity[0] == pytest.approx(3.0, rel=0.15)
    assert found.faces.tolist() == [40, 40]


def test_the_interval_holds_the_truth_about_as_often_as_it_says() -> None:
    held = 0
    for seed in range(60):
        found = severities(_faces(seed, [1.0, 2.0], 8), [1.0, 2.0])
        ratio, error = np.log(found.severity[1]), np.log(found.high[1] / found.severity[1])
        held += abs(ratio - np.log(2.0)) <= error
    # The seeds are the truth here, so the interval is wide rather than narrow.
    assert held >= 45


def test_faces_that_say_little_leave_the_seeds_as_they_are() -> None:
    found = severities(_faces(3, [1.0, 3.0], 1, scatter=5.0), [1.0, 2.0])
    assert found.severity == pytest.approx([1.0, 2.0], rel=0.35)


def test_a_plant_whose_faces_ran_one_resin_each_learns_nothing() -> None:
    shots = np.column_stack([np.arange(1, 8) * 1e4, np.zeros(7)])
    with pytest.raises(Refused, match="more than one resin"):
        severities([(shots, np.linspace(2, 3, 7))], [1.0, 2.0])
