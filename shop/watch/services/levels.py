"""Learn how resins and gauges read against each other, and how fast resins wear, from faces that had several."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Count, Q

from shop.drift.severity import severities
from shop.drift.steps import Steps, common_steps
from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality.models import Reading
from shop.refusal import Refused
from shop.tooling.models import FinishLife, Resin, WhereMeasured
from shop.watch.models import LearnedSeverity, LevelOffset
from shop.watch.path import Kind, worn

_COLUMNS = (
    "life_id", "spot_id", "parameter", "where", "geometry_deg", "value", "gauge_id", "inspection__resin_id",
    "inspection__colour", "at",
)  # fmt: skip
# Scatter of so many readings stands beside a gauge's own, so that few readings make no gauge good or bad.
KNOWN_READINGS = 10


@dataclass
class _Path:
    """The readings of one life at one spot, as they were read."""

    life: FinishLife
    kind: Kind
    at: list[datetime] = field(default_factory=list)
    wear: list[float] = field(default_factory=list)
    values: list[float] = field(default_factory=list)
    resins: list[tuple[int | None, str]] = field(default_factory=list)
    gauges: list[int | None] = field(default_factory=list)


def learn_levels(plant: Plant, *, at: datetime) -> set[int]:
    """Learn offsets of resins and gauges and severities anew; return the faces whose paths rest on them.

    Everything is reckoned before anything is written: nobody's write waits for it.
    """
    paths = _paths(plant)
    by_kind: dict[Kind, list[_Path]] = defaultdict(list)
    for path in paths:
        by_kind[path.kind].append(path)
    rows: list[LevelOffset] = []
    for kind, alike in by_kind.items():
        rows += _of_resins(plant, kind, alike, at)
        rows += _of_gauges(plant, kind, alike, at)
    learned = _learned_severities(plant, paths, at)
    with transaction.atomic():
        LevelOffset.objects.filter(plant=plant).delete()
        LevelOffset.objects.bulk_create(rows)
        LearnedSeverity.objects.filter(plant=plant).delete()
        LearnedSeverity.objects.bulk_create(learned)
    return {path.life.face_id for path in paths if path.life.ended_at is None}


def _paths(plant: Plant) -> list[_Path]:
    """Return the readings of lives that had more than one resin, colour or gauge, at each of their spots."""
    mine = Reading.objects.usable().filter(life__face__insert__tool__plant=plant)
    several = (
        mine.order_by()
        .values("life_id")
        .annotate(
            resins=Count("inspection__resin", distinct=True),
            colours=Count("inspection__colour", distinct=True),
            gauges=Count("gauge", distinct=True),
        )
        .filter(Q(resins__gt=1) | Q(colours__gt=1) | Q(gauges__gt=1))
    )
    lives = FinishLife.objects.select_related("face__insert__tool").in_bulk([row["life_id"] for row in several])
    if not lives:
        return []
    usual = {life.face.insert_id: life.face.insert.tool.resin_id for life in lives.values()}
    run = worn(usual, min(life.began_at for life in lives.values()), usual, plant)
    found: dict[tuple[Any, ...], _Path] = {}
    for row in mine.filter(life__in=lives).order_by("at", "id").values_list(*_COLUMNS, named=True):
        kind = (row.parameter, row.where, row.geometry_deg)
        life = lives[row.life_id]
        path = found.setdefault((row.life_id, row.spot_id, *kind), _Path(life, kind))
        path.at.append(row.at)
        path.wear.append(run[life.face.insert_id].between(life.began_at, row.at)[1])
        path.values.append(float(row.value))
        path.resins.append((row.inspection__resin_id, row.inspection__colour))
        path.gauges.append(row.gauge_id)
    return list(found.values())


def _of_resins(plant: Plant, kind: Kind, paths: list[_Path], at: datetime) -> list[LevelOffset]:
    """Learn what each resin and colour reads above the mean, and take it off the paths."""
    if kind[1] != WhereMeasured.PART:
        return []
    steps, names = _shared(paths, [path.resins for path in paths])
    if steps is None:
        return []
    offsets = {names[int(one)]: offset for one, offset in zip(steps.occasion, steps.offset, strict=True)}
    counts = _counts(path.resins for path in paths)
    for path in paths:
        path.values = [value - offsets.get(name, 0.0) for value, name in zip(path.values, path.resins, strict=True)]
    return [
        LevelOffset(
            plant=plant, parameter=kind[0], where=kind[1], geometry_deg=kind[2], resin_id=name[0], colour=name[1],
            offset=float(offset), se=float(se), faces=counts[name], learned_at=at,
        )
        for name, offset, se in _told(steps, names)
        if name[0] is not None
    ]  # fmt: skip


def _of_gauges(plant: Plant, kind: Kind, paths: list[_Path], at: datetime) -> list[LevelOffset]:
    """Learn what each gauge reads above the mean and how its readings scatter."""
    steps, names = _shared(paths, [path.gauges for path in paths])
    if steps is None:
        return []
    offsets = {names[int(one)]: float(offset) for one, offset in zip(steps.occasion, steps.offset, strict=True)}
    spreads = _spreads(paths, offsets)
    counts = _counts(path.gauges for path in paths)
    return [
        LevelOffset(
            plant=plant, parameter=kind[0], where=kind[1], geometry_deg=kind[2], gauge_id=name, offset=float(offset),
            se=float(se), spread=spreads.get(name, 1.0), faces=counts[name], learned_at=at,
        )
        for name, offset, se in _told(steps, names)
        if name is not None
    ]  # fmt: skip


def _shared(paths: list[_Path], labels: list[list[Any]]) -> tuple[Steps | None, list[Any]]:
    """Return what each label shares over all faces, and the labels in the order of their numbers."""
    names = sorted({name for of_path in labels for name in of_path}, key=str)
    if len(names) < 2:
        return None, names
    number = {name: at for at, name in enumerate(names)}
    try:
        steps = common_steps(
            [(path.wear, path.values) for path in paths], [[number[name] for name in of_path] for of_path in labels]
        )
    except Refused:
        return None, names
    return (steps if len(steps.occasion) > 1 else None), names


def _told(steps: Steps, names: list[Any]) -> Iterable[tuple[Any, float, float]]:
    return [
        (names[int(one)], float(offset), float(se))
        for one, offset, se in zip(steps.occasion, steps.offset, steps.se, strict=True)
    ]


def _counts(labels: Iterable[list[Any]]) -> dict[Any, int]:
    found: dict[Any, int] = defaultdict(int)
    for of_path in labels:
        for name in set(of_path):
            found[name] += 1
    return found


def _spreads(paths: list[_Path], offsets: Mapping[Any, float]) -> dict[Any, float]:
    """Return how each gauge's readings scatter about their faces' lines, against all gauges' together."""
    squares: dict[Any, float] = defaultdict(float)
    counts: dict[Any, float] = defaultdict(float)
    for path in paths:
        x = np.asarray(path.wear)
        y = np.asarray([v - offsets.get(g, 0.0) for v, g in zip(path.values, path.gauges, strict=True)])
        if len(x) < 4 or np.ptp(x) == 0:
            continue
        slope, start = np.polyfit(x / np.ptp(x), y, 1)
        rest = (y - start - slope * x / np.ptp(x)) ** 2 * len(x) / (len(x) - 2)
        for gauge, square in zip(path.gauges, rest.tolist(), strict=True):
            squares[gauge] += square
            counts[gauge] += 1
    mean = sum(squares.values()) / sum(counts.values()) if counts else 0.0
    if mean <= 0:
        return {}
    return {
        gauge: float(np.sqrt((squares[gauge] / mean + KNOWN_READINGS) / (counts[gauge] + KNOWN_READINGS)))
        for gauge in counts
    }


