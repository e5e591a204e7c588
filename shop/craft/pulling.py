"""When a face is best pulled: the one criterion by which pulling early is weighed against waiting.

A cycle runs from now until the work after this one. What it is to be expected to cost, divided by the shots that it
is to be expected to give, is what a shot costs in the long run (renewal-reward); the least of it is the cheapest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FARTHEST = 0.5  # a life is planned no farther than to its median, however little a bad part costs
STEPS = 1200
LEAST_SHARE = 1e-3  # of a life, at which weighing begins


@dataclass(frozen=True)
class Law:
    """How long a finish keeps its limits: Weibull, by its median [shots] and its shape [1]."""

    median: float
    shape: float

    def chance_by(self, shots: Floats) -> Floats:
        """Return the chance of having reached the limit.

        Parameters
        ----------
        shots : ndarray of float
            Shots since the life began. [shots]

        Returns
        -------
        ndarray of float
            Chances, 0 to 1. [1]

        References
        ----------
        .. [1] W. Weibull, A statistical distribution function of wide applicability, J. Appl. Mech. 18 (1951).
        """
        reached: Floats = -np.expm1(-np.log(2.0) * (np.maximum(shots, 0.0) / self.median) ** self.shape)
        return reached

    def shots_at(self, chance: float) -> float:
        """Return the shots by which the limit is reached with this chance.

        Parameters
        ----------
        chance : float
            0 to 1, without its ends. [1]

        Returns
        -------
        float
            Shots since the life began. [shots]

        References
        ----------
        .. [1] Inverse of the Weibull law by its median.
        """
        return float(self.median * (-np.log1p(-chance) / np.log(2.0)) ** (1.0 / self.shape))


@dataclass(frozen=True)
class Use:
    """How far a life is best used: to how many shots, with bad parts to be expected until then [shots, money]."""

    shots: float
    bad_parts: float
    waiting: float


def cheapest(costs: Floats, lengths: Floats) -> int:
    """Return which of several ways to end a cycle costs least for each unit of its length.

    Parameters
    ----------
    costs : ndarray of float
        Expected cost of the cycle, a way each. [money]
    lengths : ndarray of float
        Expected length of the cycle, a way each; more than nought. [shots, or any unit of use]

    Returns
    -------
    int
        The place of the cheapest; the first of several. [1]

    References
    ----------
    .. [1] R. E. Barlow and F. Proschan, Mathematical Theory of Reliability, Wiley 1965, ch. 3 (age replacement).
    .. [2] A. K. S. Jardine and A. H. C. Tsang, Maintenance, Replacement, and Reliability, CRC Press 2006, ch. 2.
    """
    return int(np.argmin(costs / lengths))


def sum_up_to(shots: Floats, chances: Floats) -> Floats:
    """Return the shots beyond the limit that are to be expected up to each count of shots.

    Parameters
    ----------
    shots : ndarray of float
        Counts of shots, rising from 0. [shots]
    chances : ndarray of float
        Chance of being beyond the limit at each. [1]

    Returns
    -------
    ndarray of float
        The integral of the chance over the shots, by trapezoids. [shots]

    References
    ----------
    .. [1] A face that is beyond its limit makes a bad part with every shot until it is pulled.
    """
    steps = np.diff(shots) * (chances[1:] + chances[:-1]) / 2.0
    summed: Floats = np.concatenate([[0.0], np.cumsum(steps)])
    return summed


def use_of(law: Law, work_cost: float, bad_part: float) -> Use:
    """Return how far a life that a work begins is best used before the face is worked on again.

    The work is paid once a life and bad parts are made from where the limit is crossed; what both come to for each
    shot is least where one more shot costs as much as a shot costs in the mean. Planned no farther than the median.

    Parameters
    ----------
    law : Law
        Of the life. [shots]
    work_cost : float
        What the work costs, with its share of a visit. [money]
    bad_part : float
        What a part beyond its limit costs. [money]

    Returns
    -------
    Use
        Shots to use, bad parts to be expected in them and their cost. [shots, 1, money]

    References
    ----------
    .. [1] A. K. S. Jardine and A. H. C. Tsang, Maintenance, Replacement, and Reliability, CRC Press 2006, ch. 2
       (replacement where the cost of running rises with use).
    """
    end = law.shots_at(FARTHEST)
    shots = np.concatenate([[0.0], np.linspace(end * LEAST_SHARE, end, STEPS)])
    bad = sum_up_to(shots, law.chance_by(shots))
    best = 1 + cheapest(work_cost + bad_part * bad[1:], shots[1:])
    return Use(float(shots[best]), float(bad[best]), float(bad_part * bad[best]))
