"""A law for lives: Weibull's, fitted by maximum likelihood to ended, running and interval-censored lives."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize_scalar
from scipy.special import gammaln

from shop.drift.lives.given import Floats, Lives, check_share, lives, lives_between, normal_width
from shop.drift.lives.likelihood import bounds, fit, log_likelihood
from shop.refusal import Refused, gettext_noop

# How far from its estimate the logarithm of the shape is searched for along a profile.
_REACH = 4.0


@dataclass(frozen=True)
class Interval:
    """An estimate between two bounds; the lower is 0 and the upper infinite where the lives set none."""

    estimate: float
    lower: float
    upper: float


@dataclass(frozen=True)
class Weibull:
    """A Weibull law: the share exp(-(t / scale) ** shape) of lives outlasts t.

    `covariance` is that of scale and shape, from the observed information; where the shape was given, its row is 0.
    A shape above 1 says that faces wear out, 1 that they fail by chance, below 1 that they fail early.
    """

    shape: float
    scale: float
    log_likelihood: float
    covariance: NDArray[np.float64]
    given: Lives
    shape_given: bool = False

    @property
    def se_shape(self) -> float:
        """Return the standard error of the shape. [1]"""
        return math.sqrt(float(self.covariance[1, 1]))

    @property
    def se_scale(self) -> float:
        """Return the standard error of the scale. [unit of the lives]"""
        return math.sqrt(float(self.covariance[0, 0]))

    def survival_at(self, time: float) -> float:
        """Return the share of lives that outlasts a time.

        Parameters
        ----------
        time : float
            A length of life, 0 or more. [unit of the lives]

        Returns
        -------
        float
            Share. [1]

        References
        ----------
        .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 4.8.
        """
        return math.exp(-((time / self.scale) ** self.shape)) if time > 0 else 1.0

    def band(self, time: float, level: float = 0.95) -> tuple[float, float]:
        """Return bounds of the share of lives that outlasts a time.

        Parameters
        ----------
        time : float
            A length of life, 0 or more. [unit of the lives]
        level : float
            Confidence at this time. [1]

        Returns
        -------
        tuple of float
            Lower and upper bound. [1]

        Raises
        ------
        Refused
            If the confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.4.3.
        """
        width = normal_width(level)
        if time <= 0:
            return 1.0, 1.0
        u = self.shape * math.log(time / self.scale)
        change = np.array([-self.shape / self.scale, u / self.shape])
        error = width * math.sqrt(max(0.0, float(change @ self.covariance @ change)))
        # Far from the lives the band is as wide as can be, and exp would overflow.
        return math.exp(-math.exp(min(u + error, 700.0))), math.exp(-math.exp(min(u - error, 700.0)))

    def quantile(self, share: float, level: float = 0.95) -> Interval:
        """Return the time by which a share of the lives has ended, with bounds by the likelihood's ratio.

        Parameters
        ----------
        share : float
            Share that has ended; 0.1 for the time nine of ten outlast. [1]
        level : float
            Confidence of the bounds. [1]

        Returns
        -------
        Interval
            Time and bounds. [unit of the lives]

        Raises
        ------
        Refused
            If share or confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.3.
        """
        check_share(share)
        behind = math.log(-math.log1p(-share))
        return self._profiled(lambda b: behind * math.exp(-b), level)

    def mean(self, level: float = 0.95) -> Interval:
        """Return the mean life, such as the mean shots between refinishes, with bounds by the likelihood's ratio.

        Parameters
        ----------
        level : float
            Confidence of the bounds. [1]

        Returns
        -------
        Interval
            Mean and bounds. [unit of the lives]

        Raises
        ------
        Refused
            If the confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 4.8 and 8.3.
        """
        return self._profiled(lambda b: float(gammaln(1.0 + math.exp(-b))), level)

    def scale_interval(self, level: float = 0.95) -> Interval:
        """Return the scale, by which 63.2 % of the lives have ended, with bounds by the likelihood's ratio.

        Parameters
        ----------
        level : float
            Confidence of the bounds. [1]

        Returns
        -------
        Interval
            Scale and bounds. [unit of the lives]

        Raises
        ------
        Refused
            If the confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.3.
        """
        return self._profiled(lambda _: 0.0, level)

    def shape_interval(self, level: float = 0.95) -> Interval:
        """Return the shape with bounds by the likelihood's ratio.

        Parameters
        ----------
        level : float
            Confidence of the bounds. [1]

        Returns
        -------
        Interval
            Shape and bounds; no width where the shape was given. [1]

        Raises
        ------
        Refused
            If the confidence lies outside 0 to 1.

        References
        ----------
        .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.3.
        """
        width = normal_width(level)
        if self.shape_given:
            return Interval(self.shape, self.shape, self.shape)
        at, step = math.log(self.shape), width * self.se_shape / self.shape

        def profile(b: float) -> float:
            return fit(self.given, shape=math.exp(b)).log_likelihood

        lower, upper = bounds(profile, at, step, self.log_likelihood, width)
        return Interval(self.shape, math.exp(lower), math.exp(upper))

    def _profiled(self, behind: Callable[[float], float], level: float) -> Interval:
        """Return exp(log scale + behind(log shape)) with its bounds: the shape gives way as far as it must."""
        width = normal_width(level)
        b = math.log(self.shape)
        at = math.log(self.scale) + behind(b)
        change = np.array([1.0 / self.scale, (behind(b + 1e-5) - behind(b - 1e-5)) / 2e-5 / self.shape])
        step = width * math.sqrt(float(change @ self.covariance @ change))

        def profile(value: float) -> float:
            if self.shape_given:
                return log_likelihood(self.given, value - behind(b), b)
            found = minimize_scalar(
                lambda c: -log_likelihood(self.given, value - behind(c), c),
                bounds=(b - _REACH, b + _REACH),
                method="bounded",
                options={"xatol": 1e-6},
            )
            return -float(found.fun)

        lower, upper = bounds(profile, at, step, self.log_likelihood, width)
        return Interval(math.exp(at), math.exp(lower), math.exp(upper) if upper < math.inf else math.inf)


def weibull(times: Sequence[float], observed: Sequence[bool], shape: float | None = None) -> Weibull:
    """Fit a Weibull law to lives that have ended or still run.

    Parameters
    ----------
    times : sequence of float
        Length of each life so far, above 0. [any one unit, such as shots]
    observed : sequence of bool
        True where the life has ended at that time, False where it still runs.
    shape : float, optional
        Given where it is known from other faces; 1 is the exponential law. [1]

    Returns
    -------
    Weibull
        Shape [1] and scale [unit of the times].

    Raises
    ------
    Refused
        If the lives are impossible, or too few have ended to tell a law by.

    References
    ----------
    .. [1] NIST/SEMATECH e-Handbook of Statistical Methods, 8.4.1.3.
    .. [2] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 8.
    """
    return _fitted(lives(times, observed), shape)


def weibull_interval(lower: Sequence[float], upper: Sequence[float], shape: float | None = None) -> Weibull:
    """Fit a Weibull law to lives that ended after one look and by the next.

    Parameters
    ----------
    lower : sequence of float
        The last look at which each life still ran, 0 or more. [any one unit, such as shots]
    upper : sequence of float
        The first at which it had ended; the same where its end was seen, infinite where it still runs. [same unit]
    shape : float, optional
        Given where it is known from other faces; 1 is the exponential law. [1]

    Returns
    -------
    Weibull
        Shape [1] and scale [unit of the bounds].

    Raises
    ------
    Refused
        If the lives are impossible, or too few have ended to tell a law by.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 7.2 and 8.
    """
    return _fitted(lives_between(lower, upper), shape)


def _fitted(given: Lives, shape: float | None) -> Weibull:
    if shape is not None and not (math.isfinite(shape) and shape > 0):
        raise Refused(
            "lives.shape",
            gettext_noop("A shape of {value} is none; it lies above {limit}."),
            next_step=gettext_noop("Give 1 for failing by chance, or leave it out."),
            value=shape,
            limit=0,
        )
    found = fit(given, shape=shape)
    size: Floats = np.array([found.scale, found.shape])
    return Weibull(
        found.shape,
        found.scale,
        found.log_likelihood,
        found.covariance * np.outer(size, size),
        given,
        shape_given=shape is not None,
    )
