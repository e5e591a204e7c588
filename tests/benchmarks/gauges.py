"""Gauge studies and people who judge by eye. Floor: the sums and ranges alone."""

from __future__ import annotations

from typing import Any

import numpy as np

from shop.standards import agreement, msa
from tests.benchmarks.measuring import Case, Room


def _study(parts: int = 10, people: int = 3, trials: int = 3) -> list[list[list[float]]]:
    rng = np.random.default_rng(2)
    part = rng.normal(0.0, 1.0, (parts, 1, 1))
    person = rng.normal(0.0, 0.1, (1, people, 1))
    values: list[list[list[float]]] = (part + person + rng.normal(0.0, 0.2, (parts, people, trials))).tolist()
    return values


def _least(given: Any) -> float:
    table = np.array(given)
    return float(np.ptp(table, axis=2).mean() + np.ptp(table.mean(axis=(0, 2))) + np.ptp(table.mean(axis=(1, 2))))


def _judgements() -> tuple[list[list[list[str]]], list[str]]:
    rng = np.random.default_rng(3)
    master = ["good" if one else "bad" for one in rng.random(50) > 0.4]
    judged = [
        [[said if rng.random() > 0.1 else "bad" for _trial in range(3)] for _person in range(3)] for said in master
    ]
    return judged, master


def _least_judged(given: Any) -> int:
    judged, master = given
    pairs = zip(judged, master, strict=True)
    return sum(all(said == right for said in person) for piece, right in pairs for person in piece)


ROOM = Room(
    "Gauges",
    (
        Case("study of 10 parts, 3 people, 3 trials: average and range", _study,
             lambda given: msa.gauge_study(given, "range"), "ranges and means alone", _least),
        Case("study of 10 parts, 3 people, 3 trials: analysis of variance", _study,
             lambda given: msa.gauge_study(given, "anova"), "ranges and means alone", _least),
        Case("people who judged 50 pieces, 3 by 3", _judgements,
             lambda given: agreement.agreement_study(given[0], master=given[1]), "who was right, counted",
             _least_judged),
    ),
)  # fmt: skip
