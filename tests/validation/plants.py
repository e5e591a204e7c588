"""Simulated plants: groups of faces whose true wear is known, each condition with its own trouble."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Readings = tuple[Floats, Floats]

LIMIT = 10.0
START, START_SD = 2.0, 0.3
RATE = 5e-5
SCATTER = 0.4
LONGEST = 110_000.0
INSPECTIONS = np.linspace(0, LONGEST, 25)


@dataclass(frozen=True)
class Group:
    """Faces as they were read, on which inspection, where each truly reaches the limit, and how rates spread."""

    faces: list[Readings]
    occasions: list[list[int]]
    truth: Floats
    log_rate_sd: float
    line: bool


@dataclass(frozen=True)
class Condition:
    """One kind of trouble: how a face's mean goes over its shots, and what happens to its readings."""

    name: str
    said: str
    shape: Callable[[Floats, float], Floats] = lambda x, rate: rate * x
    spoil: Callable[[np.random.Generator, list[Readings]], list[Readings]] | None = None
    sizes: tuple[int, int] = (12, 40)
    spread: tuple[float, float] = (0.3, 0.7)

    @property
    def line(self) -> bool:
        """Return whether the true wear is a straight line, which is what the oracle knows to forecast."""
        return self.name not in {"run-in", "slowing", "hastening"}


def group_of(condition: Condition, rng: np.random.Generator, counts: list[int] | None = None) -> Group:
    """Make one group; `counts` gives the readings of each face, else between 1 and 20."""
    faces, truth = [], []
    spread = float(rng.uniform(*condition.spread))
    size = int(rng.integers(*condition.sizes)) if counts is None else len(counts)
    for face in range(size):
        start, rate = rng.normal(START, START_SD), RATE * np.exp(rng.normal(0, spread))
        count = int(rng.integers(1, 21)) if counts is None else counts[face]
        shots = np.sort(rng.uniform(0, rng.uniform(0.3, 1.0) * LONGEST, count))
        mean = start + condition.shape(shots, rate)
        faces.append((shots, mean + rng.normal(0, SCATTER, count)))
        truth.append(_reached(condition, start, rate))
    if condition.spoil is not None:
        faces = condition.spoil(rng, faces)
    return Group(faces, [inspection_of(x) for x, _ in faces], np.array(truth), spread, condition.line)


def _reached(condition: Condition, start: float, rate: float) -> float:
    """Return where the true mean first reaches the limit, by halving: every shape rises."""
    low, high = 0.0, 1e9
    for _ in range(80):
        middle = (low + high) / 2
        over = start + float(condition.shape(np.array([middle]), rate)[0]) >= LIMIT
        low, high = (low, middle) if over else (middle, high)
    return high


def _outliers(rng: np.random.Generator, faces: list[Readings]) -> list[Readings]:
    return [
        (x, y + (rng.random(len(y)) < 0.03) * rng.choice([-1.0, 1.0], len(y)) * 6 * SCATTER) for x, y in faces
    ]


def inspection_of(shots: Floats) -> list[int]:
    """Return the inspection in which readings at these shots were taken: the tool is gone over at fixed counts."""
    return np.searchsorted(INSPECTIONS, shots).tolist()


def _common_steps(rng: np.random.Generator, faces: list[Readings]) -> list[Readings]:
    """Every inspection of the tool reads all its faces a little off, all the same way."""
    off = rng.normal(0, SCATTER, len(INSPECTIONS) + 1)
    return [(x, y + off[inspection_of(x)]) for x, y in faces]


def _gauges(rng: np.random.Generator, faces: list[Readings]) -> list[Readings]:
    offset = rng.normal(0, 0.5 * SCATTER, 3)
    return [(x, y + offset[rng.integers(0, 3, len(y))]) for x, y in faces]


def _resins(rng: np.random.Generator, faces: list[Readings]) -> list[Readings]:
    """Parts of the second resin read glossier by as much as a reading scatters."""
    return [(x, y + SCATTER * (rng.random(len(y)) < 0.4)) for x, y in faces]


CONDITIONS = (
    Condition("lines", "straight wear, rates that spread by factors"),
    Condition("unequal groups", "from 3 to 120 faces", sizes=(3, 121)),
    Condition("wide rates", "rates a factor of ten apart", spread=(0.9, 1.2)),
    Condition("outliers", "3 % of the readings off by six times their scatter", spoil=_outliers),
    Condition("common steps", "each inspection off for all faces alike", spoil=_common_steps),
    Condition("several gauges", "three gauges half a scatter apart, not told", spoil=_gauges),
    Condition("mixed resins", "two resins one scatter apart, not told", spoil=_resins),
    Condition("run-in", "half a unit in the first 8,000 shots, then straight",
              shape=lambda x, rate: rate * x + 0.5 * (1 - np.exp(-x / 8000))),
    Condition("slowing", "a power of 0.8 of the shots, the wrong model",
              shape=lambda x, rate: rate * LONGEST * (x / LONGEST) ** 0.8),
    Condition("hastening", "a power of 1.25 of the shots, the wrong model",
              shape=lambda x, rate: rate * LONGEST * (x / LONGEST) ** 1.25),
)  # fmt: skip
