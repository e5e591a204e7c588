"""A straight line through the readings of one finish life."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shop.refusal import Refused, gettext_noop

# Up to so many readings are added without any rounding: published fits are met to all their digits.
ADDED_EXACTLY = 1_000
Column = Sequence[float] | NDArray[np.float64]


@dataclass(frozen=True)
class Line:
    """A least squares line: value = intercept + slope * shots.

    `se_*` are standard errors, `residual_sd` the scatter about the line with `df` degrees of freedom; with as many
    readings as coefficients the line stands and its spread is unknown (None). `mean_x` and `sxx` let the line be
    predicted from without its readings; through the origin they are 0 and the sum of squared shots.
    """

    intercept: float
    slope: float
    se_intercept: float | None
    se_slope: float | None
    residual_sd: float | None
    n: int
    df: int
    mean_x: float
    sxx: float
    through_origin: bool = False

    def predict(self, shots: float) -> tuple[float, float | None]:
        """Return the line's mean at a count of shots, and the standard error of that mean.

        Parameters
        ----------
        shots : float
            Shots of the life. [shots]

        Returns
        -------
        tuple of float
            Mean and its standard error, None where the spread is unknown. [unit of the values]

        References
        ----------
        .. [1] Draper and Smith (1998), Applied Regression Analysis, 3rd ed., 1.4.
        """
        mean = self.intercept + self.slope * shots
        if self.residual_sd is None:
            return mean, None
        own = 0.0 if self.through_origin else 1.0 / self.n
        away = shots - self.mean_x
        return mean, self.residual_sd * math.sqrt(own + away * away / self.sxx)

    def seen_from(self, shots: float) -> Line:
        """Return the same line with its shots counted from another start.

        Parameters
        ----------
        shots : float
            The new nought. [shots]

        Returns
        -------
        Line
            Of the same mean, spread and degrees of freedom at every count.

        Raises
        ------
        Refused
            If the line goes through the origin, which is where its shots are counted from.

        References
        ----------
        .. [1] Draper and Smith (1998), Applied Regression Analysis, 3rd ed., 1.4.
        """
        if self.through_origin:
            raise Refused(
                "trend.origin_fixed",
                gettext_noop("A line through the origin counts its shots from there."),
                next_step=gettext_noop("Fit the line with its own intercept."),
            )
        mean, error = self.predict(shots)
        return replace(self, intercept=mean, se_intercept=error, mean_x=self.mean_x - shots)


def fit_line(shots: Column, values: Column, through_origin: bool = False) -> Line:
    """Fit a least squares line to readings over shots.

    Parameters
    ----------
    shots : sequence of float
        Shots of the life at each reading. [shots]
    values : sequence of float
        The readings. [any one unit]
    through_origin : bool
        Whether the line is held at 0 for 0 shots.

    Returns
    -------
    Line
        Intercept, residual and standard error [unit of the values]; slope [unit of the values per shot].

    Raises
    ------
    Refused
        If lengths differ, a number is not finite, there are too few readings, or all are at the same shots.

    References
    ----------
    .. [1] NIST Statistical Reference Datasets, linear regression: Norris and NoInt1.
    """
    x, y = _checked(shots, values, through_origin)
    n, df = len(x), len(x) - (1 if through_origin else 2)
    # Centred sums, added without rounding: normal equations on raw shots would lose the digits that decide.
    mean_x = 0.0 if through_origin else _total(x) / n
    mean_y = 0.0 if through_origin else _total(y) / n
    away = x - mean_x
    sxx = _total(away * away)
    slope = _total(away * (y - mean_y)) / sxx
    intercept = 0.0 if through_origin else mean_y - slope * mean_x
    if df == 0:
        return Line(intercept, slope, None, None, None, n, df, mean_x, sxx, through_origin)
    residuals = (y - mean_y) - slope * away
    sd = math.sqrt(_total(residuals * residuals) / df)
    se_slope = sd / math.sqrt(sxx)
    se_intercept = 0.0 if through_origin else sd * math.sqrt(1.0 / n + mean_x * mean_x / sxx)
    return Line(intercept, slope, se_intercept, se_slope, sd, n, df, mean_x, sxx, through_origin)


def _total(parts: NDArray[np.float64]) -> float:
    """Return a sum without rounding; of very many parts in pairs, which rounds in the last digits only."""
    return math.fsum(parts) if parts.size <= ADDED_EXACTLY else float(parts.sum())


def _checked(
    shots: Column, values: Column, through_origin: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    x, y = np.asarray(shots, dtype=np.float64), np.asarray(values, dtype=np.float64)
    if x.ndim != 1 or x.shape != y.shape:
        raise Refused(
            "trend.lengths_differ",
            gettext_noop("{shots} shot counts and {values} values are no pairs."),
            next_step=gettext_noop("Give one shot count for each value."),
            shots=x.size,
            values=y.size,
        )
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise Refused(
            "trend.not_a_number",
            gettext_noop("A reading or its shot count is not a number."),
            next_step=gettext_noop("Correct the reading."),
        )
    least = 2
    if x.size < least:
        raise Refused(
            "trend.too_few",
            gettext_noop("{count} readings make no line; {limit} are needed."),
            next_step=gettext_noop("Measure again after more shots."),
            count=x.size,
            limit=least,
        )
    if (x == (0.0 if through_origin else x[0])).all():
        raise Refused(
            "trend.same_shots",
            gettext_noop("All readings were taken at the same shots, {value}."),
            next_step=gettext_noop("Measure again after more shots."),
            value=float(x[0]),
        )
    return x, y
