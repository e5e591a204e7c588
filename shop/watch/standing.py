"""How a face stands, from what is known of it."""

from __future__ import annotations

import math

from shop.quality.models import Verdict
from shop.watch.facts import Facts, place_of
from shop.watch.forecast import outlook, wears_towards
from shop.watch.models import Call, Standing, Trend

# Wear is spoken of from here on: half the chance of reaching a limit lies within so many lead times.
LEAD_TIMES_IN_SIGHT = 4
DUE_CAUSES = (Call.Cause.FORECAST, Call.Cause.INTERVAL, Call.Cause.DAMAGE)


def standing_of(facts: Facts, *, awaiting: bool) -> Standing:
    """Return the row that says how the face stands; it is not saved here."""
    worst = worst_of(facts)
    row = facts.standing or Standing(face=facts.face)
    row.state = state_of(facts, awaiting=awaiting)
    row.on_concession = on_concession(facts)
    row.worst = worst
    row.life_shots = facts.life_shots
    row.shots_per_day = facts.shots_per_day
    row.left_10 = worst.left_10 if worst else None
    row.left_50 = worst.left_50 if worst else None
    _set_dates(row, worst, facts)
    row.steel_left_um = facts.steel_left_um
    row.worked_out_at = facts.at
    return row


def _set_dates(row: Standing, worst: Trend | None, facts: Facts) -> None:
    """Set when the face reaches its limit by what its tool will run, and the gap in the press before that."""
    ahead = outlook(worst) if worst is not None else None
    dates = facts.calendar.dates(ahead, facts.share) if ahead is not None and facts.calendar is not None else None
    row.due_on = dates.due_on if dates else None
    row.even_on = dates.even_on if dates else None
    row.sure_on = dates.sure_on if dates else None
    row.chance_ahead = dates.chance_ahead if dates else None
    row.bad_shots_ahead = dates.bad_shots_ahead if dates else None
    window = facts.calendar.window_before(row.due_on, facts.rules.lead_time_days) if facts.calendar else None
    row.window_from, row.window_to = (window.first, window.last) if window else (None, None)


def state_of(facts: Facts, *, awaiting: bool) -> Standing.State:
    """Return the state; the worse stands before the better, and a face that cannot be judged yet before all."""
    if awaiting:
        return Standing.State.AWAITING_PARTS
    causes = {call.cause for call in facts.calls}
    if facts.failing(Verdict.Outcome.NO) or Call.Cause.OFF_SPEC in causes:
        return Standing.State.OFF_SPEC
    if causes.intersection(DUE_CAUSES):
        return Standing.State.DUE
    if any(wears_towards(trend) or _in_sight(trend, facts) for trend in facts.trends):
        return Standing.State.WEARING
    return Standing.State.SOUND


def worst_of(facts: Facts) -> Trend | None:
    """Return the trend that matters most: of a place that is off spec, else that with the fewest shots left."""
    off = {place_of(held.verdict) for held in facts.failing(Verdict.Outcome.NO)}

    def weight(trend: Trend) -> tuple[bool, float, float, float]:
        place = (trend.parameter, trend.spot_id, trend.where, trend.geometry_deg)
        left = math.inf if trend.left_10 is None else trend.left_10
        return place not in off, left, -(trend.chance_now or 0.0), _share_left(trend)

    return min(facts.trends, key=weight, default=None)


def on_concession(facts: Facts) -> bool:
    """Return whether a concession widens a limit of the face now."""
    return any(facts.asked.sides(limit).concession is not None for limit in facts.asked.limits)


def _in_sight(trend: Trend, facts: Facts) -> bool:
    return trend.left_50 is not None and trend.left_50 < LEAD_TIMES_IN_SIGHT * facts.lead_shots


def _share_left(trend: Trend) -> float:
    """Return how far the last reading is from its nearer limit, as a share of the limit or the band."""
    band = trend.upper - trend.lower if trend.upper is not None and trend.lower is not None else None
    away = [
        abs(limit - trend.last_value) / (band or abs(limit) or 1.0)
        for limit in (trend.lower, trend.upper)
        if limit is not None
    ]
    return min(away, default=math.inf)