def _learned_severities(plant: Plant, paths: list[_Path], at: datetime) -> list[LearnedSeverity]:
    resins = list(Resin.objects.order_by("pk"))
    column = {resin.pk: number for number, resin in enumerate(resins)}
    made = _made_of(paths, column)
    faces = [
        (_shots_by_resin(path, made[path.life.face.insert_id]), np.asarray(path.values))
        for path in paths
        if path.life.face.insert_id in made
    ]
    try:
        found = severities(faces, [float(resin.severity) for resin in resins])
    except Refused:
        return []
    return [
        LearnedSeverity(
            plant=plant,
            resin=resin,
            severity=float(found.severity[n]),
            low=float(found.low[n]),
            high=float(found.high[n]),
            faces=int(found.faces[n]),
            learned_at=at,
        )
        for n, resin in enumerate(resins)
        if found.faces[n] > 0
    ]


def _made_of(paths: list[_Path], column: Mapping[int, int]) -> dict[int, tuple[list[datetime], Any]]:
    """Return, by insert, when shots were made and how many of each resin until then."""
    usual = {path.life.face.insert_id: path.life.face.insert.tool.resin_id for path in paths}
    rows = InsertShots.objects.filter(insert__in=usual).order_by("at", "entry_id")
    found: dict[int, tuple[list[datetime], list[Any]]] = defaultdict(lambda: ([], []))
    for insert_id, at, shots, resin_id in rows.values_list("insert_id", "at", "shots", "resin_id"):
        resin = resin_id if resin_id is not None else usual[insert_id]
        if resin is None:
            continue
        more = np.zeros(len(column))
        more[column[resin]] = shots
        found[insert_id][0].append(at)
        found[insert_id][1].append(more)
    return {pk: (whens, np.cumsum(each, axis=0)) for pk, (whens, each) in found.items()}


def _shots_by_resin(path: _Path, made: tuple[list[datetime], Any]) -> Any:
    whens, totals = made
    padded = np.vstack([np.zeros(totals.shape[1]), totals])
    stamps = np.array([when.timestamp() for when in whens])

    def until(moment: datetime) -> Any:
        return padded[np.searchsorted(stamps, moment.timestamp(), side="right")]

    born = until(path.life.began_at)
    return np.array([until(moment) - born for moment in path.at])
