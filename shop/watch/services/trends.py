"""Refit trends from their readings and work out how faces stand. Bulk: the queries do not grow with the faces."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from shop.press.models import InsertShots
from shop.quality.models import Reading
from shop.quality.worth import Worth, gauge_uncertainty, worths_of
from shop.tooling.models import Face, WhereMeasured
from shop.watch.facts import Facts, gather
from shop.watch.forecast import forecast, line_through, reached_at
from shop.watch.models import Standing, Trend
from shop.watch.standing import standing_of

Key = tuple[str, int | None, str, int | None, int | None]
_FITTED = [
    "unit", "count", "last_value", "last_uncertainty", "last_at", "last_life_shots", "lower", "upper", "intercept",
    "slope", "se_intercept", "se_slope", "residual_sd", "mean_shots", "sxx", "towards", "life_shots", "chance_now",
    "left_10", "left_50", "left_90", "fitted_at",
]  # fmt: skip
_STOOD = [
    "state", "on_concession", "worst", "life_shots", "shots_per_day", "left_10", "left_50", "due_on",
    "steel_left_um", "worked_out_at",
]  # fmt: skip


@transaction.atomic
def bring_up_to_date(faces: Iterable[Face], *, at: datetime, awaiting: Collection[int] = ()) -> None:
    """Refit the trends of the running lives of these faces and set how they stand.

    `awaiting` holds the keys of faces whose steel has passed and whose parts have not been seen yet.
    """
    ids = sorted({face.pk for face in faces})
    locked = list(Face.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    found = gather(locked, at)
    readings = _readings(found)
    gauges = {reading.gauge_id for of_face in readings.values() for reading in of_face if reading.gauge_id}
    _write_trends(found, readings, worths_of(gauges, at))
    _write_standings([standing_of(facts, awaiting=pk in awaiting) for pk, facts in found.items()])


def _readings(found: Mapping[int, Facts]) -> dict[int, list[Any]]:
    """Return each face's usable readings of its running life, and of the steel check that the life began with."""
    lives = {facts.life.pk for facts in found.values() if facts.life is not None}
    rows = (
        Reading.objects.usable()
        .filter(Q(life__in=lives) | Q(life__isnull=True), face__in=list(found))
        .annotate(insert_total=InsertShots.objects.total_before("face__insert", "at"))
        .select_related("inspection", "gauge", "spot")
        .order_by("at", "id")
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


def _key(reading: Any) -> Key:
    # Steel does not know what resin was moulded last; a part does.
    resin = reading.inspection.resin_id if reading.where == WhereMeasured.PART else None
    return reading.parameter, reading.spot_id, reading.where, resin, reading.geometry_deg


def _key_of(trend: Trend) -> Key:
    return trend.parameter, trend.spot_id, trend.where, trend.resin_id, trend.geometry_deg


def _write_trends(
    found: Mapping[int, Facts], readings: Mapping[int, list[Any]], worths: Mapping[int, Worth]
) -> None:
    new: list[Trend] = []
    kept: list[Trend] = []
    gone: list[int] = []
    for pk, facts in found.items():
        grouped: dict[Key, list[Any]] = defaultdict(list)
        for reading in readings.get(pk, []):
            grouped[_key(reading)].append(reading)
        rows = {_key_of(trend): trend for trend in facts.trends}
        gone += [trend.pk for key, trend in rows.items() if key not in grouped]
        facts.trends = [_fitted(rows.get(key), key, of_key, facts, worths) for key, of_key in grouped.items()]
        new += [trend for trend in facts.trends if trend.pk is None]
        kept += [trend for trend in facts.trends if trend.pk is not None]
    if gone:
        Trend.objects.filter(pk__in=gone).delete()
    Trend.objects.bulk_create(new)
    _write_again(Trend, kept, _FITTED)


def _fitted(
    row: Trend | None, key: Key, readings: list[Any], facts: Facts, worths: Mapping[int, Worth]
) -> Trend:
    trend = row or _new(key, facts)
    last = readings[-1]
    shots = [_life_shots(reading, facts) for reading in readings]
    gauge = gauge_uncertainty(last, worths)
    trend.unit = last.unit
    trend.count = len(readings)
    trend.last_value = float(last.value)
    trend.last_uncertainty = gauge.at(trend.last_value) if gauge else 0.0
    trend.last_at = last.at
    trend.last_life_shots = shots[-1]
    trend.life_shots = facts.life_shots
    trend.fitted_at = facts.at
    trend.lower, trend.upper = _sides(trend, facts)
    _set_line(trend, shots, [float(reading.value) for reading in readings])
    return trend


def _new(key: Key, facts: Facts) -> Trend:
    parameter, spot_id, where, resin_id, geometry_deg = key
    return Trend(
        face=facts.face,
        life=facts.life,
        parameter=parameter,
        spot_id=spot_id,
        where=where,
        resin_id=resin_id,
        geometry_deg=geometry_deg,
    )


def _life_shots(reading: Any, facts: Facts) -> int:
    return max(0, (reading.insert_total or 0) - facts.born_total)


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


def _set_line(trend: Trend, shots: list[int], values: list[float]) -> None:
    line = line_through(shots, values)
    seen = forecast(line, *reached_at(trend), trend.life_shots) if line else None
    trend.intercept = line.intercept if line else None
    trend.slope = line.slope if line else None
    trend.se_intercept = line.se_intercept if line else None
    trend.se_slope = line.se_slope if line else None
    trend.residual_sd = line.residual_sd if line else None
    trend.mean_shots = line.mean_x if line else None
    trend.sxx = line.sxx if line else None
    trend.towards = seen.towards if seen else ""
    trend.chance_now = seen.chance_now if seen else None
    trend.left_10, trend.left_50, trend.left_90 = seen.left if seen else (None, None, None)


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
