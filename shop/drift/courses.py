"""What a group has shown of its wear, as it is kept and asked again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from shop.drift.crossing import Direction
from shop.drift.forecast import Forecast, courses, mixed
from shop.drift.pooling import Floats, Readings, sums_of
from shop.drift.rates import Group, Hyper


@dataclass(frozen=True)
class Course:
    power: float
    belief: float
    hyper: Hyper
    covariance: Floats
    scale: float

    def kept(self) -> dict[str, Any]:
        return {**asdict(self), "covariance": self.covariance.tolist()}


def read(kept: Mapping[str, Any]) -> Course:
    return Course(**{**kept, "hyper": Hyper(**kept["hyper"]), "covariance": np.asarray(kept["covariance"])})


def learn(faces: Sequence[Readings], limit: float, direction: Direction, weights: Any = None) -> list[Course]:
    return [
        Course(sums.power, belief, group.hyper, group.covariance, sums.scale)
        for sums, group, belief in courses(faces, limit, direction)
    ]


def forecast_by(
    known: Sequence[Course], faces: Sequence[Readings], limit: float, direction: Direction, weights: Any = None,
    shared: Floats | None = None,
) -> list[Forecast]:  # fmt: skip
    sign = 1.0 if direction == "up" else -1.0
    believed = []
    for one in known:
        sums = sums_of(faces, sign, one.power)
        by = (sums.scale / one.scale) ** one.power
        sums = replace(sums, x=sums.x * by, xx=sums.xx * by**2, xy=sums.xy * by, scale=one.scale)
        believed.append((sums, Group(one.hyper, one.covariance), one.belief))
    return mixed(believed, limit, direction, shared)
