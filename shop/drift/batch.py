"""Many faces of one group at once, for the sweep; each as `courses.forecast_by` gives it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from shop.drift.courses import Course
from shop.drift.crossing import Direction
from shop.drift.forecast import NEVER_SHOTS
from shop.drift.pooling import Floats, Sums
from shop.drift.rates import Group, posterior

# So many faces at a time fit the processor's cache.
CHUNK = 4_000
# A node that holds less than this of the belief moves no chance that is asked for.
LEAST_WEIGHT = 1e-5
# A chance is met when its normal score is; a score of 0.01 is 0.002 of the 10 % chance.
CLOSE_SCORE = 0.006
CLOSE_LOG = 1e-5
ROUNDS = 60
# Half the stretch over which the score's climb is first taken, and what it is held between.
NEAR, SLOPES = 0.05, (0.2, 200.0)
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Ahead:
    """By face: the chance of having reached the limit now, and what is left until each chance; infinite is never."""

    now: Floats
    left: Floats


@dataclass(frozen=True)
class _Mixture:
    """Faces by nodes: the weight of each, and its score at a count of shots as `offset + climb * shots ** power`."""

    weight: Floats
    offset: Floats
    climb: Floats
    power: Floats

    def chance(self, shots: Floats) -> Floats:
        """Return each face's chance at its own count of shots, in the group's scale."""
        raised = shots[:, None] if (self.power == 1.0).all() else shots[:, None] ** self.power
        return np.asarray(np.einsum("fn,fn->f", self.weight, ndtr(self.offset + self.climb * raised)))

    def of(self, faces: NDArray[np.bool_] | Ints) -> _Mixture:
        """Return some of the faces."""
        return _Mixture(self.weight[faces], self.offset[faces], self.climb[faces], self.power)


def ahead(
    known: Sequence[Course],
    shots: Floats,
    values: Floats,
    offsets: Ints,
    limit: float,
    direction: Direction,
    *,
    now: Floats,
    chances: Sequence[float],
    weights: Floats | None = None,
) -> Ahead:
    """Forecast the faces of a group from where they are now.

    Parameters
    ----------
    known : sequence of Course
        The group, as `shop.drift.courses.learn` gives it. [mixed]
    shots : array of float
        Shots of the life at each reading, face after face. [shots]
    values : array of float
        The readings in the same order. [any one unit]
    offsets : array of int
        Where each face begins, and at the end the count of all readings. [index]
    limit : float
        The limit. [unit of the values]
    direction : "up" or "down"
        Where harm lies.
    now : array of float
        Shots of each face's life until now. [shots]
    chances : sequence of float
        Which chances to look up, each between 0 and 1. [1]
    weights : array of float, optional
        The readings' precisions. [1]

    Returns
    -------
    Ahead
        Within 1 % of what `forecast_by` gives, or 20 shots. [shots]

    References
    ----------
    .. [1] `shop.drift.courses.forecast_by`, with which it agrees.
    .. [2] Press et al. (2007), Numerical Recipes, 3rd ed., 9.4, a root kept inside its bracket.
    """
    sign = 1.0 if direction == "up" else -1.0
    scale = known[0].scale
    sums = [_sums(shots, sign * values, offsets, weights, one) for one in known]
    found_now, found_left = np.empty(len(now)), np.empty((len(now), len(chances)))
    for first in range(0, len(now), CHUNK):
        part = np.arange(first, min(first + CHUNK, len(now)))
        mixture = _mixture(known, [one.of(part) for one in sums], sign * limit)
        found_now[part], found_left[part] = _left(mixture, now[part] / scale, chances, NEVER_SHOTS / scale)
    return Ahead(found_now, found_left * scale)


def _sums(shots: Floats, values: Floats, offsets: Ints, weights: Floats | None, course: Course) -> Sums:
    faces = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
    weight = np.ones(len(shots)) if weights is None else weights
    x = shots / course.scale
    x = x if course.power == 1.0 else x**course.power

    def total(parts: Floats) -> Floats:
        return np.asarray(np.bincount(faces, weights=parts, minlength=len(offsets) - 1), dtype=np.float64)

    wx, wy = weight * x, weight * values
    return Sums(
        total(weight), total(wx), total(wx * x), total(wy), total(wx * values), total(wy * values),
        np.diff(offsets).astype(float), course.scale, course.power,
    )  # fmt: skip


def _mixture(known: Sequence[Course], sums: Sequence[Sums], harm: float) -> _Mixture:
    """Return every face's nodes over all that is believed of the group."""
    weights, offsets, climbs, powers = [], [], [], []
    for course, of_faces in zip(known, sums, strict=True):
        draws = Group(course.hyper, course.covariance, course.faces).draws()
        for draw in draws:
            told = posterior(of_faces, draw)
            sd = np.sqrt(told.start_var)[:, None]
            weights.append(told.weight * (course.belief / len(draws)))
            offsets.append((told.start - harm) / sd)
            climbs.append(told.rate / sd)
            powers.append(np.full(told.rate.shape[1], course.power))
    weight, offset, climb = (np.concatenate(each, axis=1) for each in (weights, offsets, climbs))
    power = np.concatenate(powers)
    # Nodes that hold nothing for any of these faces are left out: most, where readings know the rate well.
    held = weight.max(axis=0) > LEAST_WEIGHT
    return _Mixture(weight[:, held], offset[:, held], climb[:, held], power[held])


