"""The whole job on one page: what happens when there is news.

A shot or a reading comes in, its trend is brought up to date, the watch looks at the face and calls, the bench
proposes work; the work is done, the steel passes, the parts pass, the tool is released, and a new finish life runs.
Each function takes one piece of news through the rooms in order and returns what its door shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from shop.bench.models import Line, Passing, WorkOrder
from shop.bench.services import passing, planning, proposing, steel, working
from shop.bench.states import AT_WORK
from shop.people.models import Person, Plant
from shop.people.services import the_software
from shop.press import working_out
from shop.press.models import Damage, ShotEntry
from shop.press.services import damage as press_damage
from shop.press.services import shots
from shop.quality.models import Inspection, Reading, UnfitDecision
from shop.quality.services import inspections, specifying, unfit
from shop.tooling.models import Concession, Face, FinishLife, Fitting, Insert, Spec, Tool
from shop.tooling.services import faces as tooling_faces
from shop.tooling.services import inserts, specs
from shop.watch.services import calls, intervals, trends

# What is found by looking is the software's own doing: its hand opens the calls and raises the orders.


@dataclass(frozen=True)
class Swept:
    """What a sweep found: tools looked at, faces, calls opened and closed, orders raised or added to."""

    tools: int
    faces: int
    opened: int
    closed: int
    orders: int


# News from the press


@transaction.atomic
def shots_logged(*, tool: Tool, by: Person, at: datetime, **counted: Any) -> ShotEntry:
    """Take shots into the ledger, and look at every face that made them."""
    entry = shots.log(tool=tool, by=by, at=at, **counted)
    _look(_fitted_faces(tool), at=at)
    return entry


@transaction.atomic
def shots_corrected(*, entry: ShotEntry, why: str, by: Person, at: datetime, **counted: Any) -> ShotEntry:
    """Put a shot entry right, and look again at every face of the tool."""
    corrected = shots.correct(entry=entry, why=why, by=by, at=at, **counted)
    _look(_faces_of(entry.tool), at=at)
    return corrected


@transaction.atomic
def shots_voided(*, entry: ShotEntry, why: str, by: Person, at: datetime, ref: UUID | None = None) -> ShotEntry:
    """Take a shot entry away, and look again at every face of the tool."""
    gone = shots.void(entry=entry, why=why, by=by, at=at, ref=ref)
    _look(_faces_of(entry.tool), at=at)
    return gone


@transaction.atomic
def damage_called(*, tool: Tool, by: Person, at: datetime, **seen: Any) -> Damage:
    """Take a report of damage, call it, and propose the work."""
    damage = press_damage.report(tool=tool, by=by, at=at, **seen)
    calls.call_damage(damage, by=by, at=at)
    _propose(tool, at=at)
    if damage.face is not None:
        _look([damage.face], at=at)
    return damage


# News from quality


@transaction.atomic
def reading_taken(*, tool: Tool, by: Person, at: datetime, **taken: Any) -> Inspection:
    """Take an inspection with its verdicts, and look at the faces that were measured."""
    inspection = inspections.take(tool=tool, by=by, at=at, **taken)
    _look(Face.objects.filter(readings__inspection=inspection).distinct(), at=at)
    return inspection


@transaction.atomic
def reading_corrected(*, reading: Reading, value: Decimal, why: str, by: Person, at: datetime, **more: Any) -> Reading:
    """Put a reading right, and look at its face again."""
    corrected = inspections.correct(reading=reading, value=value, why=why, by=by, at=at, **more)
    _look([reading.face], at=at)
    return corrected


@transaction.atomic
def unfit_decided(*, readings: Sequence[Reading], by: Person, at: datetime, **decided: Any) -> list[UnfitDecision]:
    """Decide about readings of a gauge that was unfit: what is withdrawn is gone from trend and standing."""
    decisions = unfit.decide_many(readings=readings, by=by, at=at, **decided)
    _look([reading.face for reading in readings], at=at)
    return decisions


# News from tooling


@transaction.atomic
def concession_granted(*, face: Face, by: Person, at: datetime, **granted: Any) -> Concession:
    """Grant a concession: what it covers is no longer called, and work that nobody accepted is withdrawn."""
    concession = specs.grant_concession(face=face, by=by, at=at, **granted)
    _look([face], at=at)
    return concession


@transaction.atomic
def concession_withdrawn(
    *, concession: Concession, why: str, by: Person, at: datetime, ref: UUID | None = None
) -> Concession:
    """Take a concession back: the face is judged by its spec again."""
    withdrawn = specs.withdraw_concession(concession=concession, why=why, by=by, at=at, ref=ref)
    _look([concession.face], at=at)
    return withdrawn


@transaction.atomic
def spec_revised(*, face: Face, by: Person, at: datetime, **revised: Any) -> Spec:
    """Revise what a face must be, asked whether it can have that, and look at it by the new limits."""
    spec = specifying.revise(face=face, by=by, at=at, **revised)
    _look([face], at=at)
    return spec


@transaction.atomic
def interval_planned(*, face: Face, by: Person, at: datetime, **planned: Any) -> Face:
    """Plan how many shots a finish is to run, and look whether it has run them."""
    face = intervals.plan_interval(face=face, by=by, at=at, **planned)
    _look([face], at=at)
    return face


@transaction.atomic
def insert_taken_out(*, insert: Insert, by: Person, at: datetime, why: str = "") -> Insert:
    """Take an insert out as a spare: from then on it makes no shots, and its faces go with it."""
    spare = inserts.take_out(insert=insert, by=by, at=at, why=why)
    working_out.rebuild_if_counted(insert.tool, since=at)
    _look(_faces_of(insert.tool), at=at)
    return spare


@transaction.atomic
def insert_moved(*, by: Person, at: datetime, **moved: Any) -> Fitting:
    """Fit an insert into a position: its faces, shots, trends and open work go with it."""
    fitting = inserts.fit(by=by, at=at, **moved)
    tool = fitting.position.tool
    # Moved in hindsight, the shots since then were made by what sat there.
    working_out.rebuild_if_counted(tool, since=at)
    _look(_faces_of(tool), at=at)
    return fitting


# News from the bench


@transaction.atomic
def started(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Start the work: the lives of the finishes that it changes are over."""
    order = working.start(order=order, by=by, at=at)
    return _at_work(order, by=by, at=at)


