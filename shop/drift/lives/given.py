"""Lives as they are known: ended at a time, still running, or ended between two looks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from shop.refusal import Refused, gettext_noop

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Lives:
    """Lives between bounds, equal ones counted together.

    A life that ended at a known time has equal bounds; one that still runs has no end above (infinite); one that ended
    before the first look begins at 0.
    """

    lower: Floats
    upper: Floats
    count: Floats

    @cached_property
    def exact(self) -> NDArray[np.bool_]:
        """Return which ended at a known time."""
        return np.asarray(self.lower == self.upper, dtype=np.bool_)

    @cached_property
    def running(self) -> NDArray[np.bool_]:
        """Return which still run."""
        return np.asarray(np.isinf(self.upper), dtype=np.bool_)

    @cached_property
    def between(self) -> NDArray[np.bool_]:
        """Return which ended between two looks."""
        return np.asarray(~self.exact & ~self.running, dtype=np.bool_)

    @cached_property
    def log_bounds(self) -> tuple[Floats, Floats]:
        """Return the natural logarithms of both bounds. [log of the unit of the lives]"""
        with np.errstate(divide="ignore"):
            return np.log(self.lower), np.log(self.upper)

    @cached_property
    def ended(self) -> float:
        """Return how many lives have ended. [lives]"""
        return float(self.count[~self.running].sum())


def lives(times: Sequence[float], observed: Sequence[bool]) -> Lives:
    """Return lives that have ended or still run.

    Parameters
    ----------
    times : sequence of float
        Length of each life so far, above 0. [any one unit, such as shots]
    observed : sequence of bool
        True where the life has ended at that time, False where it still runs.

    Returns
    -------
    Lives
        The same, counted. [unit of the times]

    Raises
    ------
    Refused
        If lengths differ, there is none, or a life is not above 0.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 2.4.
    """
    t, ended = np.asarray(times, dtype=np.float64), np.asarray(observed)
    _check_pairs(t, ended, (True, False, 0, 1))
    ended = ended.astype(np.bool_)
    _check_times(t, t > 0)
    return _counted(t, np.where(ended, t, np.inf))


def lives_between(lower: Sequence[float], upper: Sequence[float]) -> Lives:
    """Return lives that ended after one look and by the next.

    Parameters
    ----------
    lower : sequence of float
        The last look at which each life still ran, 0 or more. [any one unit, such as shots]
    upper : sequence of float
        The first at which it had ended; the same where its end was seen, infinite where it still runs. [same unit]

    Returns
    -------
    Lives
        The same, counted. [unit of the bounds]

    Raises
    ------
    Refused
        If lengths differ, there is none, a bound is negative or not a number, or bounds are the wrong way round.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 2.4.
    """
    low, high = np.asarray(lower, dtype=np.float64), np.asarray(upper, dtype=np.float64)
    _check_pairs(low, high, None)
    _check_times(low, low >= 0)
    _check_times(high, high > 0, endless=True)
    wrong = high < low
    if wrong.any():
        raise Refused(
            "lives.bounds_crossed",
            gettext_noop("A life that still ran at {value} cannot have ended by {limit}."),
            next_step=gettext_noop("Correct the two looks."),
            value=float(low[wrong][0]),
            limit=float(high[wrong][0]),
        )
    return _counted(low, high)


def normal_width(level: float) -> float:
    """Return how many standard errors a two-sided interval reaches to each side.

    Parameters
    ----------
    level : float
        Confidence, between 0 and 1. [1]

    Returns
    -------
    float
        Standard errors. [1]

    Raises
    ------
    Refused
        If the confidence lies outside.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 3.5.
    """
    if not 0 < level < 1:
        raise Refused(
            "lives.level",
            gettext_noop("A confidence of {value} is none; it lies between 0 and {limit}."),
            next_step=gettext_noop("Give 0.95."),
            value=level,
            limit=1,
        )
    return float(ndtri(0.5 + 0.5 * level))


def check_share(share: float) -> None:
    """Refuse a share of lives that does not lie between 0 and 1.

    Parameters
    ----------
    share : float
        Share that has ended. [1]

    Raises
    ------
    Refused
        If it does not.

    References
    ----------
    .. [1] `lives`.
    """
    if not 0 < share < 1:
        raise Refused(
            "lives.share",
            gettext_noop("A share of {value} of all lives cannot be looked up; it lies between 0 and {limit}."),
            next_step=gettext_noop("Give 0.1 or 0.5."),
            value=share,
            limit=1,
        )


def _counted(lower: Floats, upper: Floats) -> Lives:
    pairs, count = np.unique(np.column_stack((lower, upper)), axis=0, return_counts=True)
    return Lives(pairs[:, 0], pairs[:, 1], count.astype(np.float64))


def _check_pairs(first: NDArray[np.generic], second: NDArray[np.generic], known: tuple[int, ...] | None) -> None:
    if first.ndim != 1 or first.shape != second.shape:
        raise Refused(
            "lives.lengths_differ",
            gettext_noop("{count} times and {other} marks or bounds are no pairs."),
            next_step=gettext_noop("Give one for each life."),
            count=first.size,
            other=second.size,
        )
    if not first.size:
        raise Refused(
            "lives.none",
            gettext_noop("There is no life to look at."),
            next_step=gettext_noop("Wait until a face has run."),
        )
    if known is not None and not np.isin(second, known).all():
        raise Refused(
            "lives.mark",
            gettext_noop("A life has ended or it still runs; there is no third mark."),
            next_step=gettext_noop("Mark each life true or false."),
        )


def _check_times(times: Floats, good: NDArray[np.bool_], *, endless: bool = False) -> None:
    bad = ~good | np.isnan(times) | (False if endless else np.isinf(times))
    if bad.any():
        raise Refused(
            "lives.time",
            gettext_noop("A life of {value} is not possible."),
            next_step=gettext_noop("Give the shots it ran, above 0."),
            value=float(times[bad][0]),
            limit=0,
        )
