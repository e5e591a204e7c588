"""Plan a visit as it was weighed: which faces, which work on each, from which day."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from django.utils import timezone

from shop.bench.models import Line, Work, WorkOrder
from shop.bench.services import moving, planning, proposing
from shop.bench.states import State
from shop.ledger.services import once
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Tool


@once("visit planned", WorkOrder, timed=False)
def plan_visit(
    *,
    tool: Tool,
    works: Mapping[int, str],
    due_on: date,
    by: Person,
    at: datetime,
    answers: Mapping[str, str] | None = None,
    ref: UUID | None = None,  # noqa: ARG001 - read by `once`
) -> WorkOrder:
    """Book a tool's visit: its order that has not begun, or a new one, with these works by face, due on that day.

    Lines that the order has already get the work that was chosen; other lines stay. Refuses a day that has passed, no
    face at all, a face of another tool, one that another order has in hand, and a re-cut of a customer's steel that
    nobody has asked about.
    """
    tool = Tool.objects.select_for_update().select_related("plant").get(pk=tool.pk)
    if due_on < timezone.localdate(at, ZoneInfo(tool.plant.time_zone)):
        raise Refused(
            "due.in_past",
            gettext_noop("{due_on} has passed."),
            next_step=gettext_noop("Choose a window that is still to come."),
            field="due_on",
            due_on=due_on,
        )
    faces = Face.objects.select_related("insert__tool").in_bulk(list(works))
    if not works or len(faces) < len(works) or any(face.insert.tool_id != tool.pk for face in faces.values()):
        raise Refused(
            "visit.faces",
            gettext_noop("These are not faces of {tool}."),
            next_step=gettext_noop("Weigh the visit again."),
            tool=tool.number,
        )
    order = WorkOrder.objects.select_for_update().filter(tool=tool).not_begun().order_by("id").first()
    if order is None:
        order = proposing.raise_order(tool=tool, by=by, at=at)
    if order.state == State.RAISED:
        order = planning.accept(order=order, by=by, at=at)
    for pk, work in works.items():
        _set_line(order, faces[pk], Work(work), answers, by=by, at=at)
    order = moving.locked(order)
    moving.change(order, by=by, at=at, due_on=due_on)
    return order


def _set_line(
    order: WorkOrder, face: Face, work: Work, answers: Mapping[str, str] | None, *, by: Person, at: datetime
) -> None:
    lines = Line.objects.open().filter(order=order, face=face).select_related("order", "face")
    line = lines.order_by("id").first()
    if line is None:
        planning.add_line(order=order, face=face, work=work, by=by, at=at, answers=answers)
    elif line.work != work:
        planning.set_work(line=line, work=work, by=by, at=at, answers=answers)
