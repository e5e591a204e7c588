"""Forecast every trend of a plant at once: as `fitting.fit` does one by one, in arrays from reading to writing."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from django.db import connection, transaction
from django.db.models import QuerySet
from numpy.typing import NDArray

from shop.drift import batch, bulk, courses
from shop.people.models import Plant
from shop.tooling.models import Parameter, Spec
from shop.watch.fitting import fit
from shop.watch.forecast import CHANCES, FARTHEST_SHOTS, LEAST_READINGS, SIDES, TELLING_T
from shop.watch.groups import Group, Pools, family_of, hardness_class, severity_class
from shop.watch.models import Pool, Trend
from shop.watch.path import POINT

Floats = NDArray[np.float64]
_READ = (
    "pk", "points", "life_wear", "severity", "lower", "upper", "last_value", "parameter", "where", "geometry_deg",
    "face_id", "spot__kind", "face__insert__hardness_hrc", "shared",
)  # fmt: skip
_WRITTEN = (
    "own_left_10", "own_left_50", "own_left_90", "left_10", "left_50", "left_90", "chance_now", "towards", "pool_id",
    "rate", "fitted_at",
)  # fmt: skip
_FITTED = [name.removesuffix("_id") for name in _WRITTEN]
# How a found row goes to PostgreSQL: each column's type there and here. Nought, -1 or not a number stand for null.
_SENT: tuple[tuple[str, str, str], ...] = (
    ("pk", "bigint", ">i8"),
    *((name, "bigint", ">i8") for name in _WRITTEN[:6]),
    ("chance_now", "double precision", ">f8"),
    ("side", "smallint", ">i2"),
    ("pool_id", "bigint", ">i8"),
    ("rate", "double precision", ">f8"),
)
_COPY_HEAD, _COPY_TAIL = b"PGCOPY\n\xff\r\n\0" + bytes(8), b"\xff\xff"
_MOVED = (
    *(f"{name} = NULLIF(found.{name}, -1)" for name in _WRITTEN[:6]),
    "chance_now = NULLIF(found.chance_now, 'NaN')",
    "towards = CASE found.side WHEN 1 THEN 'upper' WHEN 2 THEN 'lower' ELSE '' END",
    "pool_id = NULLIF(found.pool_id, 0)",
    "rate = NULLIF(found.rate, 'NaN')",
    "fitted_at = %s",
)


@dataclass(frozen=True)
class _Side:
    """What is ahead of every trend on one side: shots to the chances, the chance now, the level now, and whose word."""

    left: Floats
    own_left: Floats
    now: Floats
    pool: NDArray[np.int64]


@transaction.atomic
def forecast_all(plant: Plant, *, at: datetime) -> int:
    """Forecast every trend of the plant's running lives by the groups as they stand now; return how many."""
    running = Trend.objects.of_running_lives().filter(face__insert__tool__plant=plant)
    rows = _rows(running.order_by("pk").values_list(*_READ))
    if not rows:
        return 0
    column = dict(zip(_READ, zip(*rows, strict=True), strict=True))
    points, offsets = _points(column["points"])
    wear, severity = np.array(column["life_wear"]), np.array(column["severity"])
    values = points["value"] - points["step"]
    own = bulk.fit_lines(points["wear"], values, offsets).seen_from(wear)
    groups = _groups(plant, column)
    pools = Pools(plant)
    sides: dict[str, _Side] = {}
    limits = _limits(column)
    for side in SIDES:
        found = _own(own, limits[side], side, np.diff(offsets))
        for pool, inside in _members(groups, pools, side, np.isfinite(limits[side])):
            _pooled(found, pool, inside, (points, values, offsets), limits[side], wear)
        sides[side] = found
    _leave_to_the_group(sides, own)
    _write(column["pk"], _outcome(sides, limits, severity, np.array(column["last_value"]), own), at)
    _fit_sharing(
        [pk for pk, shared in zip(column["pk"], column["shared"], strict=True) if shared], column, groups, pools
    )
    return len(rows)


