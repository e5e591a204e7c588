"""The share of lives that still run, without a law for it: Kaplan and Meier's estimate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shop.drift.lives.given import Floats, check_share, lives, normal_width


@dataclass(frozen=True)
class KaplanMeier:
    """The share of lives that outlast each time at which one ended.

    `at_risk` and `ended` are counts at those times, `standard_error` is Greenwood's; `last` is the longest life so far,
    ended or not: nothing is known beyond it.
    """

    times: Floats
    survival: Floats
    standard_error: Floats
    at_risk: NDArray[np.int64]
    ended: NDArray[np.int64]
    last: float

    def survival_at(self, time: float) -> float | None:
        """Return the share that outlasts a time.

        Parameters
        ----------
        time : float
            A length of life. [unit of the times]

        Returns
        -------
        float or None
            Share, None beyond the longest life while some still run. [1]

        References
        ----------
        .. [1] Kaplan and Meier (1958), J. Am. Stat. Assoc. 53:457-481.
        """
        place = int(np.searchsorted(self.times, time, side="right"))
        share = float(self.survival[place - 1]) if place else 1.0
        return None if time > self.last and share > 0 else share

    def band(self, level: float = 0.95) -> tuple[Floats, Floats]:
        """Return bounds of the survival at each time, from the logarithm of its own negative logarithm.

        Once no life runs any more there is no standard error: the band keeps its upper edge and reaches to 0.

        Parameters
        ----------
        level : float
            Confidence at each time. [1]

        Returns
        -------
        tuple of array
            Lower and upper bound, always between 0 and 1. [1]

        Raises
        ------
        Refused
            If the confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Kalbfleisch and Prentice (2002), The Statistical Analysis of Failure Time Data, 2nd ed., 1.4.1.
        """
        width = normal_width(level)
        lower, upper = np.zeros_like(self.survival), np.ones_like(self.survival)
        some = self.survival > 0
        share, error = self.survival[some], self.standard_error[some]
        power = width * error / (share * np.log(share))
        lower[some], upper[some] = share ** np.exp(-power), share ** np.exp(power)
        if some.any():
            upper[~some] = upper[some][-1]
        return lower, upper

    def quantile(self, share: float, level: float = 0.95) -> tuple[float | None, float | None, float | None]:
        """Return the time by which a share of the lives has ended, with its bounds.

        Parameters
        ----------
        share : float
            Share that has ended; 0.5 for the median. [1]
        level : float
            Confidence of the bounds. [1]

        Returns
        -------
        tuple of float or None
            Time, lower and upper bound; None where the lives are too short to say. [unit of the times]

        Raises
        ------
        Refused
            If share or confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Brookmeyer and Crowley (1982), Biometrics 38:29-41.
        """
        check_share(share)
        lower, upper = self.band(level)
        return self._first(self.survival, share), self._first(lower, share), self._first(upper, share)

    def median(self, level: float = 0.95) -> tuple[float | None, float | None, float | None]:
        """Return the time by which half of the lives has ended, with its bounds.

        Parameters
        ----------
        level : float
            Confidence of the bounds. [1]

        Returns
        -------
        tuple of float or None
            Time, lower and upper bound; None where the lives are too short to say. [unit of the times]

        Raises
        ------
        Refused
            If the confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Brookmeyer and Crowley (1982), Biometrics 38:29-41.
        """
        return self.quantile(0.5, level)

    def _first(self, curve: Floats, share: float) -> float | None:
        # A product of fractions comes out a rounding above the share it equals.
        below = np.flatnonzero(curve <= (1.0 - share) * (1.0 + 1e-12))
        return float(self.times[below[0]]) if below.size else None


def kaplan_meier(times: Sequence[float], observed: Sequence[bool]) -> KaplanMeier:
    """Return the share of lives that outlast each time at which one ended.

    A life that stops being watched at the time another ends counts as running at that time.

    Parameters
    ----------
    times : sequence of float
        Length of each life so far, above 0. [any one unit, such as shots]
    observed : sequence of bool
        True where the life has ended at that time, False where it still runs.

    Returns
    -------
    KaplanMeier
        Times of ended lives [unit of the times], survival and its standard error [1].

    Raises
    ------
    Refused
        If lengths differ, there is none, or a life is not above 0.

    References
    ----------
    .. [1] Kaplan and Meier (1958), J. Am. Stat. Assoc. 53:457-481.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, 8.2.1.5.
    .. [3] Greenwood (1926), The Natural Duration of Cancer, the standard error.
    """
    given = lives(times, observed)
    exact = given.exact
    at, ended = given.lower[exact], given.count[exact]
    order = np.argsort(given.lower)
    before = np.concatenate(([0.0], np.cumsum(given.count[order])))
    at_risk = before[-1] - before[np.searchsorted(given.lower[order], at, side="left")]
    left = at_risk - ended
    survival = np.cumprod(left / at_risk)
    # Where none is left the share is 0 and its error is not asked for.
    greenwood = np.cumsum(ended / (at_risk * np.maximum(left, 1.0)))
    error = survival * np.sqrt(greenwood)
    last = float(given.lower.max())
    return KaplanMeier(at, survival, error, at_risk.astype(np.int64), ended.astype(np.int64), last)
