"""What a certificate rests on: the verdicts, their readings, the gauges as they were calibrated, and who signed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from shop.bench.models import Line, Passing, WorkOrder
from shop.bench.states import State
from shop.quality import doubt
from shop.quality.models import Calibration, Defect, Reading, Verdict
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, FinishLife, Spec, Tool

VERDICTS = ("face__insert", "spot", "limit", "concession__by", "spec__plaque", "life", "inspection__resin")


@dataclass(frozen=True)
class Judged:
    """One verdict with the readings that it rests on, each with its gauge's calibration as it held then."""

    verdict: Verdict
    readings: tuple[tuple[Reading, Calibration | None], ...]


@dataclass(frozen=True)
class CertifiedFace:
    """One face with what proves it."""

    face: Face
    spec: Spec
    judged: tuple[Judged, ...]
    defects: tuple[Defect, ...]

    @property
    def outcome(self) -> str:
        """Return what counts: off spec before not proven before conforms; empty where nothing decides."""
        found = {one.verdict.outcome for one in self.judged if not one.verdict.informative}
        return next((each for each in ("no", "not proven", "yes") if each in found), "")


@dataclass(frozen=True)
class Certified:
    """A tool's faces with what proves them, and the signatures of the order that released them, if one did."""

    tool: Tool
    faces: tuple[CertifiedFace, ...]
    order: WorkOrder | None
    signed: tuple[Passing, ...]

    @property
    def outcome(self) -> str:
        """Return the outcome of the worst face; empty where a face has no verdict that decides."""
        found = {one.outcome for one in self.faces}
        return next((each for each in ("", "no", "not proven", "yes") if each in found), "")


def of_face(face: Face, at: datetime) -> Certified:
    """Return what proves a face now: its latest verdicts of this life, and the order that released it last."""
    order = _released(face)
    signed = _signed(order)
    life = FinishLife.objects.filter(face=face).at_time(at).order_by("number").last()
    known = Verdict.objects.in_force().filter(face=face, at__lte=at)
    of_life = known.filter(life=life) if life else known.none()
    at_release = known.filter(inspection__in=[one.inspection_id for one in signed if one.inspection_id])
    ids = {*of_life.values_list("pk", flat=True), *at_release.values_list("pk", flat=True)}
    latest: dict[tuple[Any, ...], Verdict] = {}
    for verdict in Verdict.objects.filter(pk__in=ids).select_related(*VERDICTS).order_by("at", "id"):
        latest[(verdict.parameter, verdict.spot_id, verdict.where, verdict.limit.geometry_deg)] = verdict
    return Certified(face.insert.tool, _faces([face], list(latest.values()), at), order, signed)


def of_order(order: WorkOrder, at: datetime) -> Certified:
    """Return what proves the faces of a released order: the verdicts of the inspections that were signed."""
    signed = _signed(order)
    lines = Line.objects.filter(order=order, face__isnull=False, dropped_because="")
    faces = list(
        Face.objects.filter(work_lines__in=lines).select_related("insert").distinct().order_by("insert__number", "name")
    )
    inspections = {one.inspection_id for one in signed if one.inspection_id}
    verdicts = Verdict.objects.in_force().filter(inspection__in=inspections, face__in=faces)
    return Certified(
        order.tool, _faces(faces, list(verdicts.select_related(*VERDICTS).order_by("at", "id")), at), order, signed
    )


def check(certified: Certified) -> None:
    """Refuse a certificate of what nobody measured, or that rests on a gauge found unfit.

    Raises
    ------
    Refused
        Naming the face, and what to do about it.
    """
    for one in certified.faces:
        if not one.judged:
            raise Refused(
                "certificate.nothing_measured",
                gettext_noop("{face} was not measured since its finish was made: there is nothing to certify."),
                next_step=gettext_noop("Measure the face first."),
                face=str(one.face),
            )
    verdicts = [each.verdict for one in certified.faces for each in one.judged]
    doubted = doubt.verdicts_in_doubt(verdicts)
    for verdict in verdicts:
        if against := doubted.get(verdict.pk):
            raise Refused(
                "certificate.in_doubt",
                gettext_noop("A reading of {face} was taken with {gauge}, which was found unfit on {at}."),
                next_step=gettext_noop("Decide about that reading first, or measure again with a gauge that is fit."),
                face=str(verdict.face),
                gauge=against[0].finding.gauge.number,
                at=against[0].finding.at,
            )
    if not certified.faces:
        raise Refused(
            "certificate.no_faces",
            gettext_noop("No face was worked on in this order: there is nothing to certify."),
            next_step=gettext_noop("Issue the certificate of a face from the page of the tool."),
        )


def _released(face: Face) -> WorkOrder | None:
    rows = WorkOrder.objects.filter(state=State.RELEASED, lines__face=face, lines__dropped_because="")
    latest: WorkOrder | None = rows.order_by("-closed_at", "-pk").first()
    return latest


def _signed(order: WorkOrder | None) -> tuple[Passing, ...]:
    """Return the last signature of each stage; one that was not passed counts only where none followed."""
    if order is None:
        return ()
    last = {row.stage: row for row in order.passings.select_related("by", "inspection").order_by("id")}
    return tuple(last[stage] for stage in Passing.Stage.values if stage in last)


def _faces(faces: Sequence[Face], verdicts: Sequence[Verdict], at: datetime) -> tuple[CertifiedFace, ...]:
    inspections = {verdict.inspection_id for verdict in verdicts}
    held = _readings(inspections)
    specs = {
        spec.face_id: spec
        for spec in Spec.objects.filter(face__in=faces, at__lte=at)
        .select_related("plaque", "by")
        .with_limits()
        .order_by("revision")
    }
    defects = list(
        Defect.objects.filter(inspection__in=inspections, face__in=faces).select_related("spot").order_by("id")
    )
    return tuple(
        CertifiedFace(
            face,
            specs[face.pk],
            tuple(Judged(v, tuple(held.get(doubt.key_of_verdict(v), ()))) for v in verdicts if v.face_id == face.pk),
            tuple(one for one in defects if one.face_id == face.pk),
        )
        for face in faces
        if face.pk in specs
    )


def _readings(inspections: Iterable[int]) -> dict[tuple[Any, ...], list[tuple[Reading, Calibration | None]]]:
    readings = list(
        Reading.objects.usable()
        .filter(inspection__in=list(inspections))
        .select_related("gauge", "plaque", "by")
        .order_by("id")
    )
    gauges = {reading.gauge_id for reading in readings if reading.gauge_id}
    calibrations = list(Calibration.objects.filter(gauge__in=gauges).order_by("at", "id"))
    found: dict[tuple[Any, ...], list[tuple[Reading, Calibration | None]]] = {}
    for reading in readings:
        then = [one for one in calibrations if one.gauge_id == reading.gauge_id and one.at <= reading.at]
        found.setdefault(doubt.key_of_reading(reading), []).append((reading, then[-1] if then else None))
    return found