def _fit_sharing(keys: list[int], column: dict[str, tuple[Any, ...]], groups: list[Group | None], pools: Pools) -> None:
    """Fit, one by one, the trends of tools whose steps were split off: how well these are known differs by tool."""
    group_of = dict(zip(column["pk"], groups, strict=True))
    sharing = list(Trend.objects.filter(pk__in=keys))
    for trend in sharing:
        group = group_of[trend.pk]
        fit(trend, pools.of(group) if group else {})
    Trend.objects.bulk_update(sharing, _FITTED, batch_size=500)


def _leave_to_the_group(sides: dict[str, _Side], own: bulk.Lines) -> None:
    """Leave out an own line's word on the side its group does not know, unless its slope tells."""
    with np.errstate(invalid="ignore"):
        for side, other, way in (("upper", "lower", 1.0), ("lower", "upper", -1.0)):
            tells = way * own.slope > TELLING_T * own.se_slope
            out = (sides[other].pool > 0) & (sides[side].pool == 0) & ~tells
            sides[side].left[out], sides[side].now[out] = np.nan, np.nan


def _rows(asked: QuerySet[Trend, Any]) -> list[tuple[Any, ...]]:
    """Return the rows; where the engine can, in its binary form: readings as text would be twice as long."""
    if connection.vendor != "postgresql":
        return list(asked)
    import psycopg

    sql, params = asked.query.sql_with_params()
    connection.ensure_connection()
    with psycopg.Cursor(connection.connection) as cursor:
        return cursor.execute(sql.encode(), params, binary=True).fetchall()


def _members(
    groups: Sequence[Group | None], pools: Pools, side: str, limited: NDArray[np.bool_]
) -> list[tuple[Pool, NDArray[np.int64]]]:
    """Return the pools that have a word on this side, each with the numbers of its trends."""
    by_group: dict[int, list[int]] = defaultdict(list)
    for number, group in enumerate(groups):
        by_group[id(group)].append(number)
    found: dict[int, tuple[Pool, list[int]]] = {}
    for numbers in by_group.values():
        group = groups[numbers[0]]
        pool = pools.of(group).get(side) if group is not None else None
        if pool is not None:
            found.setdefault(pool.pk, (pool, []))[1].extend(numbers)
    return [(pool, np.array(sorted(numbers))[limited[sorted(numbers)]]) for pool, numbers in found.values()]


def _points(packed: Sequence[bytes]) -> tuple[Any, NDArray[np.int64]]:
    """Return the readings of all trends in one array, and where each trend's begin."""
    counts = np.array([len(one) for one in packed]) // POINT.itemsize
    return np.frombuffer(b"".join(packed), POINT), np.concatenate([[0], np.cumsum(counts)])


def _limits(column: dict[str, tuple[Any, ...]]) -> dict[str, Floats]:
    """Return the limits that the paths reach, by side; NaN is none."""
    by_eye = {str(one) for one in Parameter if one.by_eye}
    halfway = np.array([0.5 if one in by_eye else 0.0 for one in column["parameter"]])
    upper, lower = (np.array([np.nan if x is None else x for x in column[side]], dtype=float) for side in SIDES)
    return {"upper": upper + halfway, "lower": lower - halfway}


def _groups(plant: Plant, column: dict[str, tuple[Any, ...]]) -> list[Group | None]:
    """Return the narrowest group of each trend; the same group is the same object."""
    specs = Spec.objects.filter(face__insert__tool__plant=plant).order_by("revision")
    made = {row[0]: row[1:] for row in specs.values_list("face_id", "how_made", "scale", "code")}
    known: dict[tuple[Any, ...], Group] = {}
    found: list[Group | None] = []
    names = ("face_id", "parameter", "where", "geometry_deg", "severity", "face__insert__hardness_hrc", "spot__kind")
    for face_id, *told in zip(*(column[name] for name in names), strict=True):
        spec = made.get(face_id)
        if spec is None:
            found.append(None)
            continue
        key = (*spec, *told)
        group = known.get(key)
        if group is None:
            group = known[key] = _group(*key)
        found.append(group)
    return found


