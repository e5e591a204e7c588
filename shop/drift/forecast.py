"""When each face of a group reaches its limit, from its own readings and from what its sisters have shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr

from shop.drift.crossing import Direction, check_chance, check_shots, crossing
from shop.drift.pooling import Column, Floats, Readings, Sums, sums_of
from shop.drift.rates import Group, Hyper, fit_group, posterior
from shop.drift.trend import Line
from shop.refusal import Refused, gettext_noop

# Twice as far as any mould is asked to run, many times over: what is beyond is never.
NEVER_SHOTS = 1e10
# Wear that slows or hastens: values over shots to a power. Nine tenths of the belief are in the straight line; the
# rest is spread about it, and what is left below a hundredth after the readings have spoken is left out.
LOG_POWERS = (-0.5, -0.35, -0.2, 0.0, 0.2, 0.35, 0.5)
LOG_POWER_SD = 0.3
STRAIGHT = 0.9
LEAST_BELIEF = 0.01
LEVEL_CHANCES = (0.1, 0.5, 0.9)


@dataclass(frozen=True)
class Forecast:
    """A face on its way to a limit: possible courses with their weights, each with a start that is known to `sd`.

    A course is start + rate (shots / scale) ** power, and rises towards harm. Every rate is positive, so the chance
    of having reached the limit never falls. Where harm `falls`, starts and limit are turned over.
    """

    weight: Floats
    rate: Floats
    power: Floats
    start: Floats
    sd: Floats
    scale: float
    limit: float
    falls: bool = False

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
        check_shots(shots)
        worn = self.rate * (shots / self.scale) ** self.power
        return float(self.weight @ ndtr((self.start + worn - self.limit) / self.sd))

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
        check_chance(probability)
        if self.probability_by(0.0) >= probability:
            return 0.0
        low, high = 0.0, 1.0
        while self.probability_by(high) < probability:
            low, high = high, high * 4
            if high > NEVER_SHOTS:
                return None
        return float(brentq(lambda shots: self.probability_by(shots) - probability, low, high, rtol=1e-10))

    def level_at(self, shots: float) -> tuple[float, float, float]:
        """Return what the true mean is at a count of shots: with chances of 10, 50 and 90 % it lies below.

        Parameters
        ----------
        shots : float
            Shots of the life, 0 or more. [shots]

        Returns
        -------
        tuple of float
            The three levels, the lowest first. [unit of the values]

        Raises
        ------
        Refused
            If the shots are negative or not a number.

        References
        ----------
        .. [1] Lu and Meeker (1993), Technometrics 35:161-174, lives from degradation with random rates.
        """
        check_shots(shots)
        centre = self.start + self.rate * (shots / self.scale) ** self.power
        low, high = float((centre - 9 * self.sd).min()), float((centre + 9 * self.sd).max())

        def below(level: float, chance: float) -> float:
            return float(self.weight @ ndtr((level - centre) / self.sd)) - chance

        found = []
        for chance in LEVEL_CHANCES:
            found.append(float(brentq(below, low, high, args=(chance,), xtol=1e-7 * (high - low) + 1e-300)))
        first, middle, last = found
        return (-last, -middle, -first) if self.falls else (first, middle, last)


def forecast_group(
    faces: Sequence[Readings], limit: float, direction: str, shared: Floats | None = None
) -> list[Forecast]:
    """Forecast every face of a group, some of them with one or two readings, or with none.

    Parameters
    ----------
    faces : sequence of (shots, values)
        One pair of arrays a face: shots of the life at each reading [shots], and the readings [any one unit].
    limit : float
        The limit. [unit of the values]
    direction : str
        "up" where harm is a rise to an upper limit, "down" where it is a fall to a lower one.
    shared : array of 2 by 2 float, optional
        Where steps of all faces were split off: how well the line that they share with wear is known, as
        `shop.drift.steps.Steps.shared_line` gives it. [unit of the values; per shot]

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
    return mixed(courses(faces, limit, way), limit, way, shared)


