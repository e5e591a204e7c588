"""What the faces of a group share: straight lines with intercepts and slopes that differ from face to face."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import minimize

from shop.refusal import Refused, gettext_noop

Floats = NDArray[np.float64]
Column = Sequence[float] | Floats
Readings = tuple[Column, Column]


@dataclass(frozen=True)
class Sums:
    """What a line needs to know of each face's readings, side by side; shots count as (shots / scale) ** power.

    Sums are weighted by the readings' precision, `n` is that of the weights, and `count` how many readings there are.
    """

    n: Floats
    x: Floats
    xx: Floats
    y: Floats
    xy: Floats
    yy: Floats
    count: Floats
    scale: float
    power: float = 1.0

    @property
    def df(self) -> float:
        """Return how many readings there are beyond the two that each face's own line takes. [readings]"""
        return float(np.maximum(self.count - 2, 0).sum())

    def of(self, faces: NDArray[np.int64]) -> Sums:
        """Return the same of some of the faces.

        Parameters
        ----------
        faces : array of int
            Which, from 0. [index]

        Returns
        -------
        Sums
            Of these faces, in that order. [unit of the values, shots in `scale`]

        References
        ----------
        .. [1] `sums_of`.
        """
        return Sums(
            self.n[faces], self.x[faces], self.xx[faces], self.y[faces], self.xy[faces], self.yy[faces],
            self.count[faces], self.scale, self.power,
        )  # fmt: skip


@dataclass(frozen=True)
class Pool:
    """A group's mean line, how its faces spread about it, and the scatter of a reading about its face's line.

    `correlation` is that of a face's intercept with its slope; 0 where one of them does not spread.
    """

    intercept_mean: float
    slope_mean: float
    se_intercept_mean: float
    se_slope_mean: float
    intercept_sd: float
    slope_sd: float
    correlation: float
    residual_sd: float
    faces: int
    readings: int


def sums_of(
    groups: Sequence[Readings],
    sign: float = 1.0,
    power: float = 1.0,
    weights: Sequence[Column] | None = None,
    scale: float | None = None,
) -> Sums:
    """Return the sums of each face's readings.

    Parameters
    ----------
    groups : sequence of (shots, values)
        Shots of the life at each reading [shots], and the readings [any one unit]; a face may have none.
    sign : float
        -1 turns the values over, so that a fall becomes a rise. [1]
    power : float
        What the shots are raised to before a line is drawn over them; other than 1 wants shots of 0 or more. [1]
    weights : sequence of array, optional
        The precision of each reading against the group's: a reading of weight 4 scatters half as far. [1]
    scale : float, optional
        Shots that count as one; else the largest count there is. [shots]

    Returns
    -------
    Sums
        In the order of the faces. [unit of the values, shots in `scale`]

    Raises
    ------
    Refused
        If there is no reading at all and no scale, a face's lengths differ, or a number is not finite.

    References
    ----------
    .. [1] Laird and Ware (1982), Biometrics 38:963-974.
    """
    faces = [_arrays(number, shots, values) for number, (shots, values) in enumerate(groups)]
    largest = scale or max((float(np.abs(x).max()) for x, _ in faces if len(x)), default=None)
    if largest is None:
        raise Refused(
            "pool.no_reading",
            gettext_noop("None of {count} faces has a reading."),
            next_step=gettext_noop("Measure some of them first."),
            count=len(faces),
        )
    unit = largest or 1.0
    alike = [np.ones(len(x)) for x, _ in faces]
    given = alike if weights is None else [np.asarray(one, dtype=float) for one in weights]
    rows = [
        (float(w.sum()), float(w @ x), float(w * x @ x), float(w @ y), float(w * x @ y), float(w * y @ y), len(x))
        for (x, y), w in zip((((x / unit) ** power, sign * y) for x, y in faces), given, strict=True)
    ]
    n, sx, sxx, sy, sxy, syy, count = np.asarray(rows, dtype=float).T
    return Sums(n, sx, sxx, sy, sxy, syy, count, unit, power)


def fit_pool(groups: Sequence[Readings]) -> Pool:
    """Fit a straight line with random, correlated intercepts and slopes by restricted maximum likelihood.

    Parameters
    ----------
    groups : sequence of (shots, values)
        One pair of arrays a face: shots of the life at each reading [shots], and the readings [any one unit].

    Returns
    -------
    Pool
        Means, their standard errors and spreads [unit of the values; per shot for the slope].

    Raises
    ------
    Refused
        If there are fewer than two faces, fewer than two with two readings, or no reading beyond the lines.

    References
    ----------
    .. [1] Laird and Ware (1982), Biometrics 38:963-974.
    .. [2] Patterson and Thompson (1971), Biometrika 58:545-554, restricted likelihood.
    .. [3] Bates et al. (2015), J. Stat. Softw. 67(1), profiled criterion with relative covariance factor.
    """
    sums = sums_of(groups)
    with_line = int((sums.count >= 2).sum())
    if with_line < 2 or sums.df < 1:
        raise Refused(
            "pool.too_thin",
            gettext_noop("{count} faces have a line of their own: too few to say how faces differ."),
            next_step=gettext_noop("Pool a wider group, or measure more."),
            count=with_line,
            limit=2,
        )
    fitted = _Profiled(sums)
    best = min(
        (
            minimize(
                fitted.criterion, start, method="Nelder-Mead",
                options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 6000, "maxfev": 6000},
            )
            for start in ((1.0, 0.0, 1.0), (0.2, 0.0, 0.2))
        ),
        key=lambda found: float(found.fun),
    )  # fmt: skip
    return fitted.pool(best.x)


