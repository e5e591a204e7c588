"""readings.csv: each row finds its face, spot and gauge; rows of one tool, time and kind are one inspection."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from shop.bring.columns import USUAL_UNIT
from shop.bring.receipts import content_of, known_among, ref_of
from shop.bring.sheet import Bad, Row, bad_row
from shop.bring.tools import NOT_KNOWN
from shop.people.models import Plant
from shop.quality.models import Gauge
from shop.quality.services.checks import ReadingDraft
from shop.quality.services.many import InspectionDraft, Looked, look_many
from shop.refusal import gettext_noop
from shop.tooling.models import Face, Fitting, Plaque, Resin, Spot, Tool

ONE_INSPECTION = (
    "tool",
    "at",
    "kind",
    "resin",
    "colour",
    "lot",
    "mould temperature",
    "hours since moulding",
    "cleaned",
)
FIELD_COLUMNS = {"geometry_deg": "angle", "cutoff_mm": "cut-off", "drafts": "value"}


@dataclass(frozen=True)
class Placed:
    """A row whose face, spot, gauge and plaque were found."""

    row: Row
    tool: Tool
    draft: ReadingDraft
    ref: UUID
    content: str


class Names:
    """What the plant has of what the rows name, fetched once."""

    def __init__(self, plant: Plant, numbers: set[str]) -> None:
        """Fetch tools, faces, spots, fittings, gauges, plaques and resins."""
        tools = Tool.objects.in_plant(plant).filter(number__in=numbers).select_related("plant", "customer")
        self.plant = plant
        self.tools: dict[str, Tool] = {tool.number: tool for tool in tools}
        self.faces: dict[tuple[str, str], dict[str, Face]] = defaultdict(dict)
        in_tools = Face.objects.filter(insert__tool__in=self.tools.values()).select_related("insert__tool__plant")
        for face in in_tools.prefetch_related("spots"):
            self.faces[face.insert.tool.number, face.insert.number][face.name] = face
        self.spots: dict[int, dict[str, Spot]] = {
            face.pk: {spot.name: spot for spot in face.spots.all()}
            for of in self.faces.values()
            for face in of.values()
        }
        self.fittings: dict[tuple[str, int], list[Fitting]] = defaultdict(list)
        places = Fitting.objects.filter(position__tool__in=self.tools.values())
        for fitting in places.select_related("insert", "position__tool"):
            self.fittings[fitting.position.tool.number, fitting.position.number].append(fitting)
        self.gauges = {gauge.number: gauge for gauge in Gauge.objects.filter(plant=plant)}
        self.plaques = {plaque.number: plaque for plaque in Plaque.objects.filter(plant=plant)}
        self.resins = {resin.name: resin for resin in Resin.objects.all()}

    def face_of(self, row: Row) -> Face | Bad:
        """Return the face that the row means, or why it cannot be found."""
        if row["tool"] not in self.tools:
            return bad_row(row, "tool", "bring.no_such_tool", gettext_noop("there is no tool of this number"))
        found = [face for number in self._inserts(row) for face in self.faces.get((row["tool"], number), {}).values()]
        if row["face"]:
            found = [face for face in found if face.name == row["face"]]
        if len(found) == 1:
            return found[0]
        column = "face" if self._inserts(row) else ("insert" if row["insert"] else "position")
        if not found:
            return bad_row(row, column, "bring.no_such_face", gettext_noop("no such face was there at that time"))
        return bad_row(
            row,
            "face",
            "bring.which_face",
            gettext_noop("could be any of: {faces}"),
            faces=", ".join(str(face) for face in found),
        )

    def _inserts(self, row: Row) -> list[str]:
        if row["insert"]:
            return [row["insert"]]
        at: datetime = row["at"]
        there = self.fittings.get((row["tool"], row["position"]), [])
        return [
            fitting.insert.number
            for fitting in there
            if fitting.from_at <= at and (fitting.to_at is None or fitting.to_at > at)
        ]


def check(rows: Sequence[Row], plant: Plant) -> tuple[list[Looked], list[Bad], int]:
    """Return the inspections that may be taken, the faults, and how many rows were known already."""
    names = Names(plant, {row["tool"] for row in rows})
    bad: list[Bad] = []
    placed, known = _new(_placed(rows, names, bad), bad)
    groups: dict[tuple[Any, ...], list[Placed]] = defaultdict(list)
    for one in placed:
        said = tuple(one.row[name] for name in ONE_INSPECTION)
        groups[(*said, str(one.row["answer"]))].append(one)
    looked = look_many([_inspection(group, names) for group in groups.values()])
    for seen, group in zip(looked, groups.values(), strict=True):
        bad += [group[index].row.bad(_column(refused.field), refused) for index, refused in seen.faults]
    return looked, bad, known


def _placed(rows: Sequence[Row], names: Names, bad: list[Bad]) -> list[Placed]:
    found: list[Placed] = []
    seen: dict[tuple[Any, ...], int] = defaultdict(int)
    for row in rows:
        face = names.face_of(row)
        faults = [face] if isinstance(face, Bad) else list(_unknown(row, face, names))
        if faults or isinstance(face, Bad):
            bad.extend(faults)
            continue
        key = (face.pk, row["spot"], row["parameter"], row["where"], row["at"].isoformat(), row["kind"], row["angle"])
        # Several values of one place at one time are told apart by their order in the file.
        seen[key] += 1
        draft = ReadingDraft(
            face=face,
            parameter=row["parameter"],
            where=row["where"],
            value=row["value"],
            unit=row["unit"] or USUAL_UNIT[row["parameter"]],
            spot=names.spots[face.pk].get(row["spot"]) if row["spot"] else None,
            gauge=names.gauges.get(row["gauge"]),
            plaque=names.plaques.get(row["plaque"]),
            geometry_deg=row["angle"],
            cutoff_mm=row["cut-off"],
        )
        ref = ref_of(names.plant, "reading", *key, seen[key])
        found.append(Placed(row, names.tools[row["tool"]], draft, ref, content_of(row.values)))
    return found


def _unknown(row: Row, face: Face, names: Names) -> list[Bad]:
    """Return a fault for each name in the row that the plant does not have."""
    lists: tuple[tuple[str, Any], ...] = (
        ("spot", names.spots[face.pk]),
        ("gauge", names.gauges),
        ("plaque", names.plaques),
        ("resin", names.resins),
    )
    return [
        bad_row(row, column, "bring.not_known", NOT_KNOWN if column == "resin" else _NOT_THERE)
        for column, known in lists
        if row[column] and row[column] not in known
    ]


_NOT_THERE = gettext_noop("is not known here; correct it, or enter it first")


def _new(placed: list[Placed], bad: list[Bad]) -> tuple[list[Placed], int]:
    """Return the rows that were not taken before, and how many were; one that says something else now is a fault."""
    known = known_among(one.ref for one in placed)
    before = [one for one in placed if one.ref in known]
    other = [one for one in before if known[one.ref].content_sha256 != one.content]
    bad += [bad_row(one.row, "value", "bring.other_content", OTHER_CONTENT) for one in other]
    return [one for one in placed if one.ref not in known], len(before) - len(other)


OTHER_CONTENT = gettext_noop(
    "the row was brought before with other values; correct the entry on its page, with a reason"
)


def _inspection(group: Sequence[Placed], names: Names) -> InspectionDraft:
    row = group[0].row
    return InspectionDraft(
        tool=group[0].tool,
        kind=row["kind"] or "routine",
        at=row["at"],
        drafts=[one.draft for one in group],
        refs=[one.ref for one in group],
        contents=[one.content for one in group],
        resin=names.resins.get(row["resin"]),
        colour=row["colour"] or "",
        lot=row["lot"] or "",
        mould_temperature_c=row["mould temperature"],
        hours_since_moulding=row["hours since moulding"],
        cleaned=row["cleaned"],
        answers={code: str(choice) for code, choice in (row["answer"] or {}).items()},
    )


def _column(field: str) -> str:
    """Return the column that a service's field stands for."""
    name = field.rsplit("-", 1)[-1] or "value"
    return FIELD_COLUMNS.get(name, name)
