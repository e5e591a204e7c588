"""Tool: its inserts by position, the faces of the chosen insert on a picture, and what is known of each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from shop.bench.models import Line, WorkOrder
from shop.boards.bars import bar_of
from shop.boards.face_maps import InsertMap, insert_map
from shop.boards.figures import figured
from shop.boards.tool_list import ToolRow, tool_rows, tools_of
from shop.people import wording
from shop.people.models import Plant
from shop.picture.finish_bar import Bar
from shop.picture.steel_bar import SteelBar
from shop.press.models import InsertShots, Run
from shop.press.rates import shots_per_day
from shop.quality.asked import concessions_of
from shop.tooling.models import Concession, Face, Fitting, Insert, Position, Spec, SteelEntry, Tool
from shop.units import Quantity
from shop.watch.models import Standing, Trend

MAP_WIDTH = 240.0


@dataclass(frozen=True)
class InsertRow:
    """One insert of the tool with its place, its own shots and its worst face; `position` None is a spare."""

    insert: Insert
    position: Position | None
    shots: int
    worst: Standing | None
    since: datetime | None


@dataclass(frozen=True)
class FaceRow:
    """One face of the chosen insert as a line of the page."""

    face: Face
    spec: Spec | None
    standing: Standing | None
    bar: Bar | None
    level: str
    steel: SteelBar | None
    steel_left_um: Decimal | None
    concession: Concession | None
    booked: WorkOrder | None


@dataclass(frozen=True)
class ToolCard:
    """Everything on the page but the chosen face."""

    row: ToolRow
    tool: Tool
    run: Run | None
    per_day: int
    fitted: tuple[InsertRow, ...]
    spare: tuple[InsertRow, ...]
    empty: tuple[Position, ...]
    chosen: InsertRow | None
    drawn: InsertMap | None
    faces: tuple[FaceRow, ...]


def tool_card(tool_id: int, plant: Plant, at: datetime, insert_id: int | None, face_id: int | None) -> ToolCard | None:
    """Return the card of a tool of the plant, with the insert chosen, or of the chosen face, or the worst one."""
    rows = tool_rows(tools_of(plant).filter(pk=tool_id).select_related("customer", "resin"), plant)
    if not rows:
        return None
    tool = rows[0].tool
    positions = list(tool.positions.all())
    inserts = _inserts(tool)
    fitted = sorted((one for one in inserts if one.position), key=_by_position)
    spare = [one for one in inserts if one.position is None]
    chosen = _chosen(fitted + spare, insert_id, face_id)
    faces = _faces(chosen.insert) if chosen else []
    held = {one.position.pk for one in fitted if one.position}
    return ToolCard(
        row=rows[0],
        tool=tool,
        run=Run.objects.running().filter(tool=tool).select_related("press", "resin").first(),
        per_day=round(shots_per_day(at=at, tool_ids=[tool.pk])[tool.pk]),
        fitted=tuple(fitted),
        spare=tuple(spare),
        empty=tuple(one for one in positions if one.pk not in held),
        chosen=chosen,
        drawn=_drawn(chosen, faces, face_id) if chosen else None,
        faces=tuple(_face_rows(faces, chosen, plant, at)) if chosen else (),
    )


def _by_position(row: InsertRow) -> tuple[int, str]:
    return row.position.number if row.position else 0, row.insert.number


def _inserts(tool: Tool) -> list[InsertRow]:
    standings = Standing.objects.select_related("face")
    fittings = Fitting.objects.now().select_related("position")
    inserts = list(
        Insert.objects.filter(tool=tool, retired_at__isnull=True).prefetch_related(
            Prefetch("fittings", fittings, to_attr="sits"),
            Prefetch("faces", Face.objects.prefetch_related(Prefetch("standing", standings)), to_attr="its_faces"),
        )
    )
    totals = InsertShots.objects.totals([insert.pk for insert in inserts])
    return [_insert_row(insert, totals.get(insert.pk, 0)) for insert in inserts]


def _insert_row(insert: Any, shots: int) -> InsertRow:
    sits = insert.sits[0] if insert.sits else None
    standings = [face.standing for face in insert.its_faces if getattr(face, "standing", None)]
    order = list(Standing.State.values)
    worst = max(standings, key=lambda one: (order.index(one.state), -(one.left_10 or 0)), default=None)
    return InsertRow(insert, sits.position if sits else None, shots, worst, sits.from_at if sits else None)


def _chosen(rows: list[InsertRow], insert_id: int | None, face_id: int | None) -> InsertRow | None:
    for row in rows:
        its_faces = {face.pk for face in row.insert.its_faces}  # type: ignore[attr-defined]  # set by the prefetch
        if row.insert.pk == insert_id or face_id in its_faces:
            return row
    order = list(Standing.State.values)
    known = [row for row in rows if row.worst]
    return max(
        known, key=lambda row: order.index(row.worst.state) if row.worst else 0, default=rows[0] if rows else None
    )


def _faces(insert: Insert) -> list[Face]:
    specs = Spec.objects.order_by("-revision").select_related("plaque")
    lines = Line.objects.open().filter(order__closed_at__isnull=True).select_related("order")
    faces = insert.faces.select_related("insert__tool", "standing__worst__spot", "zone_of")
    return list(
        faces.prefetch_related(
            "spots",
            Prefetch("specs", specs, to_attr="held_specs"),
            Prefetch("work_lines", lines, to_attr="open_lines"),
        ).order_by("name")
    )


def _drawn(chosen: InsertRow, faces: Iterable[Face], face_id: int | None) -> InsertMap:
    position = chosen.position.number if chosen.position else None
    asked = face_id or (chosen.worst.face_id if chosen.worst else None)
    drawn = insert_map(chosen.insert, position, tuple(faces), "?face={pk}#face", chosen={asked} if asked else ())
    # Beside the faces it only says which is where: a small one leaves their bars above the fold.
    return replace(drawn, drawn=replace(drawn.drawn, width=MAP_WIDTH))


def _face_rows(faces: list[Face], chosen: InsertRow, plant: Plant, at: datetime) -> Iterable[FaceRow]:
    concessions = concessions_of(faces, {chosen.insert.pk: chosen.shots}, at)
    left = SteelEntry.objects.left_by_face([face.pk for face in faces])
    for face in faces:
        yield face_row(face, concessions, left, plant)


def face_row(
    face: Any, concessions: Mapping[int, Mapping[str, Concession]], left: Mapping[int, Decimal | None], plant: Plant
) -> FaceRow:
    """Return the line of one face whose specs, standing and open lines were fetched along."""
    standing: Standing | None = getattr(face, "standing", None)
    trend = standing.worst if standing else None
    its_concessions = list(concessions.get(face.pk, {}).values())
    return FaceRow(
        face=face,
        spec=face.held_specs[0] if face.held_specs else None,
        standing=standing,
        bar=_bar(trend, standing, plant) if trend and standing else None,
        level=_level(trend) if trend else "",
        steel=_steel(face, left.get(face.pk)),
        steel_left_um=left.get(face.pk),
        concession=its_concessions[0] if its_concessions else None,
        booked=face.open_lines[0].order if face.open_lines else None,
    )


def _bar(trend: Trend, standing: Standing, plant: Plant) -> Bar:
    run = round(plant.lead_time_days * (standing.shots_per_day or 0.0))
    return figured(bar_of(trend, run, float(plant.conformance_required)))


def _level(trend: Trend) -> str:
    shown = wording.show(Quantity(Decimal(str(round(trend.last_value, 6))), trend.unit))
    return f"{trend.get_parameter_display()} {shown}" + (f", {trend.spot.name}" if trend.spot else "")


def _steel(face: Face, left_um: Decimal | None) -> SteelBar | None:
    if left_um is None:
        return None
    whole = max(face.steel_to_give_um or left_um, left_um)
    words = _("%(left)s of %(whole)s steel left") % {
        "left": wording.show(Quantity(left_um, "um")),
        "whole": wording.show(Quantity(whole, "um")),
    }
    return SteelBar(float(left_um), float(whole), words)
