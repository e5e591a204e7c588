"""The sheet that quality fills in: which faces and spots of a tool, what each must be and how it is measured."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from django.db.models import Prefetch

from shop.boards.face_maps import InsertMap, insert_map
from shop.people.models import Plant
from shop.quality.asked import Asked, Sides, asked_of, day_in
from shop.quality.models import Gauge, Inspection, PlanItem
from shop.refusal import Refused
from shop.standards import roughness
from shop.tooling.models import Face, Limit, Parameter, Spec, Spot, Tool, WhereMeasured
from shop.tooling.plaque_state import PlaqueStanding, standings
from shop.tooling.reading import inserts_at
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
    spec: Spec
    sides: Sides
    evaluation_mm: Decimal | None
    cutoff_mm: Decimal | None
    plan: PlanItem | None

    @property
    def by_eye(self) -> bool:
        """Return whether it is a comparison with the plaque."""
        return Parameter(self.limit.parameter).by_eye

    @property
    def roughness(self) -> bool:
        """Return whether it is measured with a cut-off."""
        return self.limit.parameter in ROUGHNESS

    @property
    def stylus_marks(self) -> bool:
        """Return whether a stylus would mark the face: an A grade is read by optical means, replica or coupon."""
        return self.roughness and self.spec.scale == Spec.Scale.GRADE and self.spec.code.upper().startswith("A")

    @property
    def gauge_field(self) -> str:
        """Return which gauge of the sheet measures it."""
        return "gauge_gloss" if self.limit.parameter == Parameter.GLOSS else "gauge_roughness"

    @property
    def values_wanted(self) -> int:
        """Return how many values the plan asks for."""
        return self.plan.values_wanted if self.plan else 1


@dataclass(frozen=True)
class SheetFace:
    """One face on the sheet with its places; those that the plan names come first."""

    face: Face
    position: int | None
    spec: Spec
    standing: Standing | None
    places: tuple[Place, ...]
    plaque_standing: PlaqueStanding | None = None

    @property
    def spots(self) -> list[tuple[Spot | None, list[Place]]]:
        """Return the places by spot."""
        grouped: dict[int, list[Place]] = {}
        for place in self.places:
            grouped.setdefault(place.spot.pk if place.spot else 0, []).append(place)
        return [(places[0].spot, places) for places in grouped.values()]


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
    inserts: tuple[InsertMap, ...]
    faces: tuple[SheetFace, ...]

    @property
    def places(self) -> list[Place]:
        """Return all places of the sheet."""
        return [place for row in self.faces for place in row.places]


def measure_sheet(tool: Tool, kind: Inspection.Kind, at: datetime, chosen: Collection[int] = ()) -> Sheet:
    """Return the sheet of a tool for the chosen faces; where none is chosen, for all that are fitted."""
    fitted = {one.insert_id: one.position.number for one in inserts_at(tool, at)}
    faces = _faces(tool)
    chosen = chosen or {face.pk for face in faces if face.insert_id in fitted}
    picked = [face for face in faces if face.pk in chosen]
    asked = asked_of(picked, at) if picked else {}
    rows = [_sheet_face(face, fitted.get(face.insert_id), kind, asked[face.pk]) for face in picked]
    found = _with_plaques([row for row in rows if row is not None], at)
    found.sort(key=lambda row: (row.position is None, row.position or 0, row.face.name))
    return Sheet(tool, kind, _inserts(faces, fitted, chosen), tuple(found))


def _with_plaques(rows: list[SheetFace], at: datetime) -> list[SheetFace]:
    """Add how the plaque of each face stands, so that a bad one is seen before it is judged by."""
    states = standings([row.spec.plaque for row in rows if row.spec.plaque], at)
    return [replace(row, plaque_standing=states.get(row.spec.plaque_id or 0)) for row in rows]


def gauges(plant: Plant, at: datetime) -> list[GaugeChoice]:
    """Return the plant's gauges in use with their due state, those in date first."""
    day = day_in(plant, at)
    rows = []
    for gauge in Gauge.objects.in_use(plant).with_due_date(at):
        overdue = gauge.due_on is None or gauge.due_on < day
        field = "gauge_gloss" if gauge.kind == Gauge.Kind.GLOSS else "gauge_roughness"
        rows.append(GaugeChoice(gauge, field, usable=bool(gauge.passed) and not overdue, overdue=overdue))
    return sorted(rows, key=lambda row: (not row.usable, row.gauge.number))


