"""What asks for a call: each reason found in the facts of one face, as cause, key, code and values."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from shop.quality.asked import day_in
from shop.quality.due import DueItem
from shop.quality.judging import GUARDED, guard
from shop.quality.models import Verdict
from shop.refusal import Saying
from shop.tooling.models import Parameter
from shop.units import Quantity
from shop.watch import reasons
from shop.watch.facts import Facts, Held
from shop.watch.forecast import outlook, shots_left
from shop.watch.found import Found
from shop.watch.models import Call, Trend
from shop.watch.patterns import patterns_in

# A call by forecast is closed again only when it has moved well out of the lead time, lest it open and close nightly.
STAYS_WITHIN = 1.25


def found_in(facts: Facts, late: list[DueItem]) -> list[Found]:
    """Return every reason there is now to call the face."""
    return [
        *_of_verdicts(facts),
        *_of_forecast(facts),
        *_of_interval(facts),
        *patterns_in(facts),
        *(
            Found(Call.Cause.NOT_MEASURED, str(one.plan_item.pk), one.reason.code, dict(one.reason.values))
            for one in late
        ),
    ]


def _of_verdicts(facts: Facts) -> Iterator[Found]:
    for held in facts.held:
        if held.outcome == Verdict.Outcome.NO:
            yield _found(Call.Cause.OFF_SPEC, held, *_off_spec(facts, held))
        elif held.outcome == Verdict.Outcome.NOT_PROVEN and facts.rules.call_not_proven:
            yield _found(Call.Cause.NOT_PROVEN, held, *_not_proven(facts, held))


def _found(cause: Call.Cause, held: Held, code: str, values: dict[str, Any]) -> Found:
    return Found(cause, str(held.verdict.pk), code, values, held.verdict)


def _off_spec(facts: Facts, held: Held) -> tuple[str, dict[str, Any]]:
    upper, values = _against(facts, held)
    code = "off_spec.above" if upper else "off_spec.below"
    return (code if "guard" in values else f"{code}_plain"), values


def _not_proven(facts: Facts, held: Held) -> tuple[str, dict[str, Any]]:
    upper, values = _against(facts, held)
    verdict = held.verdict
    if "guard" not in values or verdict.conformance is None or verdict.conformance >= verdict.required:
        return "not_proven.too_few", {**values, "rule": verdict.rule}
    chance = Quantity((verdict.conformance * 100).quantize(Decimal(1)), "percent")
    return ("not_proven.above" if upper else "not_proven.below"), {**values, "chance": chance}


def _against(facts: Facts, held: Held) -> tuple[bool, dict[str, Any]]:
    """Return whether the upper side is meant, and the numbers: those in force now."""
    verdict, sides = held.verdict, facts.asked.sides(held.limit)
    upper = sides.lower is None or (
        sides.upper is not None and sides.upper - verdict.statistic <= verdict.statistic - sides.lower
    )
    limit = sides.upper if upper else sides.lower
    assert limit is not None  # noqa: S101 (a limit has a side)
    unit = held.limit.unit
    values: dict[str, Any] = {
        "parameter": Parameter(verdict.parameter),
        "spot": verdict.spot.name if verdict.spot else str(facts.face),
        "value": Quantity(verdict.statistic.normalize() + 0, unit),
        "limit": Quantity(limit.normalize() + 0, unit),
        "day": day_in(facts.plant, verdict.at),
    }
    u = float(verdict.standard_uncertainty)
    if verdict.acceptance == GUARDED and u > 0:
        values["guard"] = _quantity(guard(float(limit), u, float(verdict.required), upper=upper), unit)
    return upper, values


def _of_forecast(facts: Facts) -> Iterator[Found]:
    chance = facts.rules.call_chance
    for trend in facts.trends:
        left = shots_left(trend, chance)
        if trend.chance_now is None or left is None:
            continue
        if trend.chance_now >= chance or left <= facts.lead_shots:
            code, values = _heading(facts, trend)
            yield Found(Call.Cause.FORECAST, _key_of(trend), code, values)


def still_heading(facts: Facts) -> bool:
    """Return whether a forecast that was called stands yet; a tool at rest does not take it back."""
    chance = facts.rules.call_chance
    for trend in facts.trends:
        left = shots_left(trend, chance)
        if left is not None and (facts.shots_per_day <= 0 or left <= STAYS_WITHIN * facts.lead_shots):
            return True
    return False


def _heading(facts: Facts, trend: Trend) -> tuple[str, dict[str, Any]]:
    upper = trend.towards == "upper"
    limit = (trend.upper if upper else trend.lower) or 0.0
    if Parameter(trend.parameter).by_eye:
        # The limit is the last grade that is let pass; what is feared is the next.
        limit += 1 if upper else -1
    values: dict[str, Any] = {
        "parameter": Parameter(trend.parameter),
        "spot": trend.spot.name if trend.spot else str(facts.face),
        "value": _quantity(trend.last_value, trend.unit),
        "limit": _quantity(limit, trend.unit),
        "chance": _quantity(round(100 * (trend.chance_now or 0.0)), "percent"),
    }
    ahead = outlook(trend)
    dates = facts.calendar.dates(ahead, facts.share) if ahead and facts.calendar else None
    if not trend.left_10 or dates is None or dates.due_on is None:
        return "forecast.now", values
    days = max((dates.due_on - facts.day).days, 1)
    values |= {"rate": _quantity(round(trend.left_10 / days), "shots"), "day": dates.due_on}
    left = [("left_10", trend.left_10), ("left_50", trend.left_50), ("left_90", trend.left_90)]
    known = {name: _quantity(count, "shots") for name, count in left if count is not None}
    return {1: "forecast.one", 2: "forecast.two", 3: "forecast.three"}[len(known)], values | known


def _key_of(trend: Trend) -> str:
    parts = (trend.parameter, trend.spot_id, trend.where, trend.resin_id, trend.geometry_deg, trend.towards)
    return "|".join(str(part or "") for part in parts)


def _of_interval(facts: Facts) -> Iterator[Found]:
    if facts.interval_shots is not None and facts.life_shots >= facts.interval_shots:
        values = {"shots": _quantity(facts.life_shots, "shots"), "limit": _quantity(facts.interval_shots, "shots")}
        yield Found(Call.Cause.INTERVAL, "interval", "interval.reached", values)


def why_gone(call: Call, facts: Facts) -> Saying:
    """Return why the reason of a call is no longer there."""
    if facts.life is None:
        return _said("closed.no_finish")
    if facts.life.began_at > call.opened_at:
        return _said("closed.new_finish", day=day_in(facts.plant, facts.life.began_at))
    if call.cause in (Call.Cause.OFF_SPEC, Call.Cause.NOT_PROVEN):
        return _decided(call, facts)
    if call.cause == Call.Cause.FORECAST:
        left = [shots for trend in facts.trends if (shots := shots_left(trend, facts.rules.call_chance)) is not None]
        if not left:
            return _said("closed.not_heading")
        return _said(
            "closed.refitted", left=_quantity(min(left), "shots"), lead=_quantity(round(facts.lead_shots), "shots")
        )
    if call.cause == Call.Cause.INTERVAL:
        if facts.interval_shots is None:
            return _said("closed.no_interval")
        made = _quantity(facts.life_shots, "shots")
        return _said("closed.interval", shots=made, limit=_quantity(facts.interval_shots, "shots"))
    if call.cause == Call.Cause.PATTERN:
        return _said("closed.pattern")
    return _said("closed.measured")


def _decided(call: Call, facts: Facts) -> Saying:
    called = {evidence.verdict_id for evidence in call.evidence.all()}
    allowed = next((held.concession for held in facts.held if held.concession and held.verdict.pk in called), None)
    if allowed is not None:
        return _said("closed.concession", number=allowed.number)
    if call.cause == Call.Cause.NOT_PROVEN and facts.failing(Verdict.Outcome.NO):
        return _said("closed.decided")
    since = [held for held in facts.held if held.outcome == Verdict.Outcome.YES and held.verdict.pk not in called]
    if not since:
        return _said("closed.limits_changed")
    latest = max(since, key=lambda held: held.verdict.at)
    _upper, values = _against(facts, latest)
    return _said("closed.conforms", **{name: values[name] for name in ("parameter", "spot", "value", "day")})


def _said(code: str, **values: Any) -> Saying:
    return Saying(code, reasons.TEMPLATES[code], values)


def _quantity(value: float | int, unit: str) -> Quantity:
    return Quantity(Decimal(str(round(value, 6))), unit)