@transaction.atomic
def resumed(*, order: WorkOrder, by: Person, at: datetime) -> WorkOrder:
    """Go on with work that was stopped."""
    order = working.resume(order=order, by=by, at=at)
    return _at_work(order, by=by, at=at)


@transaction.atomic
def line_added(*, order: WorkOrder, by: Person, at: datetime, **added: Any) -> Line:
    """Add a face or a job to an order; where the work has begun, it begins on that face too."""
    line = planning.add_line(order=order, by=by, at=at, **added)
    _at_work(line.order, by=by, at=at)
    return line


@transaction.atomic
def work_set(*, line: Line, work: str, by: Person, at: datetime, **how: Any) -> Line:
    """Choose the work of a line; where it has begun and now changes the finish, the finish's life is over."""
    line = planning.set_work(line=line, work=work, by=by, at=at, **how)
    _at_work(line.order, by=by, at=at)
    return line


@transaction.atomic
def handed_over(
    *, order: WorkOrder, by: Person, at: datetime, answers: Mapping[str, str] | None = None
) -> WorkOrder:
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
    for line, face in _finish_lines(signed.order):
        steel.book(line, face, (steel_um or {}).get(line.pk), work=_words(line), by=by, at=at)
        tooling_faces.begin_life(face=face, began_by=_words(line), by=by, at=at)
    _look(_order_faces(signed.order), at=at)
    return signed


@transaction.atomic
def steel_failed(
    *, order: WorkOrder, why: str, by: Person, at: datetime, inspection: Inspection | None = None
) -> Passing:
    """Send the steel back to the bench."""
    signed = passing.pass_steel(order=order, passed=False, inspection=inspection, why=why, by=by, at=at)
    _at_work(signed.order, by=by, at=at)
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
    _at_work(signed.order, by=by, at=at)
    return signed


@transaction.atomic
def bought_off(
    *, order: WorkOrder, signed_for: str, passed: bool, by: Person, at: datetime, why: str = ""
) -> Passing:
    """Enter the customer's signature; where they decline, the tool goes back to the bench."""
    signed = passing.buy_off(order=order, signed_for=signed_for, passed=passed, why=why, by=by, at=at)
    if not passed:
        _at_work(signed.order, by=by, at=at)
    return signed


