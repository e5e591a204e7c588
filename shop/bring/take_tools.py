"""Taking what tools.csv tells: tools, inserts, faces, specs and inspection plans, through the rooms' services."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal
from functools import partial
from typing import Any, TypeVar

from django.db import transaction

from shop.bring.columns import USUAL_UNIT
from shop.bring.sheet import Bad
from shop.bring.tools import Asked, Thing
from shop.ledger.models import Receipt
from shop.people.models import Person, Plant
from shop.quality.services import plans
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Insert, Plaque, Position, Spec, Spot, Tool
from shop.tooling.services import faces, inserts, names, specs, tools
from shop.tooling.services.faces import SpotDraft
from shop.tooling.services.specs import LimitDraft
from shop.units import convert
from shop.watch.models import RefinishInterval

Made = TypeVar("Made")
LEVEL = {1: "tool", 2: "insert", 3: "face"}
COLUMN_OF = {"hardness_hrc": "hardness", "geometry_deg": "angle", "cutoff_mm": "cut-off", "positions": "position"}
FACE_FIELDS = {"area": "area_cm2", "draft": "draft_deg", "steel to give": "steel_to_give_um"}
TOOL_FIELDS = {
    "part": "part_number",
    "part revision": "part_revision",
    "class": "mould_class",
    "owner": "owner",
    "place": "place",
}


class Taking:
    """One taking of one file."""

    def __init__(self, plant: Plant, by: Person, at: datetime) -> None:
        """Remember for whom the file is taken."""
        self.plant, self.by, self.at = plant, by, at
        self.receipts: list[Receipt] = []
        self.face_ids: set[int] = set()
        self.rows = 0
        self.bad: list[Bad] = []
        self.plaques: dict[str, Plaque] = {plaque.number: plaque for plaque in Plaque.objects.filter(plant=plant)}

    def tools(self, asked: Asked) -> set[int]:
        """Take tool by tool, and write the receipts; return the faces made. What is refused goes to `bad`."""
        for thing in asked.tools.values():
            tool = Tool.objects.filter(plant=self.plant, number=thing.key[0]).first()
            if (tool := tool or self.tried(thing, partial(self.tool, thing))) is None:
                continue
            for under in thing.under.values():
                insert = Insert.objects.filter(tool=tool, number=under.key[1]).first()
                insert = insert or self.tried(under, partial(self.insert, tool, under))
                if insert is not None:
                    self.faces(insert, under)
        Receipt.objects.bulk_create(self.receipts, batch_size=1000)
        return self.face_ids

    def faces(self, insert: Insert, thing: Thing) -> None:
        """Take the faces of an insert that are not there yet; a zone comes after the face it lies within."""
        for face in sorted(thing.under.values(), key=lambda one: "zone of" in one.values):
            if face.known is None and self.tried(face, partial(self.face, insert, face)) is not None:
                self.rows += len(face.rows)

    def tried(self, thing: Thing, making: Callable[[], Made]) -> Made | None:
        """Return what was made, or note why it was refused."""
        try:
            with transaction.atomic():
                return making()
        except Refused as refused:
            row = thing.rows[0]
            column = COLUMN_OF.get(refused.field, refused.field)
            self.bad.append(row.bad(column if column in row.texts else LEVEL[len(thing.key)], refused))
            return None

    def tool(self, thing: Thing) -> Tool:
        """Make a tool with the positions that its inserts name."""
        values = thing.values
        positions = {
            under.values["position"]: under.values.get("set", "")
            for under in thing.under.values()
            if "position" in under.values
        }
        fields: dict[str, Any] = {field: values[name] for name, field in TOOL_FIELDS.items() if name in values}
        if resin := values.get("usual resin"):
            fields["resin"] = names.resin_named(resin, by=self.by, at=self.at)
        tool = tools.add_tool(
            plant=self.plant,
            number=thing.key[0],
            title=values["title"],
            customer=names.customer_named(values["customer"], by=self.by, at=self.at),
            positions=sorted(positions.items()),
            by=self.by,
            at=thing.began_at() or self.at,
            **fields,
        )
        self.receipt(thing, tool)
        return tool

    def insert(self, tool: Tool, thing: Thing) -> Insert:
        """Make an insert, fitted where the file says."""
        values, began_at = thing.values, thing.began_at() or self.at
        position = None
        if number := values.get("position"):
            position = Position.objects.filter(tool=tool, number=number).first()
            if position is None:
                raise Refused(
                    "bring.no_such_position",
                    gettext_noop("Tool {tool} has no position {number}."),
                    next_step=gettext_noop("Add the position on the Tool page first."),
                    tool=tool.number,
                    number=number,
                )
        insert = inserts.add_insert(
            tool=tool,
            number=thing.key[1],
            kind=values.get("kind", Insert.Kind.CAVITY),
            steel=values["steel"],
            hardness_hrc=values.get("hardness"),
            coating=values.get("coating", ""),
            by=self.by,
            at=began_at,
        )
        if position is not None:
            inserts.fit(insert=insert, position=position, slot=values.get("slot", 1), by=self.by, at=began_at)
        self.receipt(thing, insert)
        return insert

    def face(self, insert: Insert, thing: Thing) -> Face:
        """Make a face with its spots, first life, finish and inspection plan."""
        values = thing.values
        fields: dict[str, Any] = {field: values[name] for name, field in FACE_FIELDS.items() if name in values}
        if "zone of" in values:
            fields["zone_of"] = Face.objects.filter(insert=insert, name=values["zone of"]).first()
        fields |= dict(zip(("map_x", "map_y", "map_w", "map_h"), values.get("map", ()), strict=False))
        face = faces.add_face(
            insert=insert,
            name=thing.key[2],
            by=self.by,
            at=values["made at"],
            life_began_at=values["made at"],
            spots=[SpotDraft(name, kind, x, y) for name, kind, x, y in values.get("spots", ())],
            **fields,
        )
        spots = {spot.name: spot for spot in face.spots.all()}
        self.spec(face, thing, spots)
        for limit in thing.limits:
            if "every shots" in limit or "every days" in limit:
                plans.plan(
                    face=face,
                    parameter=limit["parameter"],
                    where=limit["where"],
                    spot=spots.get(limit.get("spot", "")),
                    every_shots=limit.get("every shots"),
                    every_days=limit.get("every days"),
                    values_wanted=limit.get("values wanted", 1),
                    by=self.by,
                    at=self.at,
                )
        if "interval" in values:
            RefinishInterval.objects.create(face=face, shots=values["interval"])
        self.face_ids.add(face.pk)
        self.receipt(thing, face)
        return face

    def spec(self, face: Face, thing: Thing, spots: dict[str, Spot]) -> None:
        """Write the first revision of the face's finish."""
        values = thing.values
        edition = values.get("edition", Spec.Edition.ISO_2021)
        specs.revise(
            face=face,
            reason="brought from a file",
            how_made=values["how made"],
            scale=values["scale"],
            code=values.get("code", ""),
            limits=[limit_draft(limit, spots) for limit in thing.limits],
            plaque=self.plaque(values.get("plaque")),
            pattern_depth_um=values.get("pattern depth"),
            micro_matt=values.get("micro-matt", False),
            acceptance=values.get("acceptance") or face.insert.tool.customer.acceptance,
            by=self.by,
            at=values["made at"],
            drawing_edition=edition,
            tolerance_rule=values.get("rule", ""),
        )

    def plaque(self, number: str | None) -> Plaque | None:
        """Return the plaque of that number, made where it is new."""
        if number is None:
            return None
        if number not in self.plaques:
            self.plaques[number] = names.plaque_numbered(number, plant=self.plant, by=self.by, at=self.at)
        return self.plaques[number]

    def receipt(self, thing: Thing, made: Tool | Insert | Face) -> None:
        """Note that the thing was taken."""
        self.receipts.append(
            Receipt(
                ref=thing.ref, kind="bring tools", content_sha256=thing.content, made_id=made.pk, by=self.by, at=self.at
            )
        )


def limit_draft(limit: dict[str, Any], spots: dict[str, Spot]) -> LimitDraft:
    """Return the limit in the unit it is kept in."""
    usual = USUAL_UNIT[limit["parameter"]]
    unit = limit.get("unit", usual)

    def kept(value: Decimal | None) -> Decimal | None:
        return value if value is None or unit == usual else convert(value, unit, usual)

    return LimitDraft(
        parameter=limit["parameter"],
        where=limit["where"],
        lower=kept(limit.get("lower")),
        upper=kept(limit.get("upper")),
        unit=usual,
        spot=spots.get(limit.get("spot", "")),
        geometry_deg=limit.get("angle"),
        cutoff_mm=limit.get("cut-off"),
    )
