"""How much faster one resin wears a face than another, from faces that ran several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.special import ndtri

from shop.drift.pooling import Floats
from shop.refusal import Refused, gettext_noop

# How far what a plant says of a resin is to be trusted before its faces have spoken, in natural logarithms.
SEED_SD = 0.5
# A face tells resins apart from so many readings on: two go into its own start and rate.
LEAST_READINGS = 4
HELD = 0.8
ROUNDS = 3

Mixed = tuple[NDArray[np.float64], NDArray[np.float64]]


@dataclass(frozen=True)
class Severities:
    """What a shot of each resin counts, with the ends of its 80 % interval, and how many faces ran each."""

    severity: Floats
    low: Floats
    high: Floats
    faces: NDArray[np.int64]


def severities(faces: Sequence[Mixed], seeds: Sequence[float]) -> Severities:
    """Find what a shot of each resin counts, so that every face wears evenly over its weighted shots.

    Every face keeps a start and a rate of its own; what is shared is only how the resins compare. The scale as a
    whole is held by the seeds.

    Parameters
    ----------
    faces : sequence of (shots, values)
        A face's shots by resin at each reading, readings by resins [shots], and its readings [any one unit].
    seeds : sequence of float
        What a shot of each resin is said to count. [1]

    Returns
    -------
    Severities
        In the order of the resins. [1]

    Raises
    ------
    Refused
        If no face with readings enough ran more than one of the resins.

    References
    ----------
    .. [1] Golub and Pereyra (1973), SIAM J. Numer. Anal. 10:413-432, variable projection.
    .. [2] Morris (1983), J. Am. Stat. Assoc. 78:47-55, shrinking towards what was known before.
    """
    told = [_scaled(shots, values) for shots, values in faces if _tells(shots, values)]
    if not told:
        raise Refused(
            "severity.none_ran_two",
            gettext_noop("No face with {limit} readings ran more than one resin."),
            next_step=gettext_noop("Keep the severities as they are typed until one has."),
            limit=LEAST_READINGS,
        )
    first = np.log(np.asarray(seeds, dtype=float))
    at, sd, jacobian = first, 1.0, np.eye(len(first))
    for _ in range(ROUNDS):
        found = least_squares(_misfit, at, args=(told, first, sd))
        at, jacobian = np.asarray(found.x), np.asarray(found.jac)
        sd = _scatter(told, at)
    spread = np.sqrt(np.diag(np.linalg.inv(jacobian.T @ jacobian)))
    reach = float(ndtri(0.5 + HELD / 2)) * spread
    ran = np.sum([(shots.max(0) > 0) for shots, _values in told], axis=0).astype(np.int64)
    return Severities(np.exp(at), np.exp(at - reach), np.exp(at + reach), ran)


def _tells(shots: Floats, values: Floats) -> bool:
    used = np.ptp(shots, axis=0) > 0
    return len(values) >= LEAST_READINGS and int(used.sum()) >= 2


def _scaled(shots: Floats, values: Floats) -> Mixed:
    """Return a face with its values in units of their own scatter about an even line, so that faces weigh alike."""
    rest = _rest(shots.sum(1), values)
    sd = math.sqrt(float(rest @ rest) / max(len(values) - 2, 1)) or 1.0
    return shots, values / sd


def _rest(worn: Floats, values: Floats) -> Floats:
    """Return what is left of the values when a start and a rate of the face's own are taken off."""
    away, level = worn - worn.mean(), values - values.mean()
    square = float(away @ away)
    return np.asarray(level if square == 0 else level - away * (float(away @ level) / square))


def _misfit(log_s: Floats, told: Sequence[Mixed], seeds: Floats, sd: float) -> Floats:
    weight = np.exp(log_s)
    rests = [_rest(shots @ weight, values) / sd for shots, values in told]
    return np.concatenate([*rests, (log_s - seeds) / SEED_SD])


def _scatter(told: Sequence[Mixed], log_s: Floats) -> float:
    weight = np.exp(log_s)
    squares = sum(float(rest @ rest) for rest in (_rest(shots @ weight, values) for shots, values in told))
    df = sum(len(values) - 2 for _shots, values in told)
    return math.sqrt(squares / max(df, 1)) or 1e-9
