"""News from the bench: work begins, steel passes, parts pass, the tool is released."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from shop.bench.models import Line, Passing, WorkOrder
from shop.bench.services import passing, planning, steel, working
from shop.loop.pieces import at_work, finish_lines, look, order_faces, words
from shop.people.models import Person
from shop.quality.models import Inspection
from shop.tooling.services import faces as tooling_faces


@transaction.atomic
def started(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Start the work: the lives of the finishes that it changes are over."""
    order = working.start(order=order, by=by, at=at)
    return at_work(order, by=by, at=at)


@transaction.atomic
def resumed(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Go on with work that was stopped."""
    order = working.resume(order=order, by=by, at=at)
    return at_work(order, by=by, at=at)


@transaction.atomic
def line_added(*, order: WorkOrder, by: Person, at: datetime, **added: Any) -> Line:
    """Add a face or a job to an order; where the work has begun, it begins on that face too."""
    line = planning.add_line(order=order, by=by, at=at, **added)
    at_work(line.order, by=by, at=at)
    return line


@transaction.atomic
def work_set(*, line: Line, work: str, by: Person, at: datetime, **how: Any) -> Line:
    """Choose the work of a line; where it has begun and now changes the finish, the finish's life is over."""
    line = planning.set_work(line=line, work=work, by=by, at=at, **how)
    at_work(line.order, by=by, at=at)
    return line


@transaction.atomic
def handed_over(*, order: WorkOrder, by: Person, at: datetime, answers: Mapping[str, str] | None = None) -> WorkOrder:
    """Hand the work over to the steel check; until that has passed, the faces have no finish."""
    return working.hand_over(order=order, by=by, at=at, answers=answers)


@transaction.atomic
def came_back(*, order: WorkOrder, by: Person, at: datetime, to_bench: bool = False) -> WorkOrder:
    """Take a tool back from outside, to its steel check or to the bench."""
    return working.come_back(order=order, by=by, at=at, to_bench=to_bench)


@transaction.atomic
def steel_passed(
    *,
    order: WorkOrder,
    by: Person,
    at: datetime,
    inspection: Inspection | None = None,
    why: str = "",
    steel_um: Mapping[int, Decimal] | None = None,
) -> Passing:
    """Pass the steel: what it took is booked on each face, the next life begins, and the faces wait for their parts.

    `steel_um` gives, by line, what was really taken (for a re-cut, the new allowance); else the plan is booked.
    """
    signed = passing.pass_steel(order=order, passed=True, inspection=inspection, why=why, by=by, at=at)
    for line, face in finish_lines(signed.order):
        steel.book(line, face, (steel_um or {}).get(line.pk), work=words(line), by=by, at=at)
        tooling_faces.begin_life(face=face, began_by=words(line), by=by, at=at)
    look(order_faces(signed.order), at=at)
    return signed


@transaction.atomic
def steel_failed(
    *, order: WorkOrder, why: str, by: Person, at: datetime, inspection: Inspection | None = None
) -> Passing:
    """Send the steel back to the bench."""
    signed = passing.pass_steel(order=order, passed=False, inspection=inspection, why=why, by=by, at=at)
    at_work(signed.order, by=by, at=at)
    return signed


@transaction.atomic
def parts_passed(
    *, order: WorkOrder, by: Person, at: datetime, inspection: Inspection | None = None, why: str = ""
) -> Passing:
    """Pass the parts: the tool may be released."""
    return passing.pass_parts(order=order, passed=True, inspection=inspection, why=why, by=by, at=at)


@transaction.atomic
def parts_failed(
    *, order: WorkOrder, why: str, by: Person, at: datetime, inspection: Inspection | None = None
) -> Passing:
    """Send the tool back from the press: the finish that failed is worked on again."""
    signed = passing.pass_parts(order=order, passed=False, inspection=inspection, why=why, by=by, at=at)
    at_work(signed.order, by=by, at=at)
    return signed


@transaction.atomic
def bought_off(*, order: WorkOrder, signed_for: str, passed: bool, by: Person, at: datetime, why: str = "") -> Passing:
    """Enter the customer's signature; where they decline, the tool goes back to the bench."""
    signed = passing.buy_off(order=order, signed_for=signed_for, passed=passed, why=why, by=by, at=at)
    if not passed:
        at_work(signed.order, by=by, at=at)
    return signed


@transaction.atomic
def released(*, order: WorkOrder, by: Person, at: datetime, override_why: str = "") -> Passing:
    """Release the tool: its calls are answered and its faces stand by what was measured since."""
    faces = order_faces(order)
    signed = passing.release(order=order, override_why=override_why, by=by, at=at)
    look(faces, at=at)
    return signed


@transaction.atomic
def ended(*, order: WorkOrder, why: str, by: Person, at: datetime) -> WorkOrder:
    """End an order that is not done: turned down while it is raised, else withdrawn."""
    faces = order_faces(order)
    end = planning.turn_down if order.state == "raised" else planning.withdraw
    order = end(order=order, why=why, by=by, at=at)
    look(faces, at=at)
    return order


@transaction.atomic
def line_dropped(*, line: Line, why: str, by: Person, at: datetime) -> Line:
    """Drop a line from its order, and let its face stand by itself again."""
    line = planning.drop_line(line=line, why=why, by=by, at=at)
    if line.face is not None:
        look([line.face], at=at)
    return line