def _left(mixture: _Mixture, now: Floats, chances: Sequence[float], never: float) -> tuple[Floats, Floats]:
    """Return the chance now, and what is left until each chance, in the group's scale."""
    at_now = mixture.chance(now)
    left = np.zeros((len(now), len(chances)))
    begin = np.log(np.maximum(now, never * 1e-16))
    middle = np.maximum(np.log(_median(mixture)), begin + 0.01)
    reach = _reach(mixture, middle)
    for column, chance in enumerate(chances):
        waiting = np.flatnonzero(at_now < chance)
        if len(waiting):
            guess = middle[waiting] + float(ndtri(chance)) * reach[waiting]
            found = _solved(mixture.of(waiting), begin[waiting], guess, reach[waiting], chance, float(np.log(never)))
            left[waiting, column] = np.maximum(np.exp(found) - now[waiting], 0.0)
    return at_now, left


def _scores(mixture: _Mixture, log_shots: Floats) -> Floats:
    return np.asarray(ndtri(np.clip(mixture.chance(np.exp(log_shots)), 1e-15, 1 - 1e-15)))


def _reach(mixture: _Mixture, middle: Floats) -> Floats:
    """Return by how much the logarithm of the shots grows with a score, where the middle is thought to be."""
    slope = (_scores(mixture, middle + NEAR) - _scores(mixture, middle - NEAR)) / (2 * NEAR)
    return 1.0 / np.clip(slope, *SLOPES)


def _median(mixture: _Mixture) -> Floats:
    """Return about where each face meets its limit: the course of its mean rate."""
    with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
        rate = np.einsum("fn,fn->f", mixture.weight, mixture.climb)
        away = -np.einsum("fn,fn->f", mixture.weight, mixture.offset)
        found = (np.maximum(away, 1e-12) / rate) ** (1.0 / float(mixture.power.mean()))
    return np.where(np.isfinite(found) & (found > 0), found, 1.0)


def _solved(
    mixture: _Mixture, low: Floats, guess: Floats, reach: Floats, chance: float, last: float
) -> Floats:
    """Return the logarithm of the shots at which the chance is met, above `low`; infinite beyond `last`.

    Secants on the score, which is nearly straight over the logarithm, kept inside what is known to bracket the root.
    """
    score = float(ndtri(chance))
    found = np.full(len(low), np.inf)
    open_yet = np.arange(len(low))
    below, above = low.copy(), np.full(len(low), np.inf)
    at = np.clip(guess, low + 1e-3, last)
    before, f_before, slope = at.copy(), np.full(len(low), np.nan), 1.0 / reach
    for _ in range(ROUNDS):
        f = _scores(mixture.of(open_yet) if len(open_yet) < len(low) else mixture, at) - score
        over = f >= 0
        below, above = np.where(over, below, np.maximum(below, at)), np.where(over, np.minimum(above, at), above)
        found[open_yet] = at
        beyond = ~over & (at >= last)
        found[open_yet[beyond]] = np.inf
        done = beyond | (np.abs(f) <= CLOSE_SCORE) | (above - below < CLOSE_LOG)
        with np.errstate(invalid="ignore", divide="ignore"):
            seen = (f - f_before) / (at - before)
        slope = np.where(np.isfinite(seen) & (seen > 0), np.clip(seen, *SLOPES), slope)
        then = np.minimum(at - f / slope, last)
        outside = ~((then > below) & (then < above))
        then = np.where(outside, np.where(np.isfinite(above), (below + above) / 2, np.minimum(at + 1.0, last)), then)
        keep = ~done
        if not keep.any():
            break
        open_yet, below, above, slope = open_yet[keep], below[keep], above[keep], slope[keep]
        before, f_before, at = at[keep], f[keep], then[keep]
    return found
