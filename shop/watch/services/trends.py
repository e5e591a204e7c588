"""Refit trends from their readings and work out how faces stand. Bulk: the queries do not grow with the faces."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from shop.quality.models import Reading
from shop.quality.worth import gauge_uncertainty, worths_of
from shop.tooling.models import Face, Spot, WhereMeasured
from shop.watch.facts import Facts, gather
from shop.watch.fitting import fit, group_of
from shop.watch.groups import Pools
from shop.watch.models import Standing, Trend
from shop.watch.path import Bridge, bridge_of, packed, points_of
from shop.watch.services import asking
from shop.watch.standing import standing_of
from shop.watch.steps import split

Key = tuple[str, int | None, str, int | None]
_FITTED = [
    "unit", "count", "last_value", "last_uncertainty", "last_at", "last_life_shots", "lower", "upper", "resin",
    "colour", "intercept", "slope", "se_intercept", "se_slope", "residual_sd", "mean_shots", "sxx", "towards",
    "life_shots", "chance_now", "left_10", "left_50", "left_90", "own_left_10", "own_left_50", "own_left_90", "pool",
    "shape", "severity", "life_wear", "rate", "points", "shared", "fitted_at",
]  # fmt: skip
_STOOD = [
    "state", "on_concession", "worst", "life_shots", "shots_per_day", "left_10", "left_50", "due_on", "even_on",
    "sure_on", "window_from", "window_to", "chance_ahead", "bad_shots_ahead", "steel_left_um", "worked_out_at",
]  # fmt: skip
_COLUMNS = (
    "id", "face_id", "life_id", "spot_id", "parameter", "where", "value", "unit", "gauge_id", "geometry_deg", "at",
    "inspection_id", "inspection__resin_id", "inspection__colour",
)  # fmt: skip


@transaction.atomic
def bring_up_to_date(faces: Iterable[Face], *, at: datetime, awaiting: Collection[int] = ()) -> None:
    """Refit the trends of the running lives of these faces and set how they stand.

    `awaiting` holds the keys of faces whose steel has passed and whose parts have not been seen yet.
    """
    ids = sorted({face.pk for face in faces})
    locked = list(Face.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    found = gather(locked, at)
    if not found:
        return
    _refit(found, _readings(found), at)
    stand(found, awaiting=awaiting)


@transaction.atomic
def stand_anew(faces: Iterable[Face], *, at: datetime, awaiting: Collection[int] = ()) -> None:
    """Set how faces stand, by trends that are up to date."""
    ids = sorted({face.pk for face in faces})
    stand(gather(list(Face.objects.select_for_update().filter(pk__in=ids).order_by("pk")), at), awaiting=awaiting)


def stand(found: Mapping[int, Facts], *, awaiting: Collection[int] = ()) -> None:
    """Set how faces stand by what is known of them."""
    _write_standings([standing_of(facts, awaiting=pk in awaiting) for pk, facts in found.items()])


def _readings(found: Mapping[int, Facts]) -> dict[int, list[Any]]:
    """Return each face's usable readings of its running life, and of the steel check that the life began with."""
    lives = {facts.life.pk for facts in found.values() if facts.life is not None}
    rows = (
        Reading.objects.usable()
        .filter(Q(life__in=lives) | Q(life__isnull=True), face__in=list(found))
        .order_by("at", "id")
        .values_list(*_COLUMNS, named=True)
    )
    by_face: dict[int, list[Any]] = defaultdict(list)
    for reading in rows:
        if found[reading.face_id].life is not None:
            by_face[reading.face_id].append(reading)
    return {pk: _of_this_finish(readings, found[pk]) for pk, readings in by_face.items()}


def _of_this_finish(readings: list[Any], facts: Facts) -> list[Any]:
    """Keep, of what was read between the lives, only the last going-over: the finish that passed."""
    assert facts.life is not None  # noqa: S101 (faces without a life have no readings here)
    between = [
        reading
        for reading in readings
        if reading.life_id is None
        and facts.before_ended is not None
        and facts.before_ended <= reading.at <= facts.life.began_at
    ]
    last = between[-1].inspection_id if between else None
    return [one for one in readings if one.life_id is not None or (one in between and one.inspection_id == last)]


def _refit(found: Mapping[int, Facts], readings: Mapping[int, list[Any]], at: datetime) -> None:
    """Fit every trend anew, tool by tool what its inspections share, and write those that are there now."""
    plant = next(iter(found.values())).plant
    bridge = bridge_of(plant)
    gone: list[int] = []
    lasts: list[Any] = []
    for pk, facts in found.items():
        grouped: dict[Key, list[Any]] = defaultdict(list)
        for reading in readings.get(pk, []):
            grouped[_key(reading)].append(reading)
        rows = {_key_of(trend): trend for trend in facts.trends}
        gone += [trend.pk for key, trend in rows.items() if key not in grouped]
        facts.trends = [_read(rows.get(key), of_key, facts, bridge) for key, of_key in grouped.items()]
        lasts += [of_key[-1] for of_key in grouped.values()]
    _set_uncertainties(found, lasts, at)
    spots = Spot.objects.in_bulk({last.spot_id for last in lasts if last.spot_id})
    for trend in (trend for facts in found.values() for trend in facts.trends):
        trend.spot = spots.get(trend.spot_id or 0)
    _split_steps(found, at)
    pools = Pools(plant)
    for facts in found.values():
        for trend in facts.trends:
            fit(trend, pools.of(group_of(trend, facts)))
    _write_trends([trend for facts in found.values() for trend in facts.trends], gone)


