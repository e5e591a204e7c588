"""Many faces of one group at once, for the sweep."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shop.drift.courses import Course, forecast_by
from shop.drift.crossing import Direction
from shop.drift.pooling import Floats


@dataclass(frozen=True)
class Ahead:
    now: Floats
    left: Floats


def ahead(
    known: Sequence[Course], shots: Floats, values: Floats, offsets: NDArray[np.int64], limit: float,
    direction: Direction, *, now: Floats, chances: Sequence[float], weights: Floats | None = None,
) -> Ahead:  # fmt: skip
    faces = [(shots[a:b], values[a:b]) for a, b in zip(offsets[:-1], offsets[1:], strict=True)]
    found = forecast_by(known, faces, limit, direction)
    chance = np.array([one.probability_by(x) for one, x in zip(found, now, strict=True)])
    left = [[one.shots_at(chance) for chance in chances] for one in found]
    flat = np.array([[np.inf if x is None else x for x in row] for row in left]) - now[:, None]
    return Ahead(chance, np.maximum(flat, 0.0))
