"""Process or tool: what all faces read higher or lower together on one occasion, told from each face's own wear."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shop.drift.pooling import Floats, Readings, sums_of
from shop.refusal import Refused, gettext_noop

# So many readings a face must have beyond its own line to say anything of what it shares with others.
LEAST_READINGS = 3
ROUNDS = 200
# A step is named when it is so many of its own standard errors from none.
TELLING_Z = 3.0
# A step that the readings cannot tell from none at all keeps this share of their scatter.
LEAST_STEP = 1e-3


@dataclass(frozen=True)
class Steps:
    """What each occasion shares, and how the readings scatter beside it.

    `offset` is how much higher all faces read on the occasion than their own lines, `se` its standard error; steps
    spread by `step_sd`, a single reading by `residual_sd`. A drift that goes on evenly, or bends evenly, is the
    faces' wear and no step. `shots` are the faces' shots on the occasion, in the mean.
    """

    occasion: NDArray[np.int64]
    shots: Floats
    offset: Floats
    se: Floats
    step_sd: float
    residual_sd: float

    def named(self) -> list[int]:
        """Return the occasions whose step is more than scatter.

        Returns
        -------
        list of int
            Occasions, in their order. [number of the occasion]

        References
        ----------
        .. [1] Robinson (1991), Stat. Sci. 6:15-32, predicting random effects.
        """
        return [int(one) for one in self.occasion[np.abs(self.offset) > TELLING_Z * self.se]]

    def shared_line(self) -> Floats:
        """Return how well the even part of what is shared is known: a line of steps looks like wear of all faces.

        Returns
        -------
        array of 2 by 2 float
            Covariance of its intercept [unit of the values] and its slope [unit of the values per shot].

        References
        ----------
        .. [1] Draper and Smith (1998), Applied Regression Analysis, 3rd ed., 1.4.
        """
        scale = float(np.abs(self.shots).max()) or 1.0
        line = np.stack([np.ones_like(self.shots), self.shots / scale], axis=1)
        covariance = self.step_sd**2 * np.linalg.pinv(line.T @ line)
        return np.asarray(covariance / np.outer([1.0, scale], [1.0, scale]))

    def without(self, faces: Sequence[Readings], occasions: Sequence[Sequence[int]]) -> list[Readings]:
        """Return the readings with what their occasions share taken off.

        Parameters
        ----------
        faces : sequence of (shots, values)
            Readings of each face. [shots], [any one unit]
        occasions : sequence of sequence of int
            On which occasion each was taken; one that is not known here is left as it is. [number]

        Returns
        -------
        list of (shots, values)
            In the same order. [shots], [the same unit]

        References
        ----------
        .. [1] Robinson (1991), Stat. Sci. 6:15-32.
        """
        known = dict(zip(self.occasion.tolist(), self.offset.tolist(), strict=True))
        return [
            (shots, [value - known.get(one, 0.0) for value, one in zip(values, when, strict=True)])
            for (shots, values), when in zip(faces, occasions, strict=True)
        ]


def common_steps(faces: Sequence[Readings], occasions: Sequence[Sequence[int]]) -> Steps:
    """Split what all faces of a tool share on an occasion from each face's own straight wear.

    Every face keeps an intercept and a slope of its own, and all share a bend; the steps are random, and both spreads
    are found by restricted maximum likelihood. One face alone never makes a step: two at least must share the occasion.

    Parameters
    ----------
    faces : sequence of (shots, values)
        Readings of each face. [shots], [any one unit]
    occasions : sequence of sequence of int
        On which occasion (an inspection) each reading was taken. [number]

    Returns
    -------
    Steps
        By occasion. [unit of the values]

    Raises
    ------
    Refused
        If lengths differ, a number is not finite, or no two faces with a line of their own share an occasion.

    References
    ----------
    .. [1] Patterson and Thompson (1971), Biometrika 58:545-554, restricted likelihood.
    .. [2] Dempster, Laird and Rubin (1977), J. R. Stat. Soc. B 39:1-38, expectation and maximization.
    .. [3] Robinson (1991), Stat. Sci. 6:15-32, predicting random effects.
    """
    sums_of(faces)
    _check(faces, occasions)
    numbers, shared = _shared(faces, occasions)
    if not len(numbers):
        raise Refused(
            "steps.none_shared",
            gettext_noop("No two faces with {limit} readings or more were measured on one occasion."),
            next_step=gettext_noop("Measure the faces of a tool in one going-over."),
            limit=LEAST_READINGS,
        )
    square, cross, rest, df = _projected(shared, len(numbers))
    # Scatter of less than a thousandth of a millionth of the values is rounding.
    size = max(float(np.abs(y).max()) for _, y, _ in shared)
    offset, covariance, step_var, var = _spreads(square, cross, rest, df, max((1e-9 * size) ** 2, 1e-200))
    counts, shots = np.zeros(len(numbers)), np.zeros(len(numbers))
    for x, _, at in shared:
        np.add.at(counts, at[at >= 0], 1.0)
        np.add.at(shots, at[at >= 0], x[at >= 0])
    return Steps(
        numbers, shots / counts, offset, np.sqrt(np.diag(covariance)), math.sqrt(step_var), math.sqrt(var)
    )


Shared = list[tuple[Floats, Floats, NDArray[np.int64]]]


def _check(faces: Sequence[Readings], occasions: Sequence[Sequence[int]]) -> None:
    readings, numbered = [len(values) for _, values in faces], [len(when) for when in occasions]
    if readings != numbered:
        raise Refused(
            "steps.lengths",
            gettext_noop("{readings} readings have {occasions} occasions."),
            next_step=gettext_noop("Give one occasion for each reading of each face."),
            readings=sum(readings),
            occasions=sum(numbered),
        )


def _shared(
    faces: Sequence[Readings], occasions: Sequence[Sequence[int]]
) -> tuple[NDArray[np.int64], Shared]:
    """Return the occasions that two faces share at least, and the faces' readings with their place among them."""
    rows = [
        (np.asarray(shots, dtype=float), np.asarray(values, dtype=float), np.asarray(when, dtype=np.int64))
        for (shots, values), when in zip(faces, occasions, strict=True)
        if len(values) >= LEAST_READINGS and len(set(shots)) >= 2
    ]
    of_faces = [np.unique(when) for _, _, when in rows]
    if not of_faces:
        return np.array([], dtype=np.int64), []
    numbers, faces_on = np.unique(np.concatenate(of_faces), return_counts=True)
    numbers = numbers[faces_on >= 2]
    place = {int(number): at for at, number in enumerate(numbers)}
    return numbers, [(x, y, np.array([place.get(int(one), -1) for one in when])) for x, y, when in rows]


