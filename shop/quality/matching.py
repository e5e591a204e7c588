"""How far the faces of a group were apart, and what their one gauge can say about it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from statistics import fmean

from shop.quality.judging import GUARDED, judge_statistic
from shop.quality.models import Gauge, MatchGroup, Reading
from shop.quality.worth import worths_of
from shop.refusal import Saying, gettext_noop


@dataclass(frozen=True)
class JudgedMatch:
    """What a difference means."""

    outcome: str
    standard_uncertainty: float
    conformance: float


@dataclass(frozen=True)
class Apart:
    """The two faces of a group that were furthest apart at one place, measured with one gauge."""

    gauge: Gauge
    lowest: Reading
    highest: Reading
    low: float
    high: float
    repeats: int
    missing: tuple[str, ...]

    @property
    def difference(self) -> float:
        """Return how far they are apart, in the unit of the group."""
        return round(self.high - self.low, 9)

    def judged(self, group: MatchGroup, required: float, at: datetime) -> JudgedMatch:
        """Return what the difference means: what the calibration does not know is common to both and cancels."""
        known = worths_of([self.gauge.pk], at)[self.gauge.pk]
        worth = known.of(self.gauge, group.parameter, group.geometry_deg, group.unit)
        found = worth.difference(self.high, self.low, self.repeats)
        tolerance = float(group.tolerance)
        outcome, chance = judge_statistic(
            self.difference, found.combined, None, tolerance, acceptance=GUARDED, required=required
        )
        # Without any uncertainty the difference is what it is.
        return JudgedMatch(outcome, found.combined, float(outcome == "yes") if chance is None else chance)


def groups_of_tools(tools: Collection[int]) -> dict[int, list[MatchGroup]]:
    """Return the match groups of each tool with their faces, in two queries; one where there is none."""
    found: dict[int, list[MatchGroup]] = defaultdict(list)
    rows = MatchGroup.objects.filter(tool__in=tools).prefetch_related("faces__insert").order_by("name")
    for group in rows:
        found[group.tool_id].append(group)
    return found


def belonging(group: MatchGroup, readings: Sequence[Reading]) -> list[Reading]:
    """Return the readings of the group's faces that are of its parameter, its place and its angle."""
    faces = {face.pk for face in group.faces.all()}
    return [
        reading
        for reading in readings
        if reading.face_id in faces
        and (reading.parameter, reading.where, reading.geometry_deg)
        == (group.parameter, group.where, group.geometry_deg)
        and reading.conditions_agree
        and not reading.void
    ]


def apart(group: MatchGroup, readings: Sequence[Reading]) -> Apart | Saying | None:
    """Return how far the faces are apart; words where they cannot be held against each other; None where one was read.

    Faces are compared at the spot of the same name and in one direction of the lay, since gate and end of fill differ
    by nature; the spot at which they differ most speaks for them.
    """
    own = belonging(group, readings)
    if len({reading.face_id for reading in own}) < 2:
        return None
    gauges = {reading.gauge_id for reading in own}
    if len(gauges) > 1:
        return Saying("match.two_gauges", SAID["match.two_gauges"], {"group": group.name})
    gauge = own[0].gauge
    if gauge is None or any(reading.gauge_overdue for reading in own):
        return Saying(
            "match.gauge_overdue", SAID["match.gauge_overdue"], {"group": group.name, "gauge": str(gauge or "")}
        )
    spots: dict[tuple[str, str], dict[int, list[Reading]]] = defaultdict(lambda: defaultdict(list))
    for reading in own:
        spots[reading.spot.name if reading.spot else "", reading.direction][reading.face_id].append(reading)
    compared = [_at_spot(group, gauge, faces) for faces in spots.values() if len(faces) > 1]
    if not compared:
        return Saying("match.no_common_spot", SAID["match.no_common_spot"], {"group": group.name})
    return max(compared, key=lambda one: one.difference)


SAID = {
    "match.two_gauges": gettext_noop(
        "{group} is not judged: its faces were read with different gauges, and their difference would be theirs."
    ),
    "match.gauge_overdue": gettext_noop("{group} is not judged: gauge {gauge} is out of date."),
    "match.no_common_spot": gettext_noop("{group} is not judged: its faces were read at different spots."),
}


def _at_spot(group: MatchGroup, gauge: Gauge, faces: dict[int, list[Reading]]) -> Apart:
    means = {pk: fmean(float(reading.value) for reading in own) for pk, own in faces.items()}
    low, high = min(means, key=lambda pk: means[pk]), max(means, key=lambda pk: means[pk])
    if low == high:
        low, high = list(means)[:2]
    return Apart(
        gauge=gauge,
        lowest=faces[low][0],
        highest=faces[high][0],
        low=means[low],
        high=means[high],
        repeats=min(len(faces[low]), len(faces[high])),
        missing=tuple(str(face) for face in group.faces.all() if face.pk not in faces),
    )
