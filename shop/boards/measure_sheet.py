"""The sheet that quality fills in: which faces and spots of a tool, what each must be and how it is measured."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db.models import Prefetch, Q

from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality.models import Gauge, Inspection, PlanItem
from shop.refusal import Refused
from shop.standards import roughness
from shop.tooling.models import (
    Concession,
    Face,
    Fitting,
    Insert,
    Limit,
    Parameter,
    Spec,
    Spot,
    Tool,
    WhereMeasured,
)
from shop.watch.models import Standing

CUTOFFS_MM = tuple(Decimal(text) for text in ("0.08", "0.25", "0.8", "2.5", "8"))
ANGLES_DEG = (20, 60, 85)
ROUGHNESS = (Parameter.RA, Parameter.RQ, Parameter.RZ)
ON_STEEL = (WhereMeasured.STEEL, WhereMeasured.REPLICA)


@dataclass(frozen=True)
class Place:
    """One thing to measure: a parameter at a spot, what it must be and how it is measured."""

    key: str
    face: Face
    spot: Spot | None
    limit: Limit
    lower: Decimal | None
    upper: Decimal | None
    concession: Concession | None
    evaluation_mm: Decimal | None
    cutoff_mm: Decimal | None
    values_wanted: int
    direction: str
    condition: str
    planned: bool
    stylus_marks: bool

    @property
    def by_eye(self) -> bool:
        """Return whether it is a comparison with the plaque."""
        return Parameter(self.limit.parameter).by_eye

    @property
    def gauge_field(self) -> str:
        """Return which gauge of the sheet measures it."""
        return "gauge_gloss" if self.limit.parameter == Parameter.GLOSS else "gauge_roughness"


@dataclass(frozen=True)
class SheetFace:
    """One face on the sheet with its places."""

    face: Face
    position: int | None
    spec: Spec
    standing: Standing | None
    places: tuple[Place, ...]


@dataclass(frozen=True)
class SheetInsert:
    """One insert of the tool with all its faces, for the picture; `chosen` are on the sheet."""

    insert: Insert
    position: int | None
    faces: tuple[Face, ...]
    chosen: frozenset[int]


@dataclass(frozen=True)
class GaugeChoice:
    """A gauge to pick, with its due state."""

    gauge: Gauge
    field: str
    usable: bool
    overdue: bool


@dataclass(frozen=True)
class Sheet:
    """The sheet of one tool for one kind of inspection."""

    tool: Tool
    kind: Inspection.Kind
    inserts: tuple[SheetInsert, ...]
    faces: tuple[SheetFace, ...]

    @property
    def places(self) -> list[Place]:
        """Return all places of the sheet."""
        return [place for row in self.faces for place in row.places]


def measure_sheet(tool: Tool, kind: Inspection.Kind, at: datetime, chosen: Collection[int]) -> Sheet:
    """Return the sheet of a tool for the chosen faces."""
    fitted = {one.insert_id: one.position.number for one in _fittings(tool, at)}
    faces = _faces(tool, at)
    inserts = _inserts(faces, fitted, chosen)
    picked = [face for face in faces if face.pk in chosen]
    concessions = _concessions(picked, at)
    rows = [_sheet_face(face, fitted.get(face.insert_id), kind, concessions) for face in picked]
    return Sheet(tool, kind, inserts, tuple(row for row in rows if row is not None))


def gauges(plant: Plant, at: datetime) -> list[GaugeChoice]:
    """Return the plant's gauges in use with their due state, those in date first."""
    day = at.date()
    rows = []
    for gauge in Gauge.objects.in_use(plant).with_due_date(at):
        overdue = gauge.due_on is None or gauge.due_on < day
        field = "gauge_gloss" if gauge.kind == Gauge.Kind.GLOSS else "gauge_roughness"
        rows.append(GaugeChoice(gauge, field, usable=bool(gauge.passed) and not overdue, overdue=overdue))
    return sorted(rows, key=lambda row: (not row.usable, row.gauge.number))


def _fittings(tool: Tool, at: datetime) -> Iterable[Fitting]:
    found: Iterable[Fitting] = Fitting.objects.at_time(at).filter(position__tool=tool).select_related("position")
    return found


def _faces(tool: Tool, at: datetime) -> list[Face]:
    specs = Spec.objects.filter(at__lte=at).order_by("-revision").select_related("plaque").prefetch_related("limits__spot")
    faces = Face.objects.in_tool(tool).filter(insert__retired_at__isnull=True).select_related("insert", "standing")
    return list(
        faces.prefetch_related(
            "spots",
            Prefetch("specs", specs, to_attr="held_specs"),
            Prefetch("plan_items", PlanItem.objects.in_force(), to_attr="planned"),
        ).order_by("insert__number", "name")
    )