def _projected(shared: Shared, count: int) -> tuple[Floats, Floats, float, int]:
    """Return what is left of occasions and values when each face's own line and the bend of all are taken out."""
    square, cross, rest, df = np.zeros((count, count)), np.zeros(count), 0.0, 0
    bend_z, bend_y, bend_bend = np.zeros(count), 0.0, 0.0
    longest = max(float(np.abs(x).max()) for x, _, _ in shared) or 1.0
    for x, y, at in shared:
        line = np.stack([np.ones_like(x), (x - x.mean()) / (np.ptp(x) or 1.0)], axis=1)
        q, _ = np.linalg.qr(line)
        z = np.zeros((len(x), count))
        seen = at >= 0
        z[np.flatnonzero(seen), at[seen]] = 1.0
        z -= q @ (q.T @ z)
        y = y - q @ (q.T @ y)
        bend = (x / longest) ** 2
        bend = bend - q @ (q.T @ bend)
        bend_z += z.T @ bend
        bend_y += float(y @ bend)
        bend_bend += float(bend @ bend)
        square += z.T @ z
        cross += z.T @ y
        rest += float(y @ y)
        df += len(x) - 2
    if bend_bend > 1e-12 * df:
        square -= np.outer(bend_z, bend_z) / bend_bend
        cross -= bend_z * bend_y / bend_bend
        rest, df = max(rest - bend_y**2 / bend_bend, 0.0), df - 1
    return square, cross, rest, df


def _spreads(
    square: Floats, cross: Floats, rest: float, df: int, least: float
) -> tuple[Floats, Floats, float, float]:
    """Return the steps, their covariance and both variances, by expectation and maximization on its own axes."""
    values, axes = np.linalg.eigh(square)
    values, along = np.maximum(values, 0.0), axes.T @ cross
    var = max(rest / max(df, 1), least)
    step_var = var
    for _ in range(ROUNDS):
        spread = 1.0 / (values / var + 1.0 / step_var)
        step = spread * along / var
        left = rest - 2 * float(step @ along) + float(step * step @ values)
        new_step_var = max(float((step * step + spread).mean()), LEAST_STEP**2 * var)
        new_var = max((left + float(spread @ values)) / max(df, 1), least)
        settled = abs(new_step_var / step_var - 1) + abs(new_var / var - 1) < 1e-9
        step_var, var = new_step_var, new_var
        if settled:
            break
    spread = 1.0 / (values / var + 1.0 / step_var)
    return axes @ (spread * along / var), (axes * spread) @ axes.T, step_var, var