def _group(
    how_made: str, scale: str, code: str, parameter: str, where: str, angle: int | None, severity: float,
    hrc: float | None, zone: str | None,
) -> Group:  # fmt: skip
    return Group(
        parameter, where, angle, how_made, family_of(scale, code), severity_class(severity), hardness_class(hrc),
        zone or "",
    )  # fmt: skip


def _own(own: bulk.Lines, limit: Floats, side: str, counts: NDArray[np.int64]) -> _Side:
    if not np.isfinite(limit).any():
        none = np.full((len(limit), len(CHANCES)), np.nan)
        return _Side(none.copy(), none, np.full(len(limit), np.nan), np.zeros(len(limit), dtype=np.int64))
    upwards = np.full(len(limit), side == "upper")
    told = counts >= LEAST_READINGS
    left = np.column_stack([bulk.shots_at(own, limit, upwards, chance) for chance in CHANCES])
    left[~told] = np.nan
    now = np.where(told, bulk.probability_by(own, limit, upwards, np.zeros(len(limit))), np.nan)
    return _Side(left.copy(), left, now, np.zeros(len(limit), dtype=np.int64))


def _pooled(
    found: _Side, pool: Pool, inside: NDArray[np.int64], read: tuple[Any, Floats, NDArray[np.int64]], limit: Floats,
    wear: Floats,
) -> None:  # fmt: skip
    """Put what the group says in place of the own lines' word, for its faces that have a reading."""
    points, values, offsets = read
    counts = np.diff(offsets)[inside]
    inside, counts = inside[counts > 0], counts[counts > 0]
    if not len(inside):
        return
    where = np.repeat(offsets[inside], counts) + np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
    share = np.abs(limit[inside])
    share[share == 0] = 1.0
    ahead = batch.ahead(
        [courses.read(one) for one in pool.courses],
        points["wear"][where], values[where] / np.repeat(share, counts), np.concatenate([[0], np.cumsum(counts)]),
        float(np.sign(limit[inside[0]])), "up" if pool.side == "upper" else "down",
        now=wear[inside], chances=CHANCES, weights=points["weight"][where],
    )  # fmt: skip
    found.left[inside], found.now[inside], found.pool[inside] = ahead.left, ahead.now, pool.pk


def _outcome(
    sides: dict[str, _Side], limits: dict[str, Floats], severity: Floats, level: Floats, own: bulk.Lines
) -> dict[str, NDArray[Any]]:
    """Return the columns that are written: of the two limits the one that is reached first decides."""
    keys = []
    for side in SIDES:
        one = sides[side]
        known = np.isfinite(one.now)
        keys.append(
            (np.where(known, one.left[:, 0], np.nan), one.left[:, 1], -one.now, np.abs(limits[side] - own.intercept))
        )
    upper = _comes_first(keys[0], keys[1])
    known = np.isfinite(sides["upper"].now) | np.isfinite(sides["lower"].now)
    left = np.fmin(sides["upper"].left, sides["lower"].left) / severity[:, None]
    own_left = np.fmin(sides["upper"].own_left, sides["lower"].own_left) / severity[:, None]
    now = np.where(upper, sides["upper"].now, sides["lower"].now)
    pool = np.where(upper, sides["upper"].pool, sides["lower"].pool)
    limit = np.where(upper, limits["upper"], limits["lower"])
    rate = _rates(limit - level, left[:, 1], upper, own.slope * severity)
    return {
        **dict(zip(_WRITTEN[:6], [_whole(one) for one in (*own_left.T, *left.T)], strict=True)),
        "chance_now": now,
        "side": np.where(known, np.where(upper, 1, 2), 0),
        "pool_id": np.where(known, pool, 0),
        "rate": np.where(known, rate, np.nan),
    }