def courses(
    faces: Sequence[Readings], limit: float, direction: Direction, weights: Sequence[Column] | None = None
) -> list[tuple[Sums, Group, float]]:
    """Fit a group with its shots counted as they are and by powers, and say how far each is to be believed.

    Parameters
    ----------
    faces : sequence of (shots, values)
        As `forecast_group` takes them. [shots], [any one unit]
    limit : float
        The limit. [unit of the values]
    direction : "up" or "down"
        Where harm lies.
    weights : sequence of array, optional
        The readings' precisions, as `shop.drift.pooling.sums_of` takes them. [1]

    Returns
    -------
    list of (Sums, Group, float)
        What is believed at all, with its belief; beliefs sum to 1. [mixed]

    Raises
    ------
    Refused
        As `forecast_group` does.

    References
    ----------
    .. [1] Kass and Raftery (1995), J. Am. Stat. Assoc. 90:773-795, Bayes factors by Laplace's method.
    """
    sign = 1.0 if direction == "up" else -1.0
    found = []
    for log_power in LOG_POWERS:
        sums = sums_of(faces, sign, math.exp(log_power), weights)
        group = fit_group(sums, first=first_guess(sums, sign * limit))
        found.append((sums, group, group.log_evidence + math.log(_prior(log_power))))
        if log_power == 0 and (sums.df < 1):
            # Too few readings to tell one course from another: the straight line is believed.
            return [(sums, group, 1.0)]
    best = max(belief for _, _, belief in found)
    beliefs = np.exp([belief - best for _, _, belief in found])
    beliefs /= beliefs.sum()
    kept = [(sums, group, float(b)) for (sums, group, _), b in zip(found, beliefs, strict=True) if b >= LEAST_BELIEF]
    whole = sum(belief for _, _, belief in kept)
    return [(sums, group, belief / whole) for sums, group, belief in kept]


def _prior(log_power: float) -> float:
    if log_power == 0:
        return STRAIGHT
    others = [math.exp(-0.5 * (one / LOG_POWER_SD) ** 2) for one in LOG_POWERS if one != 0]
    return (1 - STRAIGHT) * math.exp(-0.5 * (log_power / LOG_POWER_SD) ** 2) / sum(others)


def mixed(
    believed: Sequence[tuple[Sums, Group, float]], limit: float, direction: Direction, shared: Floats | None = None
) -> list[Forecast]:
    """Forecast every face from groups that are known already, each with its own way of counting shots.

    Parameters
    ----------
    believed : sequence of (Sums, Group, float)
        As `courses` gives them. [mixed]
    limit : float
        The limit, as specified. [unit of the values]
    direction : "up" or "down"
        Where harm lies.
    shared : array of 2 by 2 float, optional
        As `forecast_group` takes it. [unit of the values; per shot]

    Returns
    -------
    list of Forecast
        One a face, in order. [shots]

    References
    ----------
    .. [1] Morris (1983), J. Am. Stat. Assoc. 78:47-55, the group's own uncertainty carried.
    .. [2] Hoeting et al. (1999), Stat. Sci. 14:382-417, averaging over models.
    """
    harm = limit if direction == "up" else -limit
    parts: list[tuple[Floats, Floats, Floats, Floats, Floats]] = []
    for sums, group, belief in believed:
        draws = group.draws()
        moved = _moved(shared, math.exp(group.hyper.log_rate_mean) / sums.scale)
        for draw in draws:
            known = posterior(sums, draw)
            sd = np.broadcast_to(np.sqrt(known.start_var)[:, None], known.rate.shape)
            power = np.full_like(known.rate, sums.power)
            weight = known.weight * (belief / len(draws) / len(moved))
            parts += [(weight, known.rate * factor, power, known.start + lift, sd) for lift, factor in moved]
    weight, rate, power, start, sd = (np.concatenate(each, axis=1) for each in zip(*parts, strict=True))
    scale = believed[0][0].scale
    falls = direction == "down"
    return [Forecast(weight[i], rate[i], power[i], start[i], sd[i], scale, harm, falls) for i in range(len(weight))]


def _moved(shared: Floats | None, rate: float) -> list[tuple[float, float]]:
    """Return, as four that weigh alike, how far all faces' starts and rates may be off together: a lift, a factor."""
    if shared is None:
        return [(0.0, 1.0)]
    unit = np.array([1.0, 1.0 / rate])
    values, axes = np.linalg.eigh(shared * np.outer(unit, unit))
    root = math.sqrt(2.0) * axes * np.sqrt(np.clip(values, 0.0, None))
    return [(float(side * root[0, axis]), _factor(float(side * root[1, axis]))) for axis in (0, 1) for side in (1, -1)]


def _factor(share: float) -> float:
    """Return a rate that is off by a share of itself, as a factor: what is added upwards divides downwards.

    Near none it is the exponential; a rate much slower than what is not known of it is not blown up by one.
    """
    return 1.0 + share if share >= 0 else 1.0 / (1.0 - share)


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
    n = np.where(sums.n > 0, sums.n, 1.0)
    within_xx = float((sums.xx - sums.x**2 / n).sum())
    within_xy = float((sums.xy - sums.x * sums.y / n).sum())
    within_yy = float((sums.yy - sums.y**2 / n).sum())
    repeated = float(np.maximum(sums.count - 1, 0).sum())
    if repeated < 2 or within_xx <= 0:
        raise Refused(
            "pool.no_spread",
            gettext_noop("The group's {count} readings show no scatter, so there is no chance to give."),
            next_step=gettext_noop("Measure a face once more, or pool a wider group."),
            count=int(sums.count.sum()),
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
