"""When each face of a group reaches its limit, from its own readings and from what its sisters have shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr

from shop.drift.crossing import Direction, crossing
from shop.drift.pooling import Floats, Readings, Sums, sums_of
from shop.drift.rates import Group, Hyper, fit_group, posterior
from shop.drift.trend import Line
from shop.refusal import Refused, gettext_noop

# A group of so many faces is known well enough that ten draws of its parameters say the same as one.
WELL_KNOWN = 150
# Twice as far as any mould is asked to run, many times over: what is beyond is never.
NEVER_SHOTS = 1e10


@dataclass(frozen=True)
class Forecast:
    """A face on its way to a limit: possible lines with their weights, each with a start that is known to `sd`.

    Values rise towards harm. Every rate is positive, so the chance of having reached the limit never falls.
    """

    weight: Floats
    rate: Floats
    start: Floats
    sd: Floats
    limit: float

    def probability_by(self, shots: float) -> float:
        """Return the chance that the true mean has reached the limit by a count of shots.

        Parameters
        ----------
        shots : float
            Shots of the life, 0 or more. [shots]

        Returns
        -------
        float
            Chance. [1]

        Raises
        ------
        Refused
            If the shots are negative or not a number.

        References
        ----------
        .. [1] Lu and Meeker (1993), Technometrics 35:161-174, lives from degradation with random rates.
        """
        if not (math.isfinite(shots) and shots >= 0):
            raise Refused(
                "crossing.shots",
                gettext_noop("{value} shots cannot be run."),
                next_step=gettext_noop("Give a count of 0 or more."),
                value=shots,
                limit=0,
            )
        return float(self.weight @ ndtr((self.start + self.rate * shots - self.limit) / self.sd))

    def shots_at(self, probability: float) -> float | None:
        """Return the shots at which the chance of having reached the limit equals a probability.

        Parameters
        ----------
        probability : float
            Between 0 and 1, both excluded. [1]

        Returns
        -------
        float or None
            Shots of the life, 0 where the chance is that high from the beginning; None if never. [shots]

        Raises
        ------
        Refused
            If the probability lies outside.

        References
        ----------
        .. [1] Lu and Meeker (1993), Technometrics 35:161-174, lives from degradation with random rates.
        """
        if not 0 < probability < 1:
            raise Refused(
                "crossing.probability",
                gettext_noop("A chance of {value} cannot be looked up; it lies between 0 and 1."),
                next_step=gettext_noop("Ask for 0.1, 0.5 or 0.9."),
                value=probability,
                limit=1,
            )
        if self.probability_by(0.0) >= probability:
            return 0.0
        low, high = 0.0, 1.0
        while self.probability_by(high) < probability:
            low, high = high, high * 4
            if high > NEVER_SHOTS:
                return None
        while high - low > 1e-9 * high:
            middle = (low + high) / 2
            low, high = (middle, high) if self.probability_by(middle) < probability else (low, middle)
        return high


def forecast_group(faces: Sequence[Readings], limit: float, direction: str) -> list[Forecast]:
    """Forecast every face of a group, some of them with one or two readings, or with none.

    Parameters
    ----------
    faces : sequence of (shots, values)
        One pair of arrays a face: shots of the life at each reading [shots], and the readings [any one unit].
    limit : float
        The limit. [unit of the values]
    direction : str
        "up" where harm is a rise to an upper limit, "down" where it is a fall to a lower one.

    Returns
    -------
    list of Forecast
        One a face, in order. [shots]

    Raises
    ------
    Refused
        If the limit or the direction is none, a reading is no number, or the whole group has too few readings to
        show the scatter of one.

    References
    ----------
    .. [1] Lu and Meeker (1993), Technometrics 35:161-174.
    .. [2] Morris (1983), J. Am. Stat. Assoc. 78:47-55, empirical Bayes with the group's uncertainty carried.
    """
    way = crossing(_NOWHERE, limit, direction).direction
    sign = 1.0 if way == "up" else -1.0
    sums = sums_of(faces, sign)
    group = fit_group(sums, first=first_guess(sums, sign * limit))
    return forecasts(sums, group, limit, way)


def forecasts(sums: Sums, group: Group, limit: float, direction: Direction) -> list[Forecast]:
    """Forecast every face from a group that is known already.

    Parameters
    ----------
    sums : Sums
        Of the faces, with values that rise towards harm. [unit of the values]
    group : Group
        Fitted on the same scale of shots. [mixed]
    limit : float
        The limit, as specified. [unit of the values]
    direction : "up" or "down"
        Where harm lies.

    Returns
    -------
    list of Forecast
        One a face, in order. [shots]

    References
    ----------
    .. [1] Morris (1983), J. Am. Stat. Assoc. 78:47-55.
    """
    harm = limit if direction == "up" else -limit
    draws = group.draws() if len(sums.n) < WELL_KNOWN else [group.hyper]
    known = [posterior(sums, draw) for draw in draws]
    # A draw of the parameters counts for a face as the group's other faces make it likely: all the same.
    weight = np.concatenate([one.weight for one in known], axis=1) / len(known)
    rate = np.concatenate([one.rate for one in known], axis=1) / sums.scale
    start = np.concatenate([one.start for one in known], axis=1)
    sd = np.concatenate(
        [np.broadcast_to(np.sqrt(one.start_var)[:, None], one.rate.shape) for one in known], axis=1
    )
    return [Forecast(weight[i], rate[i], start[i], sd[i], harm) for i in range(len(sums.n))]


def first_guess(sums: Sums, harm: float) -> Hyper:
    """Return where the search for a group begins: moments of the faces' own lines.

    Parameters
    ----------
    sums : Sums
        Of the faces, with values that rise towards harm. [unit of the values]
    harm : float
        The limit, turned the same way. [unit of the values]

    Returns
    -------
    Hyper
        A rough group. [unit of the values, per scale of shots]

    Raises
    ------
    Refused
        If no reading shows the scatter of another.

    References
    ----------
    .. [1] Draper and Smith (1998), Applied Regression Analysis, 3rd ed., 1.4, on sums within faces.
    """
    n = np.maximum(sums.n, 1.0)
    within_xx = float((sums.xx - sums.x**2 / n).sum())
    within_xy = float((sums.xy - sums.x * sums.y / n).sum())
    within_yy = float((sums.yy - sums.y**2 / n).sum())
    repeated = float(np.maximum(sums.n - 1, 0).sum())
    if repeated < 2 or within_xx <= 0:
        raise Refused(
            "pool.no_spread",
            gettext_noop("The group's {count} readings show no scatter, so there is no chance to give."),
            next_step=gettext_noop("Measure a face once more, or pool a wider group."),
            count=int(sums.n.sum()),
            limit=3,
        )
    slope = within_xy / within_xx
    rest = max(within_yy - slope * within_xy, 0.0) / max(repeated - 1, 1.0)
    seen = sums.n > 0
    starts = (sums.y - max(slope, 0.0) * sums.x)[seen] / sums.n[seen]
    start = float(np.median(starts))
    scatter = math.sqrt(rest) or 1e-6 * (abs(harm - start) or 1.0)
    # A group that does not wear yet could still wear out in a hundred times as many shots.
    slowest = max(abs(harm - start), scatter) / 100
    return Hyper(start, max(float(np.std(starts)), 0.3 * scatter), math.log(max(slope, slowest)), 0.5, scatter)


_NOWHERE = Line(0.0, 0.0, None, None, None, 0, 0, 0.0, 0.0)