def _key(reading: Any) -> Key:
    return reading.parameter, reading.spot_id, reading.where, reading.geometry_deg


def _key_of(trend: Trend) -> Key:
    return trend.parameter, trend.spot_id, trend.where, trend.geometry_deg


def _read(row: Trend | None, readings: list[Any], facts: Facts, bridge: Bridge) -> Trend:
    """Set what a trend's readings say as they are, and pack them as one wear path."""
    last = readings[-1]
    trend = row or Trend(
        face=facts.face, life=facts.life, parameter=last.parameter, spot_id=last.spot_id, where=last.where,
        geometry_deg=last.geometry_deg,
    )  # fmt: skip
    on_part = last.where == WhereMeasured.PART
    # Steel does not know what resin was moulded last; a part does.
    trend.resin_id, trend.colour = (last.inspection__resin_id, last.inspection__colour) if on_part else (None, "")
    trend.unit, trend.last_value, trend.last_at = last.unit, float(last.value), last.at
    trend.life_shots, trend.life_wear, trend.severity = facts.life_shots, facts.life_wear, facts.worn.severity
    trend.fitted_at = facts.at
    trend.lower, trend.upper = _sides(trend, facts)
    trend.last_life_shots = facts.run_by(last.at)[0]
    trend.points = _path(trend, readings, facts, bridge)
    return trend


def _path(trend: Trend, readings: list[Any], facts: Facts, bridge: Bridge) -> bytes:
    last, kind = readings[-1], (trend.parameter, trend.where, trend.geometry_deg)
    rows = []
    for reading in readings:
        moved = bridge.across(kind, reading, last)
        if moved is not None:
            wear = facts.run_by(reading.at)[1]
            weight = 1.0 / bridge.spread(kind, reading.gauge_id) ** 2
            rows.append((wear, float(reading.value) + moved, 0.0, weight, reading.inspection_id, reading.id))
    return packed(rows)


def _sides(trend: Trend, facts: Facts) -> tuple[float | None, float | None]:
    """Return the limits in force for the trend, widened by a concession."""
    for limit in facts.asked.limits_for(trend.parameter, trend.where, trend.spot_id):
        if limit.geometry_deg == trend.geometry_deg:
            sides = facts.asked.sides(limit)
            return (
                None if sides.lower is None else float(sides.lower),
                None if sides.upper is None else float(sides.upper),
            )
    return None, None


def _set_uncertainties(found: Mapping[int, Facts], lasts: list[Any], at: datetime) -> None:
    """Set what the last reading of each trend is worth by its gauge."""
    whole = Reading.objects.select_related("gauge").in_bulk([last.id for last in lasts])
    worths = worths_of({reading.gauge_id for reading in whole.values() if reading.gauge_id}, at)
    by_key = {(last.face_id, *_key(last)): whole[last.id] for last in lasts}
    for pk, facts in found.items():
        for trend in facts.trends:
            gauge = gauge_uncertainty(by_key[pk, *_key_of(trend)], worths)
            trend.last_uncertainty = gauge.at(trend.last_value) if gauge else 0.0


def _split_steps(found: Mapping[int, Facts], at: datetime) -> None:
    """Take off what the inspections of each tool share; faces that are not looked at now lend their kept readings."""
    tools = {facts.tool.pk for facts in found.values()}
    others = Trend.objects.of_running_lives().filter(face__insert__tool__in=tools).exclude(face__in=list(found))
    lent = list(others.select_related("face__insert"))
    mine = [(facts.tool.pk, trend) for facts in found.values() for trend in facts.trends]
    splits = split([*mine, *((trend.face.insert.tool_id, trend) for trend in lent)], asking.answers_of(tools))
    for tool_id, trend in mine:
        shared = splits.get((tool_id, (trend.parameter, trend.where, trend.geometry_deg)))
        trend.shared = shared.shared if shared else None
        if shared:
            points = points_of(trend).copy()
            points["step"] = shared.of(points)
            trend.points = points.tobytes()
    asking.keep_steps(splits, tools, at=at)
    asking.ask(splits, mine, at=at)


def _write_trends(trends: list[Trend], gone: list[int]) -> None:
    if gone:
        Trend.objects.filter(pk__in=gone).delete()
    kept = [trend for trend in trends if trend.pk is not None]
    Trend.objects.bulk_create([trend for trend in trends if trend.pk is None])
    _write_again(Trend, kept, _FITTED)


def _write_standings(rows: list[Standing]) -> None:
    Standing.objects.bulk_create([row for row in rows if row.pk is None])
    _write_again(Standing, [row for row in rows if row.pk is not None], _STOOD)


def _write_again(model: type[Trend] | type[Standing], rows: list[Any], fields: list[str]) -> None:
    """Write the fields of rows that are there and locked by their faces.

    As an insert that finds its key taken: an update of many rows spells a case for each row and field, and takes
    several times as long on either engine.
    """
    if rows:
        model._default_manager.bulk_create(rows, update_conflicts=True, unique_fields=["id"], update_fields=fields)
