"""Set what a trend's readings come to: its own line, its group, and what is ahead. Numbers only."""

from __future__ import annotations

from collections.abc import Mapping

from shop.drift import courses
from shop.watch.facts import Facts
from shop.watch.forecast import CHANCES, TELLING_T, line_through, outlook, reached_at
from shop.watch.groups import Group, family_of, hardness_class, severity_class
from shop.watch.models import Pool, Trend
from shop.watch.path import points_of

# A face is called flat when it would take so many times its life's shots to an even chance.
FLAT_FROM = 10


def group_of(trend: Trend, facts: Facts) -> Group:
    """Return the narrowest group that the trend's face belongs to."""
    spec = facts.asked.spec
    return Group(
        trend.parameter,
        trend.where,
        trend.geometry_deg,
        spec.how_made if spec else "",
        family_of(spec.scale, spec.code) if spec else "",
        severity_class(trend.severity),
        hardness_class(facts.face.insert.hardness_hrc),
        trend.spot.kind if trend.spot else "",
    )


def fit(trend: Trend, pools: Mapping[str, Pool]) -> None:
    """Set the trend's own line through its readings, and what line and group say of the shots to come."""
    points = points_of(trend)
    trend.count = len(points)
    line = line_through(points["wear"], points["value"] - points["step"])
    trend.intercept = line.intercept if line else None
    trend.slope = line.slope if line else None
    trend.se_intercept = line.se_intercept if line else None
    trend.se_slope = line.se_slope if line else None
    trend.residual_sd = line.residual_sd if line else None
    trend.mean_shots = line.mean_x if line else None
    trend.sxx = line.sxx if line else None
    alone = outlook(trend, {})
    ahead = outlook(trend, pools) if pools else alone
    trend.own_left_10, trend.own_left_50, trend.own_left_90 = (
        (alone.left(chance) for chance in CHANCES) if alone else (None, None, None)
    )
    trend.left_10, trend.left_50, trend.left_90 = (
        (ahead.left(chance) for chance in CHANCES) if ahead else (None, None, None)
    )
    trend.towards = ahead.towards if ahead else ""
    trend.chance_now = ahead.chance_now if ahead else None
    trend.rate = _rate(trend) if ahead else None
    trend.pool = pools[ahead.towards] if ahead and ahead.pooled else None
    trend.shape = shape_of(trend) if ahead else ""


def shape_of(trend: Trend) -> str:
    """Return how the face wears: flat, or as its group does, or evenly where it stands alone.

    A face is flat whose own readings cannot be told from no wear and whose even chance lies many times farther off
    than the life has run.
    """
    far = trend.left_50 is None or trend.left_50 > FLAT_FROM * max(trend.life_shots, 1)
    if far and not (trend.slope is not None and abs(trend.slope) > TELLING_T * (trend.se_slope or 0.0)):
        return "flat"
    return courses.shape_of([courses.read(one) for one in trend.pool.courses]) if trend.pool else "line"


def _rate(trend: Trend) -> float | None:
    """Return what a shot is expected to change the level by: on its way to the limit at an even chance."""
    lower, upper = reached_at(trend)
    limit = upper if trend.towards == "upper" else lower
    away = (limit or 0.0) - trend.last_value
    if trend.left_50 and (away if trend.towards == "upper" else -away) > 0:
        return away / trend.left_50
    return None if trend.slope is None else trend.slope * trend.severity