def _comes_first(one: tuple[Floats, ...], other: tuple[Floats, ...]) -> NDArray[np.bool_]:
    """Return where the first key stands before the second; what is not known comes last."""
    first = np.zeros(len(one[0]), dtype=bool)
    open_yet = np.ones(len(first), dtype=bool)
    for mine, theirs in zip(one, other, strict=True):
        mine, theirs = np.nan_to_num(mine, nan=np.inf), np.nan_to_num(theirs, nan=np.inf)
        first |= open_yet & (mine < theirs)
        open_yet &= mine == theirs
    # Where nothing tells them apart the upper is named, as it is looked at first.
    unknown = np.isnan(one[2]) & ~np.isnan(other[2])
    return (first | open_yet) & ~unknown


def _rates(away: Floats, left: Floats, upper: NDArray[np.bool_], slope: Floats) -> Floats:
    """Return what a shot is expected to change the level by: on its way to the limit at an even chance."""
    with np.errstate(invalid="ignore", divide="ignore"):
        heading = np.isfinite(left) & (left > 0) & (np.where(upper, away, -away) > 0)
        return np.where(heading, away / left, slope)


def _whole(shots: Floats) -> NDArray[np.int64]:
    """Return whole shots; -1 where there are none to tell."""
    with np.errstate(invalid="ignore"):
        told = np.isfinite(shots) & (shots <= FARTHEST_SHOTS)
    return np.where(told, np.floor(np.where(told, shots, 0.0)), -1.0).astype(np.int64)


def _write(keys: Sequence[int], columns: dict[str, NDArray[Any]], at: datetime) -> None:
    """Write what was found: copied as bytes into a temporary table where the engine can, else row by row."""
    if connection.vendor != "postgresql":
        _write_rows(keys, columns, at)
        return
    named = ", ".join(f"{name} {kind}" for name, kind, _here in _SENT)
    with connection.cursor() as cursor:
        cursor.execute(f"CREATE TEMPORARY TABLE found ({named}) ON COMMIT DROP")
        with cursor.copy("COPY found FROM STDIN (FORMAT BINARY)") as copy:
            copy.write(_packed({"pk": np.array(keys), **columns}))
        cursor.execute(
            f"UPDATE watch_trend SET {', '.join(_MOVED)} FROM found WHERE watch_trend.id = found.pk",  # noqa: S608
            [at],
        )
        cursor.execute("DROP TABLE found")


def _packed(columns: dict[str, NDArray[Any]]) -> bytes:
    """Return columns as PostgreSQL's binary copy: rows of a count of fields, and each field behind its length."""
    fields: list[tuple[str, str]] = [("fields", ">i2")]
    for name, _kind, here in _SENT:
        fields += [(f"{name} bytes", ">i4"), (name, here)]
    rows = np.zeros(len(columns["pk"]), dtype=fields)
    rows["fields"] = len(_SENT)
    for name, _kind, here in _SENT:
        rows[f"{name} bytes"] = np.dtype(here).itemsize
        rows[name] = columns[name]
    return _COPY_HEAD + rows.tobytes() + _COPY_TAIL


def _write_rows(keys: Sequence[int], columns: dict[str, NDArray[Any]], at: datetime) -> None:
    trends = {trend.pk: trend for trend in Trend.objects.filter(pk__in=keys)}
    told = {name: column.tolist() for name, column in columns.items()}
    for number, pk in enumerate(keys):
        row = {name: column[number] for name, column in told.items()}
        trend = trends[pk]
        for name in _WRITTEN[:6]:
            setattr(trend, name, None if row[name] < 0 else row[name])
        trend.chance_now = None if math.isnan(row["chance_now"]) else row["chance_now"]
        trend.rate = None if math.isnan(row["rate"]) else row["rate"]
        trend.towards = ("", "upper", "lower")[row["side"]]
        trend.pool_id = row["pool_id"] or None
        trend.fitted_at = at
    Trend.objects.bulk_update(trends.values(), _FITTED, batch_size=500)
