"""What a group has shown of its wear, as it is kept, and asked again for faces that have come since."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

import numpy as np

from shop.drift.crossing import Direction
from shop.drift.forecast import Forecast, courses, mixed
from shop.drift.pooling import Column, Floats, Readings, sums_of
from shop.drift.rates import Group, Hyper

# A course that is believed with its power this near to 1 is straight.
STRAIGHT_WITHIN = 0.05


@dataclass(frozen=True)
class Course:
    """One way in which the shots of a group may count: a power of them, how far it is believed, and the group by it.

    Rates are per `scale` shots to the power, towards harm; `faces` is how many the group was learned from.
    """

    power: float
    belief: float
    hyper: Hyper
    covariance: Floats
    faces: int
    scale: float

    def kept(self) -> dict[str, Any]:
        """Return the course as plain values that JSON holds.

        Returns
        -------
        dict
            What `read` takes. [mixed]

        References
        ----------
        .. [1] RFC 8259: numbers, strings, lists and objects.
        """
        return {**asdict(self), "covariance": self.covariance.tolist()}


def read(kept: Mapping[str, Any]) -> Course:
    """Return a course from what was kept of it.

    Parameters
    ----------
    kept : mapping
        As `Course.kept` gives it. [mixed]

    Returns
    -------
    Course
        The same. [mixed]

    References
    ----------
    .. [1] RFC 8259.
    """
    return Course(**{**kept, "hyper": Hyper(**kept["hyper"]), "covariance": np.asarray(kept["covariance"])})


def learn(
    faces: Sequence[Readings],
    limit: float,
    direction: Direction,
    weights: Sequence[Column] | None = None,
    least_sd: float = 0.0,
) -> list[Course]:
    """Learn how the faces of a group wear.

    Parameters
    ----------
    faces : sequence of (shots, values)
        As `shop.drift.forecast.forecast_group` takes them. [shots], [any one unit]
    limit : float
        The limit. [unit of the values]
    direction : "up" or "down"
        Where harm lies.
    weights : sequence of array, optional
        The readings' precisions. [1]
    least_sd : float
        What a reading scatters at least: readings at a gauge's floor are all alike, which is its step and no
        certainty. A uniform step has the twelfth root of itself. [unit of the values]

    Returns
    -------
    list of Course
        What is believed, beliefs summing to 1. [mixed]

    Raises
    ------
    Refused
        If the group has too few readings to show the scatter of one.

    References
    ----------
    .. [1] `shop.drift.forecast.courses`.
    """
    return [
        Course(sums.power, belief, _no_surer(group.hyper, least_sd), group.covariance, group.faces, sums.scale)
        for sums, group, belief in courses(faces, limit, direction, weights)
    ]


def _no_surer(group: Hyper, least_sd: float) -> Hyper:
    return replace(group, residual_sd=max(group.residual_sd, least_sd))


def forecast_by(
    known: Sequence[Course],
    faces: Sequence[Readings],
    limit: float,
    direction: Direction,
    weights: Sequence[Column] | None = None,
    shared: Floats | None = None,
) -> list[Forecast]:
    """Forecast faces by a group that was learned before, whether or not they were in it.

    Parameters
    ----------
    known : sequence of Course
        As `learn` gives them. [mixed]
    faces : sequence of (shots, values)
        Readings of each face; one may have none, and is as the group is. [shots], [any one unit]
    limit : float
        The limit. [unit of the values]
    direction : "up" or "down"
        Where harm lies.
    weights : sequence of array, optional
        The readings' precisions. [1]
    shared : array of 2 by 2 float, optional
        As `shop.drift.forecast.forecast_group` takes it. [unit of the values; per shot]

    Returns
    -------
    list of Forecast
        One a face, in order. [shots]

    Raises
    ------
    Refused
        If lengths differ or a number is not finite.

    References
    ----------
    .. [1] Morris (1983), J. Am. Stat. Assoc. 78:47-55, empirical Bayes.
    """
    sign = 1.0 if direction == "up" else -1.0
    believed = [
        (sums_of(faces, sign, one.power, weights, one.scale), Group(one.hyper, one.covariance, one.faces), one.belief)
        for one in known
    ]
    return mixed(believed, limit, direction, shared)


def shape_of(known: Sequence[Course]) -> str:
    """Return what way of wearing is believed most: even, fast then slow, or slow then fast.

    Parameters
    ----------
    known : sequence of Course
        As `learn` gives them. [mixed]

    Returns
    -------
    str
        "line", "run-in" where shots count less and less, "power" where they count more and more. [-]

    References
    ----------
    .. [1] Archard (1953), J. Appl. Phys. 24:981-988: wear in proportion to the distance slid, which is the line.
    """
    best = max(known, key=lambda one: one.belief)
    if abs(best.power - 1.0) <= STRAIGHT_WITHIN:
        return "line"
    return "run-in" if best.power < 1.0 else "power"
