"""What was typed into the measure sheet: values along and across the lay, comparisons in a light, faults seen."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from shop.boards.measure_sheet import Place, Sheet
from shop.pages.typed import Typed
from shop.people.models import Person, Plant, UnitSystem
from shop.quality.models import Defect, Gauge, Reading
from shop.quality.services.inspections import DefectDraft, ReadingDraft
from shop.tooling.models import Face, Parameter, Spot

OTHER_VALUES = 2
LEAST_FAULTS, MOST_FAULTS = 2, 20
FAULT_COLUMNS = ("place", "kind", "size", "count", "note")
ACROSS, ALONG = Reading.Direction.ACROSS.value, Reading.Direction.ALONG.value
# The lights of a booth, as the standards of colour name them.
ILLUMINANTS = ("D65", "D50", "A", "F11")


@dataclass(frozen=True)
class Drafted:
    """A draft and the field of the form that it came from."""

    field: str
    draft: Any


def drafts_of(typed: Typed, filled: Sheet, plant: Plant) -> list[Drafted]:
    """Return a draft for each value that was typed."""
    in_use = Gauge.objects.in_use(plant)
    gauges = {field: typed.pick(field, in_use) for field in ("gauge_roughness", "gauge_gloss")}
    drafts = []
    for place in filled.places:
        if place.by_eye:
            names = [f"v-{place.key}-0"]
        else:
            names = [f"v-{place.key}-{number}" for number in range(slots(place))]
            names += [f"x-{place.key}-{number}" for number in range(OTHER_VALUES)]
        for name in names:
            drafted = _compared(typed, place, name) if place.by_eye else _read(typed, place, name, gauges)
            if drafted is not None:
                drafts.append(Drafted(name, drafted))
    return drafts


def slots(place: Place) -> int:
    """Return how many values the sheet has room for: one for an eye, else what the plan asks for and a spare."""
    return 1 if place.by_eye else max(place.values_wanted, 2)


def reader_unit(place: Place, reader: Person | None) -> str:
    """Return the unit that a bare number of this reader is in."""
    inch = reader is not None and reader.unit_system == UnitSystem.INCH
    return "uin" if inch and place.limit.unit == "um" else place.limit.unit


def direction_of(typed: Typed, place: Place, name: str) -> str:
    """Return the direction of a value: the place's own, else the sheet's; those of the other direction turn it."""
    said = typed.choice(f"dir-{place.key}", Reading.Direction.values, required=False)
    said = said or typed.choice("direction", Reading.Direction.values, required=False)
    others = any(typed.was[f"x-{place.key}-{number}"].strip() for number in range(OTHER_VALUES))
    main = said or (ACROSS if others else "")
    if name.startswith("v-"):
        return main
    return ALONG if main == ACROSS else ACROSS


def _compared(typed: Typed, place: Place, name: str) -> ReadingDraft | None:
    grade = typed.choice(name, {"-2", "-1", "0", "1", "2"}, required=False)
    if not grade:
        return None
    return ReadingDraft(
        face=place.face,
        spot=place.spot,
        parameter=place.limit.parameter,
        where=place.limit.where,
        value=Decimal(grade),
        unit="grade",
        plaque=place.spec.plaque,
        illuminant=typed.text("illuminant", most=20),
        view_angle_deg=typed.integer("view_angle"),
    )


def _read(typed: Typed, place: Place, name: str, gauges: dict[str, Gauge | None]) -> ReadingDraft | None:
    unit = reader_unit(place, typed.reader)
    value = typed.quantity(name, unit)
    if value is None:
        return None
    is_gloss = place.limit.parameter == Parameter.GLOSS
    angle = typed.integer(f"angle-{place.key}") if is_gloss else None
    return ReadingDraft(
        face=place.face,
        spot=place.spot,
        parameter=place.limit.parameter,
        where=place.limit.where,
        value=value,
        unit=unit,
        gauge=gauges[place.gauge_field],
        geometry_deg=angle or place.limit.geometry_deg,
        cutoff_mm=None if is_gloss else typed.decimal(f"cutoff-{place.key}"),
        evaluation_length_mm=None if is_gloss else typed.quantity(f"length-{place.key}", "mm"),
        direction=direction_of(typed, place, name),
    )


def defects_of(typed: Typed, filled: Sheet) -> list[Drafted]:
    """Return a draft for each fault that was typed; a row half filled is a fault of the form."""
    places = {value: where for value, where, _words in _fault_places(filled)}
    drafts = []
    for row in range(MOST_FAULTS):
        name = f"defect-{row}-".__add__
        if not typed.is_set((name("kind"), name("size"), name("count"), name("note"))):
            continue
        size = typed.quantity(name("size"), "mm", required=True)
        kind = typed.choice(name("kind"), Defect.Kind.values)
        place = typed.choice(name("place"), places)
        count = typed.integer(name("count"))
        if size is None or not kind or not place:
            continue
        face, spot = places[place]
        one = DefectDraft(face, kind, size, 1 if count is None else count, spot, typed.text(name("note"), most=200))
        drafts.append(Drafted(name("size"), one))
    return drafts


def _fault_places(filled: Sheet) -> list[tuple[str, tuple[Face, Spot | None], str]]:
    rows: list[tuple[str, tuple[Face, Spot | None], str]] = []
    for row in filled.faces:
        of_face = f"{row.position} · {row.face}" if row.position else str(row.face)
        rows.append((f"{row.face.pk}-0", (row.face, None), of_face))
        for spot, _places in row.spots:
            if spot is not None:
                rows.append((f"{row.face.pk}-{spot.pk}", (row.face, spot), f"{of_face}, {spot.name}"))
    return rows


def sheet_choices(typed: Typed, filled: Sheet) -> dict[str, Any]:
    """Return what the folded fields of the sheet choose from, and where they start: as this tool was last looked at."""
    last = Reading.objects.filter(inspection__tool=filled.tool).exclude(illuminant="").order_by("-at", "-id").first()
    rows = [row for row in range(MOST_FAULTS) if typed.is_set(f"defect-{row}-{name}" for name in FAULT_COLUMNS[1:])]
    return {
        "directions": Reading.Direction.choices,
        "illuminants": [(light, light) for light in ILLUMINANTS],
        "light": {
            "illuminant": last.illuminant if last else "",
            "angle": "" if last is None or last.view_angle_deg is None else last.view_angle_deg,
        },
        "by_eye": any(place.by_eye for place in filled.places),
        "by_gauge": any(not place.by_eye for place in filled.places),
        "fault_kinds": Defect.Kind.choices,
        "fault_places": [(value, words) for value, _where, words in _fault_places(filled)],
        "fault_rows": [
            {column: f"defect-{row}-{column}" for column in FAULT_COLUMNS}
            for row in range(min(max([*rows, -1]) + 1 + LEAST_FAULTS, MOST_FAULTS))
        ],
        "faults_typed": bool(rows),
        "other_numbers": range(OTHER_VALUES),
    }
