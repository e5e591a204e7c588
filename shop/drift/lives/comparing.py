"""Two groups of lives: do they differ, and by which factor: what a better coating, steel, house or polisher changed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize_scalar
from scipy.special import chdtrc

from shop.drift.lives.given import Lives, lives, normal_width
from shop.drift.lives.likelihood import Peak, bounds, fit
from shop.refusal import Refused, gettext_noop

_REACH = 3.0


@dataclass(frozen=True)
class LogRank:
    """Ended lives of two groups against what would be expected if both were one; `p_value` is the chance of more."""

    ended: tuple[float, float]
    expected: tuple[float, float]
    chi_square: float
    p_value: float


@dataclass(frozen=True)
class RatioOfLives:
    """How many times as long the second group's lives are as the first's, when both have one shape.

    `p_value` is the chance of so much if the ratio were 1; `same_shape_p` that of shapes so different if they were one,
    None where a group alone tells no shape. Bounds are infinite or 0 where the lives set none.
    """

    ratio: float
    lower: float
    upper: float
    p_value: float
    shape: float
    same_shape_p: float | None


def log_rank(
    first_times: Sequence[float],
    first_observed: Sequence[bool],
    second_times: Sequence[float],
    second_observed: Sequence[bool],
) -> LogRank:
    """Test whether two groups of lives, ended or running, differ, without a law for either.

    Parameters
    ----------
    first_times, second_times : sequence of float
        Length of each life so far, above 0. [any one unit, such as shots]
    first_observed, second_observed : sequence of bool
        True where the life has ended at that time, False where it still runs.

    Returns
    -------
    LogRank
        Ended and expected lives of each group [lives], chi-square and its chance [1].

    Raises
    ------
    Refused
        If the lives are impossible, or at no end were both groups running.

    References
    ----------
    .. [1] Mantel (1966), Cancer Chemotherapy Reports 50:163-170; Peto and Peto (1972), J. R. Stat. Soc. A 135:185-207.
    """
    groups = lives(first_times, first_observed), lives(second_times, second_observed)
    at = np.unique(np.concatenate([group.lower[group.exact] for group in groups]))
    risk = [np.array([group.count[group.lower >= t].sum() for t in at]) for group in groups]
    ended = [np.array([group.count[group.exact & (group.lower == t)].sum() for t in at]) for group in groups]
    both, all_ended = risk[0] + risk[1], ended[0] + ended[1]
    expected = float((all_ended * risk[0] / both).sum())
    spread = all_ended * risk[0] * risk[1] * (both - all_ended) / (both**2 * np.maximum(both - 1.0, 1.0))
    variance = float(spread.sum())
    if not variance > 0:
        raise Refused(
            "lives.never_together",
            gettext_noop("No life ended while both groups were running, so they cannot be compared."),
            next_step=gettext_noop("Wait for more lives to end."),
        )
    seen = float(ended[0].sum())
    chi_square = (seen - expected) ** 2 / variance
    total = float(all_ended.sum())
    return LogRank((seen, total - seen), (expected, total - expected), chi_square, float(chdtrc(1.0, chi_square)))


def ratio_of_lives(first: Lives, second: Lives, level: float = 0.95) -> RatioOfLives:
    """Estimate how many times as long the lives of a second group are, by Weibull laws of one shape.

    Parameters
    ----------
    first : Lives
        The group that is compared with, from `lives` or `lives_between`.
    second : Lives
        The group that is asked about. [same unit]
    level : float
        Confidence of the bounds, by the likelihood's ratio. [1]

    Returns
    -------
    RatioOfLives
        Ratio, its bounds and chances. [1]

    Raises
    ------
    Refused
        If a group has no ended life, or both together tell no shape.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, 17.3; Lawless (2003), 2nd ed., 6.3.
    """
    width = normal_width(level)
    for group in (first, second):
        if group.ended < 1:
            raise Refused(
                "lives.group_none_ended",
                gettext_noop("In one of the two groups no life has ended, so there is no ratio."),
                next_step=gettext_noop("Wait for a life to end."),
            )
    seen = float(second.count[second.exact].sum())

    near: Peak | None = None

    def peak(log_ratio: float) -> Peak:
        # Lives divided by the ratio are lives of the first group.
        nonlocal near
        near = fit(_together(first, second, math.exp(log_ratio)), near=near)
        return near

    def profile(log_ratio: float) -> float:
        # A density is stretched as its time is.
        return peak(log_ratio).log_likelihood - seen * log_ratio

    start = math.log(fit(second, shape=1.0).scale / fit(first, shape=1.0).scale)
    found = minimize_scalar(
        lambda value: -profile(value),
        bounds=(start - _REACH, start + _REACH),
        method="bounded",
        options={"xatol": 1e-7},
    )
    at, top = float(found.x), -float(found.fun)
    shape = peak(at).shape
    step = width / shape * math.sqrt(1.0 / first.ended + 1.0 / second.ended)
    lower, upper = bounds(profile, at, step, top, width)
    p_value = float(chdtrc(1.0, max(0.0, 2.0 * (top - profile(0.0)))))
    far = math.exp(upper) if upper < math.inf else math.inf
    return RatioOfLives(math.exp(at), math.exp(lower), far, p_value, shape, _same_shape(first, second, top))


def _together(first: Lives, second: Lives, ratio: float) -> Lives:
    return Lives(
        np.concatenate((first.lower, second.lower / ratio)),
        np.concatenate((first.upper, second.upper / ratio)),
        np.concatenate((first.count, second.count)),
    )


def _same_shape(first: Lives, second: Lives, top: float) -> float | None:
    try:
        apart = fit(first).log_likelihood + fit(second).log_likelihood
    except Refused:
        return None
    return float(chdtrc(1.0, max(0.0, 2.0 * (apart - top))))
