"""Calls by forecast against refinishing after a fixed interval, at the same exposure beyond the limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shop.drift import batch
from shop.drift.courses import Course, learn
from tests.validation.plants import LIMIT, RATE, SCATTER, START, START_SD

Floats = NDArray[np.float64]

GROUPS, FACES, LIVES = 60, 30, 2
EVERY = 5_000.0
# What a group is learned from: earlier lives of its faces, ten readings each.
BEFORE = 10
LEAD_SHOTS = 10_000.0
CHANCES = (0.05, 0.1, 0.2)
# A face keeps its own rate from life to life but for this.
LIFE_SPREAD = 0.15
LONGEST = 1_500_000.0


@dataclass(frozen=True)
class Early:
    """One chance to call at, and the interval that leaves as many shots beyond the limit.

    `called` is the mean of all lives, `running` what lies between refinishes of faces that all run the same shots: a
    slow face has fewer lives then, so it is the harmonic mean. An interval is the same in both.
    """

    chance: float
    lives: int
    exposure: float
    called: float
    running: float
    interval: float

    @property
    def gain(self) -> float:
        """Return how many more shots lie between refinishes, in the mean of all lives."""
        return self.called / self.interval - 1.0

    @property
    def running_gain(self) -> float:
        """Return how many more shots lie between refinishes while all faces run alike."""
        return self.running / self.interval - 1.0


def early(seed: int) -> list[Early]:
    """Run the lives of a simulated plant under each chance, and find the interval of the same exposure."""
    rng = np.random.default_rng(seed)
    truths: list[Floats] = []
    pulled: dict[float, list[Floats]] = {chance: [] for chance in CHANCES}
    for _ in range(GROUPS):
        spread = float(rng.uniform(0.3, 0.7))
        rates = RATE * np.exp(rng.normal(0, spread, FACES))
        known = _learned(rng, rates)
        for _life in range(LIVES):
            start, rate = rng.normal(START, START_SD, FACES), rates * np.exp(rng.normal(0, LIFE_SPREAD, FACES))
            truths.append((LIMIT - start) / rate)
            ran = _lives(rng, known, start, rate)
            for chance in CHANCES:
                pulled[chance].append(ran[chance])
    truth = np.concatenate(truths)
    found = []
    for chance in CHANCES:
        ends = np.concatenate(pulled[chance])
        exposure = float(np.maximum(ends - truth, 0.0).mean())
        running = float(1.0 / np.mean(1.0 / ends))
        found.append(Early(chance, len(truth), exposure, float(ends.mean()), running, _interval(truth, exposure)))
    return found


def _learned(rng: np.random.Generator, rates: Floats) -> list[Course]:
    faces = []
    for rate in rates:
        shots = np.sort(rng.uniform(0, 110_000.0, BEFORE))
        mean = rng.normal(START, START_SD) + rate * np.exp(rng.normal(0, LIFE_SPREAD)) * shots
        faces.append((shots, mean + rng.normal(0, SCATTER, BEFORE)))
    return learn(faces, LIMIT, "up")


def _lives(rng: np.random.Generator, known: list[Course], start: Floats, rate: Floats) -> dict[float, Floats]:
    """Measure every face every so many shots; return where each would be pulled, by the chance that is called at."""
    ends = {chance: np.full(len(rate), np.inf) for chance in CHANCES}
    shots: list[float] = []
    values: list[Floats] = []
    now = 0.0
    while now < LONGEST and any(np.isinf(one).any() for one in ends.values()):
        shots.append(now)
        values.append(start + rate * now + rng.normal(0, SCATTER, len(rate)))
        ahead = _ahead(known, shots, values, now)
        for column, chance in enumerate(CHANCES):
            called = np.isinf(ends[chance]) & (ahead.left[:, column] <= LEAD_SHOTS)
            # Called now, pulled a lead time later.
            ends[chance][called] = now + LEAD_SHOTS
        now += EVERY
    return {chance: np.minimum(one, LONGEST) for chance, one in ends.items()}


def _ahead(known: list[Course], shots: list[float], values: list[Floats], now: float) -> batch.Ahead:
    faces, count = len(values[0]), len(shots)
    return batch.ahead(
        known, np.tile(np.array(shots), faces), np.array(values).T.ravel(), np.arange(faces + 1) * count, LIMIT, "up",
        now=np.full(faces, now), chances=CHANCES,
    )  # fmt: skip


def _interval(truth: Floats, exposure: float) -> float:
    """Return the fixed interval that leaves as many shots beyond the limit, by halving."""
    low, high = 0.0, float(truth.max())
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if np.maximum(middle - truth, 0.0).mean() < exposure else (low, middle)
    return low
