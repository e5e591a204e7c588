"""The pieces that all news is made of: look at faces, propose work, end lives."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from shop.bench.models import Line, WorkOrder
from shop.bench.services import proposing
from shop.bench.states import AT_WORK
from shop.people.models import Person
from shop.people.services import the_software
from shop.tooling.models import Face, FinishLife, Tool
from shop.tooling.services import faces as tooling_faces
from shop.watch.services import calls, trends

# What is found by looking is the software's own doing: its hand opens the calls and raises the orders.


@dataclass(frozen=True)
class Swept:
    """What a sweep found: tools looked at, faces, calls opened and closed, orders raised or added to."""

    tools: int
    faces: int
    opened: int
    closed: int
    orders: int


def look(faces: Iterable[Face], *, at: datetime, refit: bool = True) -> Swept:
    """Bring trends and standings up to date, call what needs calling, close what does not, and propose the work.

    Without `refit` the trends are taken as they are: nothing was read or shot since they were fitted.
    """
    faces = list(Face.objects.filter(pk__in=[face.pk for face in faces]).select_related("insert__tool__plant"))
    if not faces:
        return Swept(0, 0, 0, 0, 0)
    hand = the_software(faces[0].insert.tool.plant)
    lines = Line.objects.of_faces(faces)
    awaiting = set(lines.awaiting_parts().values_list("face_id", flat=True))
    bring = trends.bring_up_to_date if refit else trends.stand_anew
    bring(faces, at=at, awaiting=awaiting)
    in_work = set(lines.in_work().values_list("face_id", flat=True))
    looked = calls.look(faces, by=hand, at=at, in_work=in_work)
    tools = {face.insert.tool_id: face.insert.tool for face in faces}
    orders = [order for tool in tools.values() for order in propose(tool, at=at)]
    # After proposing: where a reading overtook a forecast, the new call is on the old one's line and keeps it open.
    proposing.withdraw_if_answered(looked.closed, by=hand, at=at)
    if looked.opened or looked.closed:
        trends.stand_anew(faces, at=at, awaiting=awaiting)
    return Swept(len(tools), len(faces), len(looked.opened), len(looked.closed), len(orders))


def propose(tool: Tool, *, at: datetime) -> list[WorkOrder]:
    return proposing.propose(proposing.unanswered(tool), by=the_software(tool.plant), at=at)


def at_work(order: WorkOrder, *, by: Person, at: datetime) -> WorkOrder:
    """End the running lives of the finishes that an order at work changes."""
    if order.state in AT_WORK:
        for line, face in finish_lines(order):
            if FinishLife.objects.running().filter(face=face).exists():
                tooling_faces.end_life(face=face, ended_by=words(line), by=by, at=at)
        look(order_faces(order), at=at)
    return order


def words(line: Line) -> str:
    return f"{line.order.number} {line.work}"


def finish_lines(order: WorkOrder) -> list[tuple[Line, Face]]:
    lines = order.lines.open().changing_finish().select_related("face", "order")
    return [(line, line.face) for line in lines]


def order_faces(order: WorkOrder) -> Iterable[Face]:
    return list(Face.objects.filter(work_lines__in=order.lines.open()))


def faces_of(tool: Tool) -> Iterable[Face]:
    return list(Face.objects.in_tool(tool).filter(insert__retired_at__isnull=True))


def fitted_faces(tool: Tool) -> Iterable[Face]:
    return list(Face.objects.in_tool(tool).fitted().distinct())