class _Profiled:
    """The restricted likelihood of a group with mean line and residual scatter profiled out."""

    def __init__(self, sums: Sums) -> None:
        """Keep each face's cross products."""
        self.sums = sums
        self.total = float(sums.n.sum())
        self.s = np.stack([np.stack([sums.n, sums.x], -1), np.stack([sums.x, sums.xx], -1)], -2)
        # Values from their own mean: the criterion takes differences of squares.
        self.mean = float(sums.y.sum() / self.total)
        self.xy = np.stack([sums.y - sums.n * self.mean, sums.xy - sums.x * self.mean], -1)
        self.yy = sums.yy - 2 * self.mean * sums.y + sums.n * self.mean**2

    def criterion(self, theta: ArrayLike) -> float:
        """Return the deviance at a relative covariance factor."""
        log_m, a, b, c = self._solved(np.asarray(theta, dtype=float))
        sign, log_a = np.linalg.slogdet(a)
        if sign <= 0:
            return math.inf
        rest = c - float(b @ np.linalg.solve(a, b))
        df = self.total - 2
        return log_m + float(log_a) + df * math.log(max(rest, 1e-300) / df)

    def pool(self, theta: ArrayLike) -> Pool:
        """Return the group at the factor that was found."""
        factor = np.asarray(theta, dtype=float)
        _, a, b, c = self._solved(factor)
        inverse = np.linalg.inv(a)
        beta = inverse @ b
        variance = max((c - float(b @ beta)) / (self.total - 2), 0.0)
        lower = _lower(factor)
        spread = variance * lower @ lower.T
        sd_a, sd_b = math.sqrt(spread[0, 0]), math.sqrt(spread[1, 1])
        together = sd_a * sd_b
        scale = self.sums.scale
        return Pool(
            intercept_mean=float(beta[0]) + self.mean,
            slope_mean=float(beta[1]) / scale,
            se_intercept_mean=math.sqrt(variance * inverse[0, 0]),
            se_slope_mean=math.sqrt(variance * inverse[1, 1]) / scale,
            intercept_sd=sd_a,
            slope_sd=sd_b / scale,
            correlation=float(spread[0, 1]) / together if together > 0 else 0.0,
            residual_sd=math.sqrt(variance),
            faces=len(self.sums.n),
            readings=int(self.total),
        )

    def _solved(self, theta: Floats) -> tuple[float, Floats, Floats, float]:
        """Return log |V|, X'V^-1 X, X'V^-1 y and y'V^-1 y, with V in units of the residual variance."""
        lower = _lower(theta)
        m = np.eye(2) + lower.T @ self.s @ lower
        sl, ly = self.s @ lower, self.xy @ lower
        inverse = np.linalg.inv(m)
        a = (self.s - sl @ inverse @ np.swapaxes(sl, -1, -2)).sum(0)
        b = (self.xy - np.einsum("fij,fjk,fk->fi", sl, inverse, ly)).sum(0)
        c = float((self.yy - np.einsum("fi,fij,fj->f", ly, inverse, ly)).sum())
        return float(np.log(np.linalg.det(m)).sum()), a, b, c


def _lower(theta: Floats) -> Floats:
    return np.array([[theta[0], 0.0], [theta[1], theta[2]]])


def _arrays(number: int, shots: Column, values: Column) -> tuple[Floats, Floats]:
    x, y = np.asarray(shots, dtype=float).ravel(), np.asarray(values, dtype=float).ravel()
    if len(x) != len(y):
        raise Refused(
            "pool.lengths",
            gettext_noop("Face {number} has {shots} counts of shots and {values} readings."),
            next_step=gettext_noop("Give one count for each reading."),
            number=number + 1,
            shots=len(x),
            values=len(y),
        )
    if not (np.isfinite(x).all() and np.isfinite(y).all()):
        raise Refused(
            "pool.not_finite",
            gettext_noop("Face {number} has a count or a reading that is not a number."),
            next_step=gettext_noop("Leave it out, or put it right."),
            number=number + 1,
        )
    return x, y
