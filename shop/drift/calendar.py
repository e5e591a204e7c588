"""Shots become dates: through the runs that are planned, and beyond them through the recent rate with its spread."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from shop.drift.crossing import check_chance

Floats = NDArray[np.float64]

# The rate to come is one of so many, each as likely: quantiles of a log-normal factor of mean 1.
COURSES = 9
# What weeks differ by is evened out over so many of those to come.
WEEKS_EVENED = 4.0
# The spread of the logarithm of the rate where too few weeks are known to show it, and the widest that is believed.
LITTLE_KNOWN, WIDEST = 0.5, 1.0
KNOWN_WEEKS = 4
DAYS_A_WEEK = 7.0
# A chance is looked up among so many counts of shots, and no date is named beyond so many days.
GRID = 24
# Between two counts whose chances differ by more than this a third is looked up, so many times over.
FINE, ROUNDS = 0.05, 6
FARTHEST_DAYS = 3_650.0


@dataclass(frozen=True)
class Planned:
    """A run that is planned: its first and last day from now (what is past is below 0), and the shots left of it."""

    first: float
    last: float
    shots: float


@dataclass(frozen=True)
class Pace:
    """Shots a day in the mean, and the spread of the logarithm of what they will be."""

    per_day: float
    spread: float


@dataclass(frozen=True)
class Gap:
    """Days from now in which nothing is planned; the last may be infinite."""

    first: float
    last: float


@dataclass(frozen=True)
class Coming:
    """The shots to come, day by day."""

    planned: tuple[Planned, ...]
    pace: Pace

    @property
    def horizon(self) -> float:
        """Return the day on which the last planned run ends; from then on the pace goes on. [days]"""
        return max((run.last for run in self.planned), default=0.0)

    def shots_by(self, days: float) -> Floats:
        """Return the shots made by a day, one count for each course that the rate may take.

        Parameters
        ----------
        days : float
            Days from now; before now none are made. [days]

        Returns
        -------
        array of float
            As many as `COURSES`, the slowest first; each is as likely as the others. [shots]

        References
        ----------
        .. [1] Johnson, Kotz and Balakrishnan (1994), Continuous Univariate Distributions 1, 14: log-normal quantiles.
        """
        made = sum(run.shots * _share_run(run, days) for run in self.planned)
        beyond = max(days - self.horizon, 0.0)
        return np.asarray(made + self.pace.per_day * beyond * _factors(self.pace.spread))

    def gaps(self, least_days: float, until: float) -> list[Gap]:
        """Return the stretches in which no run is planned, in their order.

        Parameters
        ----------
        least_days : float
            Shorter ones are left out. [days]
        until : float
            Where the looking ends; what begins later is left out. [days]

        Returns
        -------
        list of Gap
            Before and between the planned runs. Where none is planned there is no gap to name. [days]

        References
        ----------
        .. [1] Common practice, no source: work on a tool is done while its press runs something else.
        """
        found, free_from = [], 0.0
        for run in sorted(self.planned, key=lambda one: one.first):
            if run.first - free_from >= least_days and free_from <= until:
                found.append(Gap(free_from, run.first))
            free_from = max(free_from, run.last)
        return found


def pace(weeks: Sequence[float]) -> Pace:
    """Return how fast a tool has been run, and how far that tells how fast it will be run.

    Parameters
    ----------
    weeks : sequence of float
        Shots of each of the last weeks, the latest first, the weeks without any among them. [shots]

    Returns
    -------
    Pace
        Mean of the last four weeks [shots a day], and the spread of its logarithm: that of their mean, and that of
        the weeks to come, evened out over four of them. [1]

    References
    ----------
    .. [1] Box, Hunter and Hunter (2005), Statistics for Experimenters, 2nd ed., 2: the mean of n and of m others.
    """
    made = np.asarray(weeks, dtype=float)
    recent = float(made[:KNOWN_WEEKS].sum()) / KNOWN_WEEKS
    if recent <= 0 or made.size < KNOWN_WEEKS:
        return Pace(recent / DAYS_A_WEEK, LITTLE_KNOWN)
    relative = float(made.std(ddof=1)) / float(made.mean()) * math.sqrt(1.0 / KNOWN_WEEKS + 1.0 / WEEKS_EVENED)
    return Pace(recent / DAYS_A_WEEK, min(math.sqrt(math.log1p(relative**2)), WIDEST))


class DatedChance:
    """The chance of having reached a limit as it grows from day to day."""

    def __init__(self, chance_by: Callable[[float], float], coming: Coming, share: float = 1.0) -> None:
        """Look the chances up once; `share` is what part of the tool's shots the face makes."""
        self._coming, self._share = coming, share
        farthest = float(coming.shots_by(FARTHEST_DAYS)[-1]) * share
        grid = np.concatenate([[0.0], np.geomspace(max(farthest, 1.0) * 1e-5, max(farthest, 1.0), GRID)])
        chances = np.array([chance_by(float(shots)) for shots in grid])
        for _ in range(ROUNDS):
            wide = np.flatnonzero(np.abs(np.diff(chances)) > FINE)
            if not len(wide):
                break
            between = (grid[wide] + grid[wide + 1]) / 2
            grid = np.insert(grid, wide + 1, between)
            chances = np.insert(chances, wide + 1, [chance_by(float(shots)) for shots in between])
        self._grid, self._chances = grid, np.maximum.accumulate(chances)

    def by(self, days: float) -> float:
        """Return the chance of having reached the limit by a day.

        Parameters
        ----------
        days : float
            Days from now. [days]

        Returns
        -------
        float
            Mixed over the courses that the rate may take. [1]

        References
        ----------
        .. [1] Kolmogorov (1933), Grundbegriffe der Wahrscheinlichkeitsrechnung, I.4, total probability.
        """
        shots = self._coming.shots_by(max(days, 0.0)) * self._share
        return float(np.interp(shots, self._grid, self._chances).mean())

    def day_of(self, chance: float) -> float | None:
        """Return the day on which the chance reaches this.

        Parameters
        ----------
        chance : float
            Between 0 and 1, both excluded. [1]

        Returns
        -------
        float or None
            Days from now, 0 where it is that high already; None where it is not within ten years. [days]

        Raises
        ------
        Refused
            If the chance lies outside.

        References
        ----------
        .. [1] `DatedChance.by`, turned round.
        """
        check_chance(chance)
        if self.by(0.0) >= chance:
            return 0.0
        if self.by(FARTHEST_DAYS) < chance:
            return None
        low, high = 0.0, 1.0
        while self.by(high) < chance:
            low, high = high, high * 2
        while high - low > 0.02:
            middle = (low + high) / 2
            low, high = (middle, high) if self.by(middle) < chance else (low, middle)
        return high

    def shots_beyond(self, days: int) -> float:
        """Return the shots that are to be expected beyond the limit within so many days.

        Parameters
        ----------
        days : int
            How many days, 1 or more. [days]

        Returns
        -------
        float
            Each day's shots times the chance that the limit has been reached by its middle. [shots]

        References
        ----------
        .. [1] Barlow and Proschan (1965), Mathematical Theory of Reliability, 4: expected cost up to a time.
        """
        made = np.array([self._coming.shots_by(float(day)) for day in range(days + 1)]) * self._share
        middle = (made[1:] + made[:-1]) / 2
        return float((np.diff(made, axis=0) * np.interp(middle, self._grid, self._chances)).mean(axis=1).sum())


def _share_run(run: Planned, days: float) -> float:
    """Return what part of the shots left of a run is made by a day; one that has begun goes on from now."""
    first = max(run.first, 0.0)
    if run.last <= first:
        return 1.0 if days >= first else 0.0
    return min(max((days - first) / (run.last - first), 0.0), 1.0)


def _factors(spread: float) -> Floats:
    middle = (np.arange(COURSES) + 0.5) / COURSES
    factors = np.exp(spread * ndtri(middle))
    return np.asarray(factors / factors.mean())
