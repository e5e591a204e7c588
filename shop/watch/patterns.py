"""A face that leaves its own pattern before any limit is near: the plant's chart of what its trend does not foresee."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from shop.drift.run_lengths import design_for
from shop.drift.run_rules import run_rules
from shop.quality.asked import day_in
from shop.tooling.models import Parameter
from shop.units import Quantity
from shop.watch.facts import Facts
from shop.watch.found import Found
from shop.watch.models import Call, Policy, Trend
from shop.watch.path import points_of
from shop.watch.policies import Rules
from shop.watch.scores import scores_of

# So many readings a trend needs before its pattern is one; Western Electric's rules look at eight.
LEAST_READINGS = 6


def patterns_in(facts: Facts) -> Iterator[Found]:
    """Yield each trend of the face whose last reading is more than scatter by the plant's chart.

    Where all faces of the tool may have stepped together on that inspection, quality is asked about that first.
    """
    if facts.rules.chart == Policy.Chart.NONE:
        return
    for trend in facts.trends:
        points = points_of(trend)
        if len(points) < LEAST_READINGS or int(points["inspection"][-1]) in facts.asked_about:
            continue
        scores = scores_of(trend)
        if len(scores) - 1 in alarms_of(scores.tolist(), facts.rules):
            yield _found(trend, facts)


def alarms_of(scores: Sequence[float], rules: Rules) -> set[int]:
    """Return the places at which the chart that the rules name gives an alarm."""
    if rules.chart == Policy.Chart.RUN_RULES:
        return {place for broken in run_rules(scores, 0.0, 1.0) for place in broken.alarms}
    return set(design_for(rules.run_length, rules.chart).alarms(scores))


def _found(trend: Trend, facts: Facts) -> Found:
    values = {
        "parameter": Parameter(trend.parameter),
        "spot": trend.spot.name if trend.spot else str(facts.face),
        "value": Quantity(Decimal(str(round(trend.last_value, 6))), trend.unit),
        "day": day_in(facts.plant, trend.last_at),
        "chart": Policy.Chart(facts.rules.chart),
    }
    parts = (trend.parameter, trend.spot_id, trend.where, trend.geometry_deg, trend.last_at.isoformat())
    return Found(Call.Cause.PATTERN, "|".join(str(part or "") for part in parts), "pattern.left", values)
