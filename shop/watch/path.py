"""One wear path per face: shots weighted by resin, values brought to one resin and gauge, packed as they are kept."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality.models import GaugeOffset
from shop.tooling.models import Resin, WhereMeasured
from shop.watch.models import LearnedSeverity, LevelOffset, Trend

# How a reading of a trend is kept: `value - step` is what is forecast from, `weight` its precision against the group's.
POINT = np.dtype(
    [("wear", "<f8"), ("value", "<f8"), ("step", "<f8"), ("weight", "<f8"), ("inspection", "<i8"), ("reading", "<i8")]
)
Points = NDArray[Any]
# Parameter, where it is measured, angle.
Kind = tuple[str, str, int | None]
Level = tuple[int | None, str]


def points_of(trend: Trend) -> Points:
    """Return the readings that a trend was fitted to, oldest first."""
    return np.frombuffer(bytes(trend.points), POINT)


@dataclass(frozen=True)
class Worn:
    """What one insert has run: shots as they were made, and each weighted by its resin."""

    at: tuple[datetime, ...] = ()
    shots: tuple[int, ...] = ()
    wear: tuple[float, ...] = ()
    severity: float = 1.0

    def between(self, begin: datetime, end: datetime) -> tuple[int, float]:
        """Return shots and weighted shots made after one moment and not after another."""
        first, last = bisect_right(self.at, begin), bisect_right(self.at, max(begin, end))
        if last <= first:
            return 0, 0.0
        before = (self.shots[first - 1], self.wear[first - 1]) if first else (0, 0.0)
        return self.shots[last - 1] - before[0], self.wear[last - 1] - before[1]


def worn(inserts: Collection[int], since: datetime, usual: Mapping[int, int | None], plant: Plant) -> dict[int, Worn]:
    """Return what each insert has run since a moment, in three queries; `usual` is the resin where none was named.

    A resin's severity is what faces that ran several have shown, else what the plant says of it.
    """
    severities = severities_of(plant)
    rows = InsertShots.objects.filter(insert__in=inserts, at__gt=since).order_by("at", "entry_id")
    found: dict[int, tuple[list[datetime], list[int], list[float]]] = defaultdict(lambda: ([], [], []))
    last: dict[int, float] = {pk: severities.get(resin, 1.0) for pk, resin in usual.items()}
    for insert_id, at, shots, resin_id in rows.values_list("insert_id", "at", "shots", "resin_id"):
        whens, made, weighed = found[insert_id]
        severity = severities.get(resin_id if resin_id is not None else usual.get(insert_id), 1.0)
        whens.append(at)
        made.append((made[-1] if made else 0) + shots)
        weighed.append((weighed[-1] if weighed else 0.0) + shots * severity)
        last[insert_id] = severity
    return {pk: _worn(*found[pk], last.get(pk, 1.0)) for pk in inserts}


def _worn(at: list[datetime], shots: list[int], wear: list[float], severity: float) -> Worn:
    return Worn(tuple(at), tuple(shots), tuple(wear), severity)


def severities_of(plant: Plant) -> dict[int | None, float]:
    """Return what a shot of each resin counts in this plant, in two queries."""
    found: dict[int | None, float] = {pk: float(one) for pk, one in Resin.objects.values_list("pk", "severity")}
    found.update(LearnedSeverity.objects.filter(plant=plant).values_list("resin_id", "severity"))
    return found


@dataclass(frozen=True)
class Bridge:
    """How readings of other resins and gauges are brought beside each other."""

    resins: Mapping[tuple[Kind, int, str], float] = field(default_factory=dict)
    gauges: Mapping[tuple[Kind, int], tuple[float, float]] = field(default_factory=dict)
    pairs: Mapping[tuple[int, int, str, int | None], float] = field(default_factory=dict)

    def across(self, kind: Kind, reading: Any, last: Any) -> float | None:
        """Return what is added to a reading to stand beside the last one; None where the resins' levels are not known.

        Another colour of one resin, and another gauge, stand as they are until their offset is known.
        """
        moved = 0.0
        if kind[1] == WhereMeasured.PART:
            between = self._of_resins(kind, _level(reading), _level(last))
            if between is None:
                return None
            moved += between
        return moved + self._of_gauges(kind, reading.gauge_id, last.gauge_id)

    def spread(self, kind: Kind, gauge_id: int | None) -> float:
        """Return how a gauge's readings scatter against the plant's mean; 1 where nothing is known."""
        return self.gauges.get((kind, gauge_id or 0), (0.0, 1.0))[1]

    def _of_resins(self, kind: Kind, one: Level, other: Level) -> float | None:
        if one == other or one[0] is None or other[0] is None:
            # A resin that was not noted says nothing against the other.
            return 0.0
        levels = [self.resins.get((kind, resin, colour)) for resin, colour in (one, other) if resin is not None]
        if levels[0] is None or levels[1] is None:
            return 0.0 if one[0] == other[0] else None
        return levels[1] - levels[0]

    def _of_gauges(self, kind: Kind, one: int | None, other: int | None) -> float:
        if one == other or one is None or other is None:
            return 0.0
        parameter, _where, angle = kind
        if (paired := self.pairs.get((one, other, parameter, angle))) is not None:
            return -paired
        if (paired := self.pairs.get((other, one, parameter, angle))) is not None:
            return paired
        if (kind, one) in self.gauges and (kind, other) in self.gauges:
            return self.gauges[kind, other][0] - self.gauges[kind, one][0]
        return 0.0


def bridge_of(plant: Plant) -> Bridge:
    """Return what is known of the levels of the plant's resins and gauges, in two queries."""
    resins: dict[tuple[Kind, int, str], float] = {}
    gauges: dict[tuple[Kind, int], tuple[float, float]] = {}
    for one in LevelOffset.objects.filter(plant=plant):
        kind = (one.parameter, one.where, one.geometry_deg)
        if one.resin_id is not None:
            resins[kind, one.resin_id, one.colour] = one.offset
        elif one.gauge_id is not None:
            gauges[kind, one.gauge_id] = (one.offset, one.spread)
    paired = GaugeOffset.objects.filter(ours__plant=plant).order_by("at", "id")
    columns = ("ours_id", "theirs_id", "parameter", "geometry_deg", "offset")
    pairs = {row[:4]: float(row[4]) for row in paired.values_list(*columns)}
    return Bridge(resins, gauges, pairs)


def packed(rows: Iterable[tuple[float, float, float, float, int, int]]) -> bytes:
    """Return readings as a trend keeps them."""
    return np.array(list(rows), dtype=POINT).tobytes()


def _level(reading: Any) -> Level:
    return reading.inspection__resin_id, reading.inspection__colour
