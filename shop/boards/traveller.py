"""The snapshot behind a traveller: everything the paper says, worded and drawn when it was issued."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from django.utils.translation import gettext

from shop import picture
from shop.bench.models import Booking, WorkOrder
from shop.boards import face_maps, order_sheet
from shop.boards.order_sheet import LineRow
from shop.craft.cautions import cautions_for
from shop.paper.qr import qr_svg
from shop.people import wording
from shop.picture import swatches
from shop.picture.face_map import FaceMap
from shop.tooling.models import Face, Insert, Limit, Spec
from shop.units import Quantity

subject_of = order_sheet.subject_of
INK = (
    'text{font-family:"Source Sans Pro",sans-serif}'
    ".band{fill:#e4e4e4;fill-opacity:1}.ruling{stroke:#999}.hatch{stroke:#333;stroke-opacity:1}"
    ".tick-mark{stroke-width:3.5}.soft{fill:#222}"
    ".there{fill:#444;fill-opacity:1;stroke:#444}.gone{stroke:#777}.whole{stroke:#111;stroke-width:1.6}"
    ".steel{stroke:#777}.face{fill-opacity:0;stroke:#777}.face-map text{font-size:18px}"
    ".is-chosen .face{fill:#dcdcdc;fill-opacity:1;stroke:#111;stroke-width:3.5}"
)


def traveller(order: WorkOrder, at: datetime, *, address: str) -> dict[str, Any]:
    """Return what the paper shows, as words and drawings that nothing later can change."""
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
        "lines": [_line(row) for row in rows],
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
    return [{"title": ", ".join(names), "svg": _inked(drawn)} for drawn, names in titles.items()]


def _map_title(one: face_maps.InsertMap) -> str:
    return f"{one.position} · {one.insert.number}" if one.position else one.insert.number


def _inked(thing: Any) -> str:
    """Return a picture with its ink inside it: the printer of paper does not look at a page's styles for a drawing."""
    if thing is None:
        return ""
    return picture.draw(thing).replace("</title>", f"</title><style>{INK}</style>", 1)


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
        "insert": _steel_words(insert) if insert else "",
        "coating": str(insert.get_coating_display()) if insert and insert.coating else "",
        "swatch": _swatch(spec),
        "spec": _spec_words(spec),
        "limits": [_limit_words(limit) for limit in spec.limits.all()] if spec else [],
        "bar": _inked(row.bar),
        "bar_words": row.bar.text if row.bar else "",
        "why": [wording.say(said) for said in row.why],
        "work": str(line.get_work_display()) if line.work else "",
        "how": str(line.get_how_display()) if spec and line.how and line.how != spec.how_made else "",
        "note": line.note,
        "minutes": line.planned_minutes,
        "steel": _um(line.planned_steel_um),
        "steel_left": _um(row.steel_left_um),
        "steel_bar": _inked(row.steel),
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


def _steel_words(insert: Insert) -> str:
    if insert.hardness_hrc is None:
        return insert.steel
    return f"{insert.steel}, {wording.number(insert.hardness_hrc.normalize())} HRC"


def _swatch(spec: Spec | None) -> str:
    if spec is None:
        return ""
    grade = spec.code if spec.scale == Spec.Scale.GRADE else ""
    return swatches.swatch(spec.how_made, grade, str(spec.get_how_made_display()))


def _spec_words(spec: Spec | None) -> str:
    if spec is None:
        return ""
    parts = [str(spec.get_how_made_display())]
    if spec.code:
        parts.append(f"{spec.get_scale_display()} {spec.code}")
    if spec.plaque:
        parts.append(gettext("plaque %(plaque)s") % {"plaque": spec.plaque})
    parts.append(gettext("revision %(number)s") % {"number": spec.revision})
    return ", ".join(parts)


def _limit_words(limit: Limit) -> str:
    lower, upper = (
        None if side is None else wording.show(Quantity(side, limit.unit)) for side in (limit.lower, limit.upper)
    )
    angle = f" {limit.geometry_deg}°" if limit.geometry_deg else ""
    spot = f", {limit.spot.name}" if limit.spot else ""
    name = f"{limit.get_parameter_display()}{angle} ({limit.get_where_display()}{spot})"
    if lower and upper:
        return gettext("%(name)s %(lower)s to %(upper)s") % {"name": name, "lower": lower, "upper": upper}
    if upper:
        return gettext("%(name)s at most %(upper)s") % {"name": name, "upper": upper}
    return gettext("%(name)s at least %(lower)s") % {"name": name, "lower": lower}


def _um(depth_um: Any) -> str:
    return wording.NOTHING if depth_um is None else wording.show(Quantity(depth_um, "um"))


def _cautions(rows: Iterable[LineRow]) -> list[str]:
    """Return the cautions of all routes, each once, the general ones first."""
    found: dict[str, None] = {}
    for row in rows:
        face: Face | None = row.line.face
        steel = face.insert.steel if face else ""
        found.update(dict.fromkeys(cautions_for({step.kind for step in row.steps}, steel)))
    return [gettext(caution) for caution in found]
