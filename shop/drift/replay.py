"""What a rule for calling would have done with a history: whom it would have caught in time, and called for nothing."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np


class Outcome(StrEnum):
    """What came of one finish life under a rule."""

    IN_TIME = "in time"
    LATE = "late"
    MISSED = "missed"
    FOR_NOTHING = "for nothing"
    ANSWERED = "answered"
    QUIET = "quiet"


@dataclass(frozen=True)
class Look:
    """What was known of a face on one day: its shots, the shots a day then, and the chance by shots to come.

    `curve` are pairs of shots from that day and the chance of having reached the limit by then, both rising; empty
    where nothing could be told yet. `not_proven` says whether the reading lay too near its limit to be decided,
    `alarm` whether the chart gave one.
    """

    day: float
    shots: float
    per_day: float
    curve: tuple[tuple[float, float], ...] = ()
    not_proven: bool = False
    alarm: bool = False


@dataclass(frozen=True)
class Past:
    """One finish life as it went: what was known day by day, when it was off spec, when it ended or was last seen."""

    looks: tuple[Look, ...]
    off_spec_day: float | None
    last_day: float


@dataclass(frozen=True)
class Rule:
    """A rule for calling: a chance within a lead time [days], and what else is called."""

    chance: float
    lead_days: float
    not_proven: bool = True
    alarms: bool = True
    interval_shots: float | None = None


@dataclass(frozen=True)
class Replayed:
    """How many lives came to what, how many asked for a measurement only, and the shots given away by early calls."""

    lives: int
    called: int
    outcomes: dict[Outcome, int]
    measured: int
    given_away: float | None

    @property
    def off_spec(self) -> int:
        """Return how many lives went off spec. [lives]"""
        return sum(self.outcomes[one] for one in (Outcome.IN_TIME, Outcome.LATE, Outcome.MISSED))


def replay(pasts: Sequence[Past], rule: Rule) -> Replayed:
    """Go through histories with a rule, each day with only what was known then.

    A life is caught in time where its call came a lead time or more before it was off spec, late where it came after
    that, missed where there was none before. A call was for nothing where the life went on for two lead times
    without being off spec; where it ended sooner it was answered, and nobody knows.

    Parameters
    ----------
    pasts : sequence of Past
        One a finish life. [days], [shots]
    rule : Rule
        The rule to try. [1], [days]

    Returns
    -------
    Replayed
        Counts of lives, and the mean shots that were left at an even chance when lives that stayed good were called.

    References
    ----------
    .. [1] EN 13306:2017, 7: predictive maintenance follows a forecast, predetermined maintenance an interval.
    """
    outcomes = dict.fromkeys(Outcome, 0)
    called, measured, given = 0, 0, []
    for past in pasts:
        call = next((look for look in past.looks if _calls(look, rule)), None)
        asked = any((rule.not_proven and one.not_proven) or (rule.alarms and one.alarm) for one in past.looks)
        measured += asked and call is None
        called += call is not None
        outcomes[_outcome(past, call, rule)] += 1
        if call is not None and past.off_spec_day is None and (left := _even(call)) is not None:
            given.append(left)
    return Replayed(len(pasts), called, outcomes, measured, float(np.mean(given)) if given else None)


def together(pasts: Sequence[Past]) -> Past:
    """Return the past of one finish life that was measured in several places or ways.

    Parameters
    ----------
    pasts : sequence of Past
        One a trend of the life, at least one. [days], [shots]

    Returns
    -------
    Past
        Every look until the first of them was off spec; of one day the one that fears most comes first. [days], [shots]

    References
    ----------
    .. [1] Barlow and Proschan (1975), Statistical Theory of Reliability and Life Testing, 2: what is in series fails
       with the first of its parts.
    """
    off = min((past.off_spec_day for past in pasts if past.off_spec_day is not None), default=None)
    looks = [look for past in pasts for look in past.looks if off is None or look.day < off]
    looks.sort(key=lambda look: (look.day, -max((chance for _, chance in look.curve), default=0.0)))
    return Past(tuple(looks), off, max(past.last_day for past in pasts))


def _calls(look: Look, rule: Rule) -> bool:
    if rule.interval_shots is not None and look.shots >= rule.interval_shots:
        return True
    if not look.curve:
        return False
    shots, chances = zip(*look.curve, strict=True)
    return float(np.interp(look.per_day * rule.lead_days, shots, chances)) >= rule.chance


def _outcome(past: Past, call: Look | None, rule: Rule) -> Outcome:
    if past.off_spec_day is not None:
        if call is None or call.day >= past.off_spec_day:
            return Outcome.MISSED
        return Outcome.IN_TIME if past.off_spec_day - call.day >= rule.lead_days else Outcome.LATE
    if call is None:
        return Outcome.QUIET
    return Outcome.FOR_NOTHING if past.last_day - call.day >= 2 * rule.lead_days else Outcome.ANSWERED


def _even(look: Look) -> float | None:
    """Return the shots until an even chance, None where the curve does not come so far."""
    for (shots, chance), (after, then) in zip(look.curve, look.curve[1:], strict=False):
        if chance < 0.5 <= then:
            return shots + (after - shots) * (0.5 - chance) / (then - chance)
    return None