@transaction.atomic
def released(*, order: WorkOrder, by: Person, at: datetime, override_why: str = "") -> Passing:
    """Release the tool: its calls are answered and its faces stand by what was measured since."""
    faces = _order_faces(order)
    signed = passing.release(order=order, override_why=override_why, by=by, at=at)
    _look(faces, at=at)
    return signed


@transaction.atomic
def ended(*, order: WorkOrder, why: str, by: Person, at: datetime) -> WorkOrder:
    """End an order that is not done: turned down while it is raised, else withdrawn."""
    faces = _order_faces(order)
    end = planning.turn_down if order.state == "raised" else planning.withdraw
    order = end(order=order, why=why, by=by, at=at)
    _look(faces, at=at)
    return order


@transaction.atomic
def line_dropped(*, line: Line, why: str, by: Person, at: datetime) -> Line:
    """Drop a line from its order, and let its face stand by itself again."""
    line = planning.drop_line(line=line, why=why, by=by, at=at)
    if line.face is not None:
        _look([line.face], at=at)
    return line


# Nobody's news: time has passed


def swept(plant: Plant, at: datetime) -> Swept:
    """Look at every face of every living tool of the plant, one transaction a tool, and propose what is called."""
    found = []
    for tool in Tool.objects.in_plant(plant).alive():
        with transaction.atomic():
            found.append(_look(_faces_of(tool), at=at))
    return Swept(
        tools=len(found),
        faces=sum(look.faces for look in found),
        opened=sum(look.opened for look in found),
        closed=sum(look.closed for look in found),
        orders=sum(look.orders for look in found),
    )


@transaction.atomic
def brought_up_to_date(face_ids: Iterable[int], *, at: datetime) -> Swept:
    """Look at these faces."""
    return _look(Face.objects.filter(pk__in=list(face_ids)), at=at)


# The pieces


def _look(faces: Iterable[Face], *, at: datetime) -> Swept:
    """Bring trends and standings up to date, call what needs calling, close what does not, and propose the work."""
    faces = list(Face.objects.filter(pk__in=[face.pk for face in faces]).select_related("insert__tool__plant"))
    if not faces:
        return Swept(0, 0, 0, 0, 0)
    hand = the_software(faces[0].insert.tool.plant)
    lines = Line.objects.of_faces(faces)
    awaiting = set(lines.awaiting_parts().values_list("face_id", flat=True))
    trends.bring_up_to_date(faces, at=at, awaiting=awaiting)
    in_work = set(lines.in_work().values_list("face_id", flat=True))
    looked = calls.look(faces, by=hand, at=at, in_work=in_work)
    tools = {face.insert.tool_id: face.insert.tool for face in faces}
    orders = [order for tool in tools.values() for order in _propose(tool, at=at)]
    # After proposing: where a reading overtook a forecast, the new call is on the old one's line and keeps it open.
    proposing.withdraw_if_answered(looked.closed, by=hand, at=at)
    if looked.opened or looked.closed:
        trends.bring_up_to_date(faces, at=at, awaiting=awaiting)
    return Swept(len(tools), len(faces), len(looked.opened), len(looked.closed), len(orders))


def _propose(tool: Tool, *, at: datetime) -> list[WorkOrder]:
    return proposing.propose(proposing.unanswered(tool), by=the_software(tool.plant), at=at)


def _at_work(order: WorkOrder, *, by: Person, at: datetime) -> WorkOrder:
    """End the running lives of the finishes that an order at work changes."""
    if order.state in AT_WORK:
        for line, face in _finish_lines(order):
            if FinishLife.objects.running().filter(face=face).exists():
                tooling_faces.end_life(face=face, ended_by=_words(line), by=by, at=at)
        _look(_order_faces(order), at=at)
    return order


def _words(line: Line) -> str:
    return f"{line.order.number} {line.work}"


def _finish_lines(order: WorkOrder) -> list[tuple[Line, Face]]:
    lines = order.lines.open().changing_finish().select_related("face", "order")
    return [(line, line.face) for line in lines]


def _order_faces(order: WorkOrder) -> Iterable[Face]:
    return list(Face.objects.filter(work_lines__in=order.lines.open()))


def _faces_of(tool: Tool) -> Iterable[Face]:
    return list(Face.objects.in_tool(tool).filter(insert__retired_at__isnull=True))


def _fitted_faces(tool: Tool) -> Iterable[Face]:
    return list(Face.objects.in_tool(tool).fitted().distinct())