def _inserts(faces: list[Face], fitted: Mapping[int, int], chosen: Collection[int]) -> tuple[SheetInsert, ...]:
    grouped: dict[int, list[Face]] = {}
    for face in faces:
        grouped.setdefault(face.insert_id, []).append(face)
    rows = [
        SheetInsert(
            of_insert[0].insert,
            fitted.get(insert_id),
            tuple(of_insert),
            frozenset(face.pk for face in of_insert if face.pk in chosen),
        )
        for insert_id, of_insert in grouped.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.position is None, row.position or 0, row.insert.number)))


def _concessions(faces: list[Face], at: datetime) -> dict[tuple[int, str], Concession]:
    totals = InsertShots.objects.totals({face.insert_id for face in faces})
    rows = Concession.objects.running_on(at.date()).filter(Q(at__lte=at), face__in=[face.pk for face in faces])
    found: dict[tuple[int, str], Concession] = {}
    for row in rows.select_related("face").order_by("at", "id"):
        if row.until_insert_shots is None or totals.get(row.face.insert_id, 0) < row.until_insert_shots:
            found[row.face_id, row.parameter] = row
    return found


def _sheet_face(
    face: Face, position: int | None, kind: Inspection.Kind, concessions: Mapping[tuple[int, str], Concession]
) -> SheetFace | None:
    specs: list[Spec] = face.held_specs  # type: ignore[attr-defined]  # set by the prefetch
    if not specs:
        return None
    spec = specs[0]
    places = [
        _place(face, spot, limit, spec, concessions.get((face.pk, limit.parameter)))
        for limit in spec.limits.all()
        if _wanted(limit, kind)
        for spot in _spots(face, limit)
    ]
    standing: Standing | None = getattr(face, "standing", None)
    return SheetFace(face, position, spec, standing, tuple(sorted(places, key=lambda place: not place.planned)))


def _wanted(limit: Limit, kind: Inspection.Kind) -> bool:
    """Return whether this kind of inspection looks there: a steel check at the steel, off-press checks at parts."""
    if kind == Inspection.Kind.ROUTINE:
        return True
    return (limit.where in ON_STEEL) == (kind == Inspection.Kind.STEEL_CHECK)


def _spots(face: Face, limit: Limit) -> list[Spot | None]:
    if limit.spot_id:
        return [limit.spot]
    spots: list[Spot | None] = list(face.spots.all())
    return spots or [None]


def _place(face: Face, spot: Spot | None, limit: Limit, spec: Spec, concession: Concession | None) -> Place:
    plan = _planned(face, spot, limit)
    cutoff, evaluation = _conditions(limit, spec)
    lower, upper = limit.lower, limit.upper
    if concession is not None:
        lower = lower if concession.lower is None else concession.lower
        upper = upper if concession.upper is None else concession.upper
    return Place(
        key=f"{face.pk}-{spot.pk if spot else 0}-{limit.pk}",
        face=face,
        spot=spot,
        limit=limit,
        lower=lower,
        upper=upper,
        concession=concession,
        evaluation_mm=evaluation,
        cutoff_mm=cutoff,
        values_wanted=plan.values_wanted if plan else 1,
        direction=plan.direction if plan else "",
        condition=plan.condition if plan else "",
        planned=plan is not None,
        stylus_marks=spec.scale == Spec.Scale.GRADE and spec.code.startswith("A") and limit.parameter in ROUGHNESS,
    )


def _planned(face: Face, spot: Spot | None, limit: Limit) -> PlanItem | None:
    items: list[PlanItem] = face.planned  # type: ignore[attr-defined]  # set by the prefetch
    fitting = [
        item
        for item in items
        if item.parameter == limit.parameter
        and item.where == limit.where
        and item.spot_id in (None, spot.pk if spot else None)
    ]
    return fitting[0] if fitting else None


def _conditions(limit: Limit, spec: Spec) -> tuple[Decimal | None, Decimal | None]:
    """Return cut-off and evaluation length: the spec's own, else what the drawing's edition asks for."""
    if limit.parameter not in ROUGHNESS:
        return None, None
    if limit.cutoff_mm is not None:
        return limit.cutoff_mm, limit.cutoff_mm * 5
    upper = limit.upper if limit.upper is not None else limit.lower
    if upper is None or spec.drawing_edition == Spec.Edition.ASME:
        return None, None
    try:
        found = roughness.measuring_conditions(limit.parameter, float(upper), spec.drawing_edition)
    except Refused:
        return None, None  # off the table: the edition names no row, so the sheet names none either
    return Decimal(str(found.cutoff_mm)), Decimal(str(found.evaluation_length_mm))