def _faces(tool: Tool) -> list[Face]:
    faces = Face.objects.in_tool(tool).filter(insert__retired_at__isnull=True).select_related("insert", "standing")
    planned = Prefetch("plan_items", PlanItem.objects.in_force(), to_attr="planned")
    return list(faces.prefetch_related("spots", planned).order_by("insert__number", "name"))


def _inserts(faces: list[Face], fitted: Mapping[int, int], chosen: Collection[int]) -> tuple[InsertMap, ...]:
    grouped: dict[int, list[Face]] = {}
    for face in faces:
        if face.pk in chosen:
            grouped.setdefault(face.insert_id, []).append(face)
    rows = [
        insert_map(of[0].insert, fitted.get(pk), tuple(of), href="#face-{pk}", spot_href="#spot-{face}-{spot}")
        for pk, of in grouped.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.position is None, row.position or 0, row.insert.number)))


def _sheet_face(face: Face, position: int | None, kind: Inspection.Kind, asked: Asked) -> SheetFace | None:
    if asked.spec is None:
        return None
    places = [
        _place(face, spot, limit, asked)
        for spot in _spots(face)
        for limit in _limits_at(asked, spot)
        if _wanted(limit, kind)
    ]
    standing: Standing | None = getattr(face, "standing", None)
    ordered = tuple(sorted(places, key=lambda place: place.plan is None))
    return SheetFace(face, position, asked.spec, standing, ordered)


def _spots(face: Face) -> list[Spot | None]:
    spots: list[Spot | None] = list(face.spots.all())
    return spots or [None]


def _limits_at(asked: Asked, spot: Spot | None) -> list[Limit]:
    """Return the limits that hold at a spot: its own where it has one, else those of every spot."""
    kinds = dict.fromkeys((limit.parameter, limit.where) for limit in asked.limits)
    spot_id = spot.pk if spot else None
    return [limit for parameter, where in kinds for limit in asked.limits_for(parameter, where, spot_id)]


def _wanted(limit: Limit, kind: Inspection.Kind) -> bool:
    """Return whether this kind of inspection looks there: a steel check at the steel, off-press checks at parts."""
    if kind == Inspection.Kind.ROUTINE:
        return True
    return (limit.where in ON_STEEL) == (kind == Inspection.Kind.STEEL_CHECK)


def _place(face: Face, spot: Spot | None, limit: Limit, asked: Asked) -> Place:
    spec: Spec = asked.spec  # type: ignore[assignment]  # a sheet has only faces with a spec
    cutoff, evaluation = _conditions(limit, spec)
    return Place(
        key=f"{face.pk}-{spot.pk if spot else 0}-{limit.pk}",
        face=face,
        spot=spot,
        limit=limit,
        spec=spec,
        sides=asked.sides(limit),
        evaluation_mm=evaluation,
        cutoff_mm=cutoff,
        plan=_planned(face, spot, limit),
    )


def _planned(face: Face, spot: Spot | None, limit: Limit) -> PlanItem | None:
    items: list[PlanItem] = face.planned  # type: ignore[attr-defined]  # set by the prefetch
    fitting = (
        item
        for item in items
        if item.parameter == limit.parameter
        and item.where == limit.where
        and item.spot_id in (None, spot.pk if spot else None)
    )
    return next(fitting, None)


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
