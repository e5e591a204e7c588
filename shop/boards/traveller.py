"""The snapshot behind a traveller: everything the paper says, worded and drawn when it was issued."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from shop.bench.models import Booking, WorkOrder
from shop.boards import face_maps, order_sheet, paper_words, trend_picture
from shop.boards.order_sheet import LineRow
from shop.craft.cautions import cautions_for
from shop.paper.qr import qr_svg
from shop.people import wording
from shop.people.models import Person
from shop.picture.face_map import FaceMap
from shop.tooling.models import Face

subject_of = order_sheet.subject_of
# A trend says why a face is here only where it wears; its width and height on paper.
WORN = ("forecast", "off spec", "interval")
TREND = (430, 120)


def traveller(order: WorkOrder, at: datetime, *, address: str, reader: Person | None = None) -> dict[str, Any]:
    """Return what the paper shows, as words and drawings that nothing later can change.

    With a reader, whose units they are drawn in, faces that are there because they wear bring their trend along.
    """
    lines = list(
        order.lines.filter(dropped_because="")
        .select_related("face__insert", "spec__plaque")
        .prefetch_related("steps__done_by", "spec__limits__spot")
    )
    bookings = list(Booking.objects.in_force().filter(line__order=order))
    rows = order_sheet.line_rows(order, lines, bookings)
    faces = {row.line.face_id for row in rows if row.line.face_id}
    return {
        "order": {
            "number": order.number,
            "raised": wording.day(order.raised_at),
            "due": wording.day(order.due_on),
            "polisher": order.polisher.name if order.polisher else "",
            "house": order.outside_house.name if order.outside_house else "",
        },
        "tool": _tool(order),
        "address": address,
        "qr": qr_svg(address, order.number),
        "maps": _maps([one for one in face_maps.insert_maps(order.tool, at, chosen=faces) if _shows(one, faces)]),
        "lines": [{**_line(row), "trend": _trend(row, reader, at)} for row in rows],
        "cautions": _cautions(rows),
        "minutes": sum(row.line.planned_minutes or 0 for row in rows),
        "buy_off": order.tool.customer.buy_off,
    }


def _shows(one: face_maps.InsertMap, faces: set[int]) -> bool:
    return any(face.pk in faces for face in one.faces)


def _maps(maps: Iterable[face_maps.InsertMap]) -> list[dict[str, str]]:
    """Return each picture once, with the names of all inserts that look so: sixteen cavities are seldom sixteen."""
    titles: dict[FaceMap, list[str]] = {}
    for one in maps:
        # How a face stands today is said beside its line, and would make a picture of every insert.
        plain = replace(one.drawn, faces=tuple(replace(face, state="") for face in one.drawn.faces))
        titles.setdefault(plain, []).append(_map_title(one))
    return [{"title": ", ".join(names), "svg": paper_words.inked(drawn)} for drawn, names in titles.items()]


def _map_title(one: face_maps.InsertMap) -> str:
    return f"{one.position} · {one.insert.number}" if one.position else one.insert.number


def _tool(order: WorkOrder) -> dict[str, str]:
    tool = order.tool
    return {
        "number": tool.number,
        "title": tool.title,
        "customer": tool.customer.name,
        "part": " ".join(part for part in (tool.part_number, tool.part_revision) if part),
        "owner": tool.owner,
        "plant": tool.plant.name,
    }


def _line(row: LineRow) -> dict[str, Any]:
    line, spec = row.line, row.line.spec
    insert = line.face.insert if line.face else None
    return {
        "name": f"{row.position} · {line.face}" if row.position else str(line.face or line.job_words),
        "job": line.job,
        "insert": paper_words.steel_words(insert) if insert else "",
        "coating": str(insert.get_coating_display()) if insert and insert.coating else "",
        "swatch": paper_words.swatch(spec),
        "spec": paper_words.spec_words(spec),
        "limits": [paper_words.limit_words(limit) for limit in spec.limits.all()] if spec else [],
        "bar": paper_words.inked(row.bar),
        "bar_words": row.bar.text if row.bar else "",
        "why": [wording.say(said) for said in row.why],
        "work": str(line.get_work_display()) if line.work else "",
        "how": str(line.get_how_display()) if spec and line.how and line.how != spec.how_made else "",
        "note": line.note,
        "minutes": line.planned_minutes,
        "steel": paper_words.um(line.planned_steel_um),
        "steel_left": paper_words.um(row.steel_left_um),
        "steel_bar": paper_words.inked(row.steel),
        "steps": [
            {
                "number": step.number,
                "kind": gettext(step.kind) if step.kind else "",
                "medium": gettext(step.medium) if step.medium else "",
                "grain": step.grain_words,
                "direction": gettext(step.direction) if step.direction else "",
                "target": gettext(step.target) if step.target else "",
                "minutes": step.planned_minutes,
                "done": f"{wording.day(step.done_at)} {step.done_by}" if step.done_at else "",
            }
            for step in row.steps
        ],
    }


def _trend(row: LineRow, reader: Person | None, at: datetime) -> str:
    """Return the trend that brought a face here, the same picture as on its page."""
    face = row.line.face
    if reader is None or face is None or row.line.cause not in WORN:
        return ""
    found = trend_picture.worst_picture(face, reader, at)
    return paper_words.inked(replace(found, width=TREND[0], height=TREND[1])) if found is not None else ""


def _cautions(rows: Iterable[LineRow]) -> list[str]:
    """Return the cautions of all routes, each once, the general ones first."""
    found: dict[str, None] = {}
    for row in rows:
        face: Face | None = row.line.face
        steel = face.insert.steel if face else ""
        found.update(dict.fromkeys(cautions_for({step.kind for step in row.steps}, steel)))
    return [gettext(caution) for caution in found]
