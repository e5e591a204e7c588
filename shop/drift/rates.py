"""How fast the faces of a group wear: rates that are positive and spread by factors, found from all of them at once.

A face's true mean after x shots is a + b x towards harm. Across the group a is normal and b log-normal; a reading
scatters normally about its face's mean. Given b everything is normal and closed, so one dimension is left to be
summed over, the logarithm of the rate, for each face on nodes of its own.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from shop.drift.pooling import Floats, Sums

NODES = 40
# A group of so many faces is known well enough that ten draws of its parameters say the same as one.
WELL_KNOWN = 150
# How far the nodes reach: standard deviations of the prior, and of what the readings say.
REACH, REACH_READ = 5.5, 6.0
# A rate whose own readings know it to half of itself or better gets nodes about itself.
KNOWN = 0.5
# Weak priors, in natural logarithms: rates of one group differ by factors, rarely by none and rarely by hundreds.
SPREAD_OF_RATES, SPREAD_OF_RATES_SD = math.log(0.4), 0.8
SPREAD_OF_STARTS_SD = 1.5
MEAN_RATE_SD = 3.0


@dataclass(frozen=True)
class Hyper:
    """What a group is: starts (mean, spread), logarithm of the rate (mean, spread), and scatter of a reading.

    Rates are per `Sums.scale` shots, towards harm.
    """

    start_mean: float
    start_sd: float
    log_rate_mean: float
    log_rate_sd: float
    residual_sd: float

    def vector(self) -> Floats:
        """Return the parameters on the line where they are fitted: spreads by their logarithms.

        Returns
        -------
        array of 5 float
            In the order of the fields. [mixed]

        References
        ----------
        .. [1] Pinheiro and Bates (1996), Stat. Comput. 6:289-296, unconstrained parametrizations.
        """
        return np.array([
            self.start_mean, math.log(self.start_sd), self.log_rate_mean, math.log(self.log_rate_sd),
            math.log(self.residual_sd),
        ])  # fmt: skip


def hyper(vector: Floats) -> Hyper:
    """Return the group that a vector of fitted parameters stands for.

    Parameters
    ----------
    vector : array of 5 float
        As `Hyper.vector` gives it. [mixed]

    Returns
    -------
    Hyper
        The group. [unit of the values, per scale of shots]

    References
    ----------
    .. [1] `Hyper.vector`.
    """
    a, log_sa, m, log_s, log_sd = (float(value) for value in vector)
    return Hyper(a, math.exp(log_sa), m, math.exp(log_s), math.exp(log_sd))


@dataclass(frozen=True)
class Posterior:
    """What is known of each face: nodes of its rate with their weights, and its start given the rate.

    Arrays are faces by nodes, the start's variance faces alone.
    """

    log_rate: Floats
    rate: Floats
    weight: Floats
    start: Floats
    start_var: Floats
    log_likelihood: Floats


@dataclass(frozen=True)
class Group:
    """A fitted group, and the inverse of its information: how well its parameters are known.

    `log_evidence` tells one way of counting shots from another: the likelihood of the same readings with the
    parameters summed out, by the curvature at the peak, but for a constant.
    """

    hyper: Hyper
    covariance: Floats
    faces: int = 0
    log_evidence: float = 0.0

    def draws(self) -> list[Hyper]:
        """Return groups that stand, each with the same weight, for what is not known of the parameters.

        Returns
        -------
        list of Hyper
            Ten groups about the fitted one, of the same mean and covariance; the fitted one alone where so many faces
            speak that ten say the same. [mixed]

        References
        ----------
        .. [1] Arasaratnam and Haykin (2009), IEEE Trans. Autom. Control 54:1254-1269, cubature points.
        """
        if self.faces >= WELL_KNOWN:
            return [self.hyper]
        values, axes = np.linalg.eigh(self.covariance)
        root = axes * np.sqrt(np.clip(values, 0.0, None)) * math.sqrt(len(values))
        centre = self.hyper.vector()
        return [hyper(centre + side * root[:, column]) for column in range(len(values)) for side in (1.0, -1.0)]


def posterior(sums: Sums, group: Hyper) -> Posterior:
    """Return what each face's readings and its group say of its rate and its start.

    Parameters
    ----------
    sums : Sums
        Of the faces, with values that rise towards harm. [unit of the values]
    group : Hyper
        The group they belong to. [unit of the values, per scale of shots]

    Returns
    -------
    Posterior
        By face. [unit of the values, per scale of shots]

    References
    ----------
    .. [1] Lindley and Smith (1972), J. R. Stat. Soc. B 34:1-41, the linear part given the rate.
    .. [2] Trefethen and Weideman (2014), SIAM Rev. 56:385-458, the trapezoidal rule on a smooth peak.
    """
    var, var_a = group.residual_sd**2, group.start_sd**2
    shrink = var_a / (var + sums.n * var_a)
    away = sums.y - sums.n * group.start_mean
    yy = sums.yy - 2 * group.start_mean * sums.y + sums.n * group.start_mean**2 - shrink * away**2
    linear = (sums.xy - group.start_mean * sums.x - shrink * away * sums.x) / var
    square = np.maximum(sums.xx - shrink * sums.x**2, 0.0) / var
    log_rate, step = _nodes(linear, square, group)
    rate = np.exp(log_rate)
    distance = (log_rate - group.log_rate_mean) / group.log_rate_sd
    height = linear[:, None] * rate - 0.5 * square[:, None] * rate**2 - 0.5 * distance**2
    top = height.max(1, keepdims=True)
    weight = np.exp(height - top)
    total = weight.sum(1, keepdims=True)
    log_likelihood = (
        top[:, 0] + np.log(total[:, 0] * step / (group.log_rate_sd * math.sqrt(2 * math.pi)))
        - 0.5 * yy / var - sums.count * math.log(group.residual_sd) - 0.5 * np.log1p(sums.n * var_a / var)
    )  # fmt: skip
    start_var = 1.0 / (sums.n / var + 1.0 / var_a)
    start = start_var[:, None] * (
        (sums.y[:, None] - sums.x[:, None] * rate) / var + group.start_mean / var_a
    )
    return Posterior(log_rate, rate, weight / total, start, start_var, log_likelihood)


def fit_group(sums: Sums, *, first: Hyper, most: int = 400) -> Group:
    """Find a group's parameters from its faces, by their marginal likelihood with weak priors.

    Parameters
    ----------
    sums : Sums
        Of the faces, with values that rise towards harm. [unit of the values]
    first : Hyper
        Where to begin; its mean rate is also the centre of a very wide prior. [unit of the values, per scale]
    most : int
        How many faces are looked at: of more, so many spread evenly over them, since the rest adds no digit. [faces]

    Returns
    -------
    Group
        The parameters at the highest posterior, and their covariance there. [mixed]

    References
    ----------
    .. [1] Fisher's identity: the score is the posterior mean of the complete score; Louis (1982), J. R. Stat. Soc.
       B 44:226-233.
    .. [2] Chung et al. (2013), Psychometrika 78:685-709, weak priors that keep spreads off zero.
    """
    faces = len(sums.n)
    if faces > most:
        sums = sums.of(np.linspace(0, len(sums.n) - 1, most).astype(np.int64))
    unit = first.vector()
    width = np.array([first.residual_sd, 1.0, 1.0, 1.0, 1.0])

    def cost(at: Floats) -> tuple[float, Floats]:
        value, slope = _score(sums, unit + width * at, first)
        return -value, -width * slope

    found = minimize(
        cost, np.zeros(5), jac=True, method="L-BFGS-B", bounds=[(-1e3, 1e3), (-7, 7), (-25, 12), (-4, 2.5), (-7, 7)]
    )
    information = _information(lambda at: cost(at)[1], found.x)
    covariance = np.asarray(np.linalg.inv(information) * np.outer(width, width), dtype=float)
    evidence = -float(found.fun) + 0.5 * float(np.linalg.slogdet(covariance)[1])
    return Group(hyper(unit + width * found.x), covariance, faces, evidence)


def _score(sums: Sums, vector: Floats, first: Hyper) -> tuple[float, Floats]:
    """Return the logarithm of the posterior of the parameters, and its gradient."""
    group = hyper(vector)
    known = posterior(sums, group)
    u = (known.log_rate - group.log_rate_mean) / group.log_rate_sd
    mean_u = (known.weight * u).sum(1)
    mean_uu = (known.weight * u**2).sum(1)
    a = (known.start - group.start_mean) / group.start_sd
    mean_a = (known.weight * a).sum(1)
    mean_aa = (known.weight * a**2).sum(1) + known.start_var / group.start_sd**2
    scatter = (known.weight * _scatter(sums, known)).sum(1) / group.residual_sd**2
    slope = np.array([
        mean_a.sum() / group.start_sd, (mean_aa - 1).sum(), mean_u.sum() / group.log_rate_sd, (mean_uu - 1).sum(),
        (scatter - sums.count).sum(),
    ])  # fmt: skip
    value = float(known.log_likelihood.sum())
    for at, centre, sd in (
        (1, math.log(first.residual_sd), SPREAD_OF_STARTS_SD), (2, first.log_rate_mean, MEAN_RATE_SD),
        (3, SPREAD_OF_RATES, SPREAD_OF_RATES_SD),
    ):  # fmt: skip
        z = (float(vector[at]) - centre) / sd
        value -= 0.5 * z * z
        slope[at] -= z / sd
    return value, slope


def _scatter(sums: Sums, known: Posterior) -> Floats:
    """Return the squared scatter that is expected about each node's line."""
    n, x, xx, y, xy, yy = (part[:, None] for part in (sums.n, sums.x, sums.xx, sums.y, sums.xy, sums.yy))
    b, a = known.rate, known.start
    about = yy - 2 * b * xy + b**2 * xx - 2 * a * (y - b * x) + n * (a**2 + known.start_var[:, None])
    return np.asarray(np.maximum(about, 0.0))


