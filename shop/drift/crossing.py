"""When a wearing face reaches a limit: inverse prediction from its line."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from scipy.special import stdtr, stdtrit

from shop.drift.trend import Line
from shop.refusal import Refused, gettext_noop

Direction = Literal["up", "down"]


@dataclass(frozen=True)
class Crossing:
    """A line on its way to a limit.

    At each count of shots, z is the distance of the line's mean beyond the limit in its own standard errors, and the
    chance that the true mean is beyond is Student's t of z. A true mean that has been beyond stays so for this
    purpose: the chance is a running maximum from 0, and never falls. With u the shots from the mean of the readings,
    alpha the distance beyond the limit there and beta the slope towards it, z = (alpha + beta u) / se(u) has one
    stationary point, at u = beta c sxx / alpha with c = 1/n: a maximum where alpha > 0, a minimum where alpha < 0.
    So the running maximum is known in closed form.
    """

    line: Line
    limit: float
    direction: Direction

    def shots_at(self, probability: float) -> float | None:
        """Return the shots at which the chance of having reached the limit first equals a probability.

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
            If the probability lies outside, or the line's spread is unknown.

        References
        ----------
        .. [1] Fieller (1954), J. R. Stat. Soc. B 16:175-185; Graybill and Iyer (1994), Regression Analysis, 6.
        """
        check_chance(probability)
        line, sd = self.line, self._spread()
        alpha, beta, own = self._seen()
        k = float(stdtrit(line.df, probability)) * sd
        at_start = alpha - beta * line.mean_x
        if at_start >= k * math.sqrt(own + line.mean_x * line.mean_x / line.sxx):
            return 0.0
        if line.through_origin:
            nearing = beta - k / math.sqrt(line.sxx)
            return -alpha / nearing if nearing > 0 else None
        if self._falls_from_the_start(alpha, beta, own):
            return None
        # With u = sqrt(c sxx) tan(theta), z is one cosine wave in theta; p and q are its two amplitudes.
        p, q = alpha / math.sqrt(own), beta * math.sqrt(line.sxx)
        top = math.hypot(p, q)
        if top < k:
            return None
        w = math.sqrt((top - k) * (top + k))
        cosine = p * k + q * w
        if cosine <= 0:
            return None
        return max(0.0, line.mean_x + math.sqrt(own * line.sxx) * (q * k - p * w) / cosine)

    def probability_by(self, shots: float) -> float:
        """Return the chance that the true mean has reached the limit by a count of shots.

        Parameters
        ----------
        shots : float
            Shots of the life, 0 or more. [shots]

        Returns
        -------
        float
            Chance; it never falls with more shots. [1]

        Raises
        ------
        Refused
            If the shots are negative or not a number, or the line's spread is unknown.

        References
        ----------
        .. [1] Draper and Smith (1998), Applied Regression Analysis, 3rd ed., 3.2, inverse regression.
        """
        check_shots(shots)
        sd = self._spread()
        alpha, beta, own = self._seen()
        start = self._z(0.0, sd)
        if alpha > 0:
            if self._falls_from_the_start(alpha, beta, own):
                return self._chance(start)
            summit = self.line.mean_x + beta * own * self.line.sxx / alpha
            return self._chance(max(start, self._z(min(shots, summit), sd)))
        return self._chance(max(start, self._z(shots, sd)))

    def _seen(self) -> tuple[float, float, float]:
        """Return alpha, beta and c, with the signs of a limit approached from below."""
        sign = 1.0 if self.direction == "up" else -1.0
        line = self.line
        alpha = sign * (line.intercept + line.slope * line.mean_x - self.limit)
        return alpha, sign * line.slope, 0.0 if line.through_origin else 1.0 / line.n

    def _falls_from_the_start(self, alpha: float, beta: float, own: float) -> bool:
        if alpha == 0:
            return beta <= 0
        return alpha > 0 and self.line.mean_x * alpha + beta * own * self.line.sxx <= 0

    def _z(self, shots: float, sd: float) -> float:
        alpha, beta, own = self._seen()
        away = shots - self.line.mean_x
        beyond = alpha + beta * away
        error = sd * math.sqrt(own + away * away / self.line.sxx)
        if error == 0:
            # A mean that is known exactly has reached the limit or it has not.
            return math.inf if beyond >= 0 else -math.inf
        return beyond / error

    def _chance(self, z: float) -> float:
        if math.isinf(z):
            return 1.0 if z > 0 else 0.0
        return float(stdtr(self.line.df, z))

    def _spread(self) -> float:
        if self.line.residual_sd is None or self.line.df < 1:
            raise Refused(
                "crossing.no_spread",
                gettext_noop("{count} readings show no spread, so there is no chance to give."),
                next_step=gettext_noop("Measure once more after some shots."),
                count=self.line.n,
                limit=3,
            )
        return self.line.residual_sd


def crossing(line: Line, limit: float, direction: str) -> Crossing:
    """Return how a line meets a limit.

    Parameters
    ----------
    line : Line
        From `fit_line`.
    limit : float
        The limit. [unit of the line's values]
    direction : str
        "up" where harm is a rise to an upper limit, "down" where it is a fall to a lower one.

    Returns
    -------
    Crossing
        Chances by shots and shots by chance.

    Raises
    ------
    Refused
        If the limit is not a number or the direction is neither.

    References
    ----------
    .. [1] Draper and Smith (1998), Applied Regression Analysis, 3rd ed., 3.2, inverse regression.
    """
    if not math.isfinite(limit):
        raise Refused(
            "crossing.limit",
            gettext_noop("The limit {value} is not a number."),
            next_step=gettext_noop("Set the limit in the finish spec."),
            value=limit,
        )
    if direction == "up":
        return Crossing(line, limit, "up")
    if direction == "down":
        return Crossing(line, limit, "down")
    raise Refused(
        "crossing.direction",
        gettext_noop("The direction “{value}” is not known."),
        next_step=gettext_noop("Say up or down."),
        value=direction,
    )


def check_chance(probability: float) -> None:
    """Refuse a chance that cannot be looked up.

    Parameters
    ----------
    probability : float
        Between 0 and 1, both excluded. [1]

    Raises
    ------
    Refused
        If it lies outside.

    References
    ----------
    .. [1] Kolmogorov (1933), Grundbegriffe der Wahrscheinlichkeitsrechnung, I.1: a probability lies from 0 to 1.
    """
    if not 0 < probability < 1:
        raise Refused(
            "crossing.probability",
            gettext_noop("A chance of {value} cannot be looked up; it lies between 0 and 1."),
            next_step=gettext_noop("Ask for 0.1, 0.5 or 0.9."),
            value=probability,
            limit=1,
        )


def check_shots(shots: float) -> None:
    """Refuse a count of shots that cannot be run.

    Parameters
    ----------
    shots : float
        0 or more. [shots]

    Raises
    ------
    Refused
        If it is negative or not a number.

    References
    ----------
    .. [1] Common practice, no source: a count begins at 0.
    """
    if not (math.isfinite(shots) and shots >= 0):
        raise Refused(
            "crossing.shots",
            gettext_noop("{value} shots cannot be run."),
            next_step=gettext_noop("Give a count of 0 or more."),
            value=shots,
            limit=0,
        )
