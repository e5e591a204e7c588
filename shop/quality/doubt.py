"""What an unfit gauge casts doubt on: the readings since its last good check, and what was decided about each."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from shop.quality.models import Calibration, Reading, TileCheck, UnfitDecision, UnfitFinding, Verdict
from shop.tooling.models import FinishLife

Decision = UnfitDecision.Decision


@dataclass(frozen=True)
class Span:
    """When the gauge was not to be trusted: from its last good check to the next one, which ends it."""

    since: datetime | None
    until: datetime | None

    def holds(self, at: datetime) -> bool:
        """Return whether a reading at this time lies in it; one at the moment of the last good check does."""
        return (self.since is None or at >= self.since) and (self.until is None or at < self.until)

    @property
    def condition(self) -> Q:
        """Return the same as a condition on readings."""
        since = Q() if self.since is None else Q(at__gte=self.since)
        return since if self.until is None else since & Q(at__lt=self.until)


@dataclass(frozen=True)
class Doubt:
    """One reading of an unfit gauge: the finding that speaks against it, and the decision where there is one."""

    reading: Reading
    finding: UnfitFinding
    decision: UnfitDecision | None

    @property
    def open(self) -> bool:
        """Return whether nothing was decided, or it waits to be measured again."""
        return self.decision is None or self.decision.decision == Decision.AGAIN


def last_good_check(gauge_id: int, before: datetime) -> datetime | None:
    """Return when the gauge was last seen to be right before `before`: a calibration passed, or a tile read well."""
    last = [_calibrated(gauge_id), _read_well(gauge_id)]
    times = [rows.filter(at__lt=before).order_by("-at").values_list("at", flat=True).first() for rows in last]
    return max((time for time in times if time is not None), default=None)


def spans(findings: Iterable[UnfitFinding]) -> dict[int, Span]:
    """Return the span of each finding, in two queries."""
    findings = list(findings)
    gauges = {finding.gauge_id for finding in findings}
    good: dict[int, list[datetime]] = defaultdict(list)
    for rows in (Calibration.objects.filter(passed=True), TileCheck.objects.filter(outcome=TileCheck.Outcome.GOOD)):
        for gauge_id, at in rows.filter(gauge__in=gauges).values_list("gauge_id", "at"):
            good[gauge_id].append(at)
    return {
        finding.pk: Span(
            finding.last_good_at, min((at for at in good[finding.gauge_id] if at > finding.at), default=None)
        )
        for finding in findings
    }


def readings_of(finding: UnfitFinding, span: Span) -> Any:
    """Return the readings that a finding speaks against: those in force, and those something was decided about."""
    return listed([finding.gauge_id]).filter(span.condition)


def listed(gauges: Collection[int]) -> Any:
    """Return the readings by these gauges that are in force, or that something was decided about."""
    decided = UnfitDecision.objects.filter(reading=OuterRef("pk"))
    in_force = Q(superseded_by__isnull=True, void=False)
    return Reading.objects.filter(gauge__in=gauges).filter(in_force | Exists(decided))


def decisions_on(readings: Collection[Any]) -> dict[int, UnfitDecision]:
    """Return the decision in force on each reading, whichever finding it was taken in."""
    rows = UnfitDecision.objects.filter(reading__in=readings, superseded_by__isnull=True, void=False)
    return {row.reading_id: row for row in rows.select_related("by", "finding").order_by("at", "id")}


def doubts(readings: Iterable[Reading]) -> dict[int, Doubt]:
    """Return what casts doubt on each of these readings, by reading; one query where no gauge was ever unfit."""
    readings = list(readings)
    by_gauge: dict[int, list[UnfitFinding]] = defaultdict(list)
    used = {reading.gauge_id for reading in readings if reading.gauge_id}
    for finding in UnfitFinding.objects.filter(gauge__in=used).select_related("gauge").order_by("at", "id"):
        by_gauge[finding.gauge_id].append(finding)
    if not by_gauge:
        return {}
    known = spans(finding for findings in by_gauge.values() for finding in findings)
    found = {}
    for reading in readings:
        against = [one for one in by_gauge.get(reading.gauge_id or 0, ()) if known[one.pk].holds(reading.at)]
        if against:
            found[reading.pk] = (reading, against[-1])
    decided = decisions_on(list(found))
    return {pk: Doubt(reading, finding, decided.get(pk)) for pk, (reading, finding) in found.items()}


def key_of_reading(reading: Reading) -> tuple[Any, ...]:
    """Return by what a reading finds the verdict that it went into."""
    angle = reading.geometry_deg
    return (reading.inspection_id, reading.face_id, reading.spot_id, reading.parameter, reading.where, angle)


def key_of_verdict(verdict: Verdict) -> tuple[Any, ...]:
    """Return by what a verdict finds its readings; its limit must have been fetched."""
    angle = verdict.limit.geometry_deg
    return (verdict.inspection_id, verdict.face_id, verdict.spot_id, verdict.parameter, verdict.where, angle)


def verdicts_in_doubt(verdicts: Iterable[Verdict]) -> dict[int, tuple[Doubt, ...]]:
    """Return, by verdict, the open doubts about the readings that it rests on; their limits must have been fetched."""
    verdicts = list(verdicts)
    if not verdicts:
        return {}
    inspections = {verdict.inspection_id for verdict in verdicts}
    rested = Reading.objects.usable().filter(inspection__in=inspections, gauge__findings__isnull=False).distinct()
    by_key: dict[tuple[Any, ...], list[Doubt]] = defaultdict(list)
    for doubt in doubts(rested).values():
        if doubt.open:
            by_key[key_of_reading(doubt.reading)].append(doubt)
    found = {verdict.pk: tuple(by_key[key_of_verdict(verdict)]) for verdict in verdicts}
    return {pk: against for pk, against in found.items() if against}


def withdrawn(verdicts: Iterable[Verdict]) -> list[Verdict]:
    """Return which of these verdicts are gone because a reading of theirs was taken back for an unfit gauge."""
    verdicts = [verdict for verdict in verdicts if verdict.void]
    decided = UnfitDecision.objects.filter(
        reading__inspection__in={verdict.inspection_id for verdict in verdicts},
        decision=Decision.WITHDRAW,
        superseded_by__isnull=True,
        void=False,
    )
    gone = {key_of_reading(one.reading) for one in decided.select_related("reading")} if verdicts else set()
    return [verdict for verdict in verdicts if key_of_verdict(verdict) in gone]


def to_measure_again(faces: QuerySet[Any], at: datetime) -> list[UnfitDecision]:
    """Return the decisions to measure again that still wait: nothing fit was read there since, on the same finish."""
    refinished = FinishLife.objects.filter(
        face=OuterRef("reading__face"), ended_at__gt=OuterRef("reading__at"), ended_at__lte=at
    )
    waiting = list(
        UnfitDecision.objects.filter(
            ~Exists(refinished),
            reading__face__in=faces.values("pk"),
            decision=Decision.AGAIN,
            superseded_by__isnull=True,
            void=False,
            at__lte=at,
        )
        .select_related("reading__face__insert__tool__plant", "reading__spot", "finding__gauge")
        .order_by("at", "id")
    )
    if not waiting:
        return []
    since = Reading.objects.usable().filter(
        face__in={one.reading.face_id for one in waiting}, gauge_overdue=False, at__gt=waiting[0].at, at__lte=at
    )
    read = list(since)
    doubtful = {pk for pk, doubt in doubts(read).items() if doubt.open}
    fit = [(_place(reading), reading.at) for reading in read if reading.pk not in doubtful]
    return [one for one in waiting if not any(place == _place(one.reading) and seen > one.at for place, seen in fit)]


def _place(reading: Reading) -> tuple[Any, ...]:
    return (reading.face_id, reading.spot_id, reading.parameter, reading.where, reading.geometry_deg)


def _calibrated(gauge_id: int) -> Any:
    return Calibration.objects.filter(gauge=gauge_id, passed=True)


def _read_well(gauge_id: int) -> Any:
    return TileCheck.objects.filter(gauge=gauge_id, outcome=TileCheck.Outcome.GOOD)