def _nodes(linear: Floats, square: Floats, group: Hyper) -> tuple[Floats, Floats]:
    """Return each face's nodes of the logarithm of its rate, evenly spaced, and their spacing."""
    m, s = group.log_rate_mean, group.log_rate_sd
    with np.errstate(divide="ignore", invalid="ignore"):
        own = np.where(square > 0, linear / square, 0.0)
        sd = np.where(square > 0, 1.0 / np.sqrt(square), np.inf)
        known = np.where(own > 0, sd / own, np.inf)
        # The prior's range, cut where the readings forbid a faster rate.
        fastest = np.where(np.isfinite(sd), np.log(np.maximum(own, 0.0) + REACH_READ * sd), np.inf)
    low = np.full_like(own, m - REACH * s)
    high = np.minimum(m + REACH * s, np.maximum(fastest, low + 2 * s))
    sharp = known < KNOWN
    if sharp.any():
        low[sharp], high[sharp] = _about_its_own(linear[sharp], square[sharp], np.log(own[sharp]), known[sharp], m, s)
    step = (high - low) / (NODES - 1)
    return low[:, None] + step[:, None] * np.arange(NODES), step


def _about_its_own(
    linear: Floats, square: Floats, own: Floats, known: Floats, m: float, s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the range about the peak of a rate that its own readings know."""
    precision = 1 / s**2 + 1 / known**2
    peak = (m / s**2 + own / known**2) / precision
    for _ in range(4):
        rate = np.exp(peak)
        slope = linear * rate - square * rate**2 - (peak - m) / s**2
        bend = np.maximum(2 * square * rate**2 - linear * rate, 0.0) + 1 / s**2
        peak = peak + np.clip(slope / bend, -known, known)
    rate = np.exp(peak)
    sd = 1 / np.sqrt(np.maximum(2 * square * rate**2 - linear * rate, 0.0) + 1 / s**2)
    # The tail towards slow rates is the longer one.
    return peak - (REACH_READ + 12 * np.minimum(sd, KNOWN)) * sd, peak + REACH_READ * sd


def _information(gradient: Callable[[Floats], Floats], at: Floats) -> Floats:
    """Return the second derivatives at the peak, mended where the peak is too flat to be told from a ridge."""
    step = 1e-4
    rows = []
    for axis in range(len(at)):
        move = np.zeros_like(at)
        move[axis] = step
        rows.append((gradient(at + move) - gradient(at - move)) / (2 * step))
    square = np.array(rows)
    values, axes = np.linalg.eigh((square + square.T) / 2)
    # A standard deviation of at most 1.5 on the fitted scale: beyond it the curvature at the peak says nothing.
    return np.asarray((axes * np.maximum(values, 1 / 1.5**2)) @ axes.T)
