"""The share of lives that still run when their ends lie between two looks: Turnbull's estimate."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shop.drift.lives.given import Floats, Lives, lives_between

_NOUGHT, _STILL = 1e-9, 1e-11
_MOST_ROUNDS = 50_000


@dataclass(frozen=True)
class Turnbull:
    """Where the ends of lives lie: `mass` in each span from just after `left` to `right`, or at it where both are one.

    Within a span nothing is known of where. `settled` says whether the search came to rest.
    """

    left: Floats
    right: Floats
    mass: Floats
    settled: bool

    def survival_at(self, time: float) -> tuple[float, float]:
        """Return the least and the most of the share that outlasts a time.

        Parameters
        ----------
        time : float
            A length of life. [unit of the bounds]

        Returns
        -------
        tuple of float
            Both shares; one and the same outside the spans. [1]

        References
        ----------
        .. [1] Turnbull (1976), J. R. Stat. Soc. B 38:290-295.
        """
        surely, perhaps = self.right <= time, (self.left < time) | (self.right <= time)
        return max(0.0, 1.0 - float(self.mass[perhaps].sum())), max(0.0, 1.0 - float(self.mass[surely].sum()))


def turnbull(lower: Sequence[float], upper: Sequence[float]) -> Turnbull:
    """Return where the ends of lives lie, without a law for them.

    Parameters
    ----------
    lower : sequence of float
        The last look at which each life still ran, 0 or more. [any one unit, such as shots]
    upper : sequence of float
        The first at which it had ended; the same where its end was seen, infinite where it still runs. [same unit]

    Returns
    -------
    Turnbull
        Spans [unit of the bounds] and the share of lives that ended in each [1].

    Raises
    ------
    Refused
        If lengths differ, there is none, or bounds are impossible.

    References
    ----------
    .. [1] Turnbull (1976), J. R. Stat. Soc. B 38:290-295.
    .. [2] Gentleman and Geyer (1994), Biometrika 81:618-623, when it is the maximum.
    """
    given = lives_between(lower, upper)
    spans = _spans(given)
    left, right = np.array([s[0] for s in spans]), np.array([s[1] for s in spans])
    holds = _holds(given, left, right)
    mass, settled = _settle(holds, given.count / given.count.sum())
    kept = mass > _NOUGHT
    return Turnbull(left[kept], right[kept], mass[kept], settled)


def _spans(given: Lives) -> list[tuple[float, float]]:
    """Return the innermost spans: a left end followed by a right end with no other between.

    A life ends after its lower look and at its upper one at the latest, so at one time a seen end begins first, right
    ends close next, and open spans begin last.
    """
    ends = []
    for low, high in zip(given.lower.tolist(), given.upper.tolist(), strict=True):
        ends += [(low, 0 if low == high else 2), (high, 1)]
    ends.sort()
    return sorted({(a[0], b[0]) for a, b in itertools.pairwise(ends) if a[1] != 1 and b[1] == 1})


def _holds(given: Lives, left: Floats, right: Floats) -> NDArray[np.float64]:
    """Return for each life and span 1 where the life may have ended in the span, else 0."""
    low, high = given.lower[:, None], given.upper[:, None]
    point = (left == right)[None, :]
    begins = np.where(point & (low != high), left[None, :] > low, left[None, :] >= low)
    return np.asarray(begins & (right[None, :] <= high) & (point | (low != high)), dtype=np.float64)


def _settle(holds: NDArray[np.float64], share: Floats) -> tuple[Floats, bool]:
    """Let each life share itself out over its spans until none wants to move."""
    mass = np.full(holds.shape[1], 1.0 / holds.shape[1])
    for _ in range(_MOST_ROUNDS):
        pull = holds.T @ (share / (holds @ mass))
        mass = mass * pull
        mass = mass / math.fsum(mass)
        # No estimate is better by more than this share a life: at the maximum no span pulls more than 1.
        if float(pull.max()) - 1.0 < _STILL:
            return mass, True
    return mass, False
