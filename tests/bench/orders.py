"""Calls and work orders brought to a place in the way, through the bench's own services."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from shop.bench.models import Line, OutsideHouse, WorkOrder
from shop.bench.services import passing, planning, proposing, working
from shop.bench.states import State
from shop.people.models import Person
from shop.press.models import Damage
from shop.quality.models import Gauge, Inspection
from shop.quality.services import gauges, inspections
from shop.quality.services.inspections import ReadingDraft
from shop.tooling.models import Face, Tool
from shop.watch.models import Call, Evidence

WAY = [
    State.RAISED, State.ACCEPTED, State.PLANNED, State.ON_THE_BENCH, State.STEEL_CHECK, State.PARTS_CHECK,
    State.RELEASED,
]  # fmt: skip


def call(face: Face, by: Person, at: datetime, cause: str = "forecast", **values: Any) -> Call:
    """Open a call on a face, as the watch would, with one reason."""
    opened = Call.objects.create(tool=face.insert.tool, face=face, cause=cause, opened_at=at)
    Evidence.objects.create(call=opened, code=f"test.{cause}", values=values, by=by, at=at)
    return opened


def damage_call(face: Face, by: Person, at: datetime, kind: str = "scratch") -> Call:
    """Report damage on a face and open the call for it, as the watch would."""
    seen = Damage.objects.create(tool=face.insert.tool, face=face, kind=kind, by=by, at=at)
    opened = Call.objects.create(tool=face.insert.tool, face=face, cause="damage", opened_at=at)
    Evidence.objects.create(call=opened, code="test.damage", damage=seen, by=by, at=at)
    return opened


def house(by: Person, days: int = 21) -> OutsideHouse:
    """Make a texture house that wants so many days."""
    return OutsideHouse.objects.create(plant=by.plant, name=f"House {days}", kind="texture house", lead_time_days=days)


def gauge(by: Person, at: datetime, kind: str = "stylus", expanded: str = "0.004") -> Gauge:
    """Make a gauge that was calibrated a moment ago and is due in a year."""
    there = Gauge.objects.filter(plant=by.plant, number=f"G-{kind}").first()
    if there is not None:
        return there
    made = gauges.add_gauge(
        plant=by.plant, number=f"G-{kind}", kind=kind, resolution=Decimal("0.001"), by=by, at=at - timedelta(days=1)
    )
    gauges.calibrate(
        gauge=made, due_on=(at + timedelta(days=365)).date(), expanded_a=Decimal(expanded), by=by,
        at=at - timedelta(hours=1),
    )  # fmt: skip
    return made


def check(tool: Tool, kind: str, values: dict[Face, str], by: Person, at: datetime) -> Inspection:
    """Take an inspection on the steel or on parts: one value a face, of the one limit that its spec has there."""
    where = "part" if kind in ("parts check", "first-off") else "steel"
    drafts = []
    for face, value in values.items():
        limit = face.specs.latest("revision").limits.get(where=where)
        eye = limit.parameter.startswith("look")
        kind_of_gauge = "glossmeter" if limit.parameter == "gloss" else "stylus"
        drafts.append(
            ReadingDraft(
                face=face, parameter=limit.parameter, where=where, value=Decimal(value), unit=limit.unit,
                gauge=None if eye else gauge(by, at, kind_of_gauge), geometry_deg=limit.geometry_deg,
                plaque=limit.spec.plaque if eye else None, cutoff_mm=limit.cutoff_mm,
            )
        )  # fmt: skip
    return inspections.take(tool=tool, kind=kind, drafts=drafts, by=by, at=at)


@dataclass
class Hands:
    """Who does what on an order."""

    lead: Person
    polisher: Person
    inspector: Person


def order_at(state: State, faces: list[Face], hands: Hands, at: datetime) -> WorkOrder:
    """Raise an order for the faces and bring it along the way to `state`, a minute a step."""
    (order,) = proposing.propose([call(face, hands.lead, at) for face in faces], by=hands.lead, at=at)
    for place in WAY[1 : WAY.index(state) + 1]:
        at += timedelta(minutes=1)
        _on(place, order, hands, at)
    order.refresh_from_db()
    return order


def _on(place: State, order: WorkOrder, hands: Hands, at: datetime) -> None:
    if place == State.ACCEPTED:
        planning.accept(order=order, by=hands.lead, at=at)
    elif place == State.PLANNED:
        planning.give_to(order=order, polisher=hands.polisher, due_on=at.date(), by=hands.lead, at=at)
    elif place == State.ON_THE_BENCH:
        working.start(order=order, by=hands.polisher, at=at)
    elif place == State.STEEL_CHECK:
        sign_steps(order, hands.polisher, at)
        working.hand_over(order=order, by=hands.polisher, at=at)
    elif place == State.PARTS_CHECK:
        check(order.tool, "steel check", dict.fromkeys(faces_of(order), "0.4"), hands.inspector, at)
        passing.pass_steel(order=order, passed=True, by=hands.inspector, at=at)
    else:
        check(order.tool, "parts check", dict.fromkeys(faces_of(order), "3.0"), hands.inspector, at)
        passing.pass_parts(order=order, passed=True, by=hands.inspector, at=at)
        passing.release(order=order, by=hands.inspector, at=at)


def sign_steps(order: WorkOrder, by: Person, at: datetime) -> None:
    """Sign every step of the order in its order."""
    for line in order.lines.open():
        for step in line.steps.filter(done_at__isnull=True):
            working.step_done(step=step, by=by, at=at)


def state_of(order: WorkOrder) -> State:
    """Return where the order stands now, whatever an older copy of it says."""
    return State(WorkOrder.objects.values_list("state", flat=True).get(pk=order.pk))


def faces_of(order: WorkOrder) -> list[Face]:
    """Return the faces on the order's open lines."""
    return [line.face for line in order.lines.open() if line.face]


def line_of(order: WorkOrder, face: Face | None = None) -> Line:
    """Return the order's line on the face, or its only line."""
    found: Line = order.lines.get(face=face) if face else order.lines.get()
    return found
