"""Risks over a whole process."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shop.refusal import Refused
from shop.standards.risks import global_risks


def test_risks_agree_with_a_drawn_process() -> None:
    draw = np.random.default_rng(7)
    true = draw.normal(10.0, 1.0, 400_000)
    seen = true + draw.normal(0.0, 0.3, true.size)
    inside, taken = (true > 8.5) & (true < 11.5), (seen > 8.8) & (seen < 11.2)
    found = global_risks(10.0, 1.0, 0.3, (8.5, 11.5), (8.8, 11.2))
    assert found.consumer == pytest.approx(np.mean(~inside & taken), abs=1e-3)
    assert found.producer == pytest.approx(np.mean(inside & ~taken), abs=1e-3)


def test_narrower_acceptance_moves_the_risk_from_consumer_to_producer() -> None:
    plain = global_risks(0.0, 1.0, 0.2, (-2.0, 2.0), (-2.0, 2.0))
    guarded = global_risks(0.0, 1.0, 0.2, (-2.0, 2.0), (-1.7, 1.7))
    assert guarded.consumer < plain.consumer
    assert guarded.producer > plain.producer


@pytest.mark.parametrize(
    ("u0", "um", "tolerance", "acceptance"),
    [(0, 1, (-1, 1), (-1, 1)), (1, 0, (-1, 1), (-1, 1)), (1, 1, (1, -1), (-1, 1)), (1, 1, (-1, 1), (1, 1)),
     (math.nan, 1, (-1, 1), (-1, 1)), (1, 1, (-1, math.inf), (-1, 1))],
)  # fmt: skip
def test_risks_without_sense_are_refused(
    u0: float, um: float, tolerance: tuple[float, float], acceptance: tuple[float, float]
) -> None:
    with pytest.raises(Refused):
        global_risks(0.0, u0, um, tolerance, acceptance)
