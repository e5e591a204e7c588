"""The work order as one sheet: why, the way it has come, each face with its route, and what may be done now."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from shop.bench.models import Booking, Line, Move, Passing, Step, WorkOrder
from shop.bench.services import checking, passing
from shop.bench.states import AT_WORK, ENDED, OPEN_TO_PLANNING, State
from shop.bench.suiting import Note, notes_of
from shop.boards.bars import bar_of, quantity
from shop.boards.figures import figured
from shop.paper.models import Document
from shop.people import wording
from shop.people.models import Person
from shop.people.roles import Ability, may
from shop.picture.finish_bar import Bar
from shop.picture.steel_bar import SteelBar
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Fitting, SteelEntry
from shop.watch import reasons
from shop.watch.models import Evidence, Standing

WAY = (
    State.RAISED,
    State.ACCEPTED,
    State.PLANNED,
    State.ON_THE_BENCH,
    State.STEEL_CHECK,
    State.PARTS_CHECK,
    State.RELEASED,
)


@dataclass(frozen=True)
class Mark:
    """One place in the way of an order: behind it, where it is, or still ahead."""

    state: State
    place: str


@dataclass(frozen=True)
class LineRow:
    """One line: the face as it stands, why it is here, its steps and what was booked on it."""

    line: Line
    position: int | None
    bar: Bar | None
    standing: Standing | None
    why: tuple[Saying, ...]
    steps: tuple[Step, ...]
    booked_minutes: int
    steel: SteelBar | None
    steel_left_um: Decimal | None
    steel_to_book_um: Decimal

    @property
    def suits(self) -> tuple[Note, ...]:
        """Return what spoke against the finish, or for care, when the route was laid."""
        return notes_of(self.line)

    @property
    def refuses(self) -> bool:
        """Return whether the face cannot have its finish by what was known then."""
        return any(note.refuses for note in self.suits)

    @property
    def next_step(self) -> Step | None:
        """Return the first step that nobody has signed."""
        return next((step for step in self.steps if step.done_at is None), None)


@dataclass(frozen=True)
class OrderSheet:
    """What the page of a work order shows."""

    order: WorkOrder
    way: tuple[Mark, ...]
    lines: tuple[LineRow, ...]
    dropped: tuple[Line, ...]
    moves: tuple[Move, ...]
    passings: tuple[Passing, ...]
    bookings: tuple[Booking, ...]
    documents: tuple[Document, ...]
    checked: checking.Checked | None
    parts_signed: bool

    @property
    def planned_minutes(self) -> int:
        """Return the minutes that the routes of all lines ask for."""
        return sum(row.line.planned_minutes or 0 for row in self.lines)

    @property
    def booked_minutes(self) -> int:
        """Return the minutes booked on all lines."""
        return sum(row.booked_minutes for row in self.lines)

    @property
    def stopped_because(self) -> str:
        """Return why the order stands, where it is stopped."""
        last = self.moves[-1] if self.moves else None
        return last.why if last and last.to_state == State.STOPPED else ""


def order_sheet(order: WorkOrder, at: datetime) -> OrderSheet:
    """Return the sheet of one order; the number of queries does not grow with its lines."""
    moves = tuple(order.moves.select_related("by").order_by("id"))
    bookings = tuple(
        Booking.objects.in_force()
        .filter(line__order=order)
        .select_related("by", "line__face__insert", "step")
        .order_by("at", "id")
    )
    lines = list(
        order.lines.select_related("face__insert", "spec__plaque").prefetch_related("steps__done_by").order_by("id")
    )
    kept = [line for line in lines if not line.dropped_because]
    return OrderSheet(
        order=order,
        way=_way(order, moves),
        lines=line_rows(order, kept, bookings),
        dropped=tuple(line for line in lines if line.dropped_because),
        moves=moves,
        passings=tuple(order.passings.select_related("by", "inspection").order_by("id")),
        bookings=bookings,
        documents=tuple(
            Document.objects.filter(subject=subject_of(order)).select_related("by", "cancellation").order_by("-issue")
        ),
        checked=_checked(order, at),
        parts_signed=_parts_signed(order),
    )


def subject_of(order: WorkOrder) -> str:
    """Return how a document names the order as its subject."""
    return f"bench:{order.number}"


def line_rows(order: WorkOrder, lines: Sequence[Line], bookings: Sequence[Booking]) -> tuple[LineRow, ...]:
    """Return the rows of these lines of one order."""
    face_ids = [line.face_id for line in lines if line.face_id]
    why = _evidence(lines)
    left = SteelEntry.objects.left_by_face(face_ids)
    booked = _steel_booked(order, face_ids)
    standings = {
        standing.face_id: standing
        for standing in Standing.objects.filter(face__in=face_ids).select_related("worst__spot")
    }
    positions: dict[int, int] = dict(
        Fitting.objects.now().filter(insert__faces__in=face_ids).values_list("insert__faces", "position__number")
    )
    minutes: dict[int, int] = defaultdict(int)
    for booking in bookings:
        minutes[booking.line_id] += booking.minutes
    return tuple(
        _row(order, line, standings, positions, why, left, booked, minutes[line.pk])
        for line in sorted(lines, key=lambda line: (line.face_id is None, positions.get(line.face_id or 0, 0), line.pk))
    )


def may_now(sheet: OrderSheet, reader: Person) -> frozenset[str]:
    """Return what the order's state and the reader's role let them do now, by name."""
    state, order = State(sheet.order.state), sheet.order
    plans, works = may(reader, Ability.PLAN_BENCH), may(reader, Ability.BENCH_WORK)
    judges, releases = may(reader, Ability.JUDGE_RELEASE), may(reader, Ability.RELEASE)
    at_work = state in AT_WORK
    customer_waits = order.tool.customer.buy_off and sheet.parts_signed
    acts: Mapping[str, bool] = {
        "accept": plans and state == State.RAISED,
        "turn_down": plans and state == State.RAISED,
        "withdraw": plans and state in (State.ACCEPTED, State.PLANNED, State.STOPPED),
        "give": plans and state in (State.ACCEPTED, State.PLANNED, State.STOPPED, *AT_WORK),
        "take_back": plans and state == State.PLANNED,
        "set_work": plans and (state in OPEN_TO_PLANNING or at_work or state == State.STOPPED),
        "add_line": plans and (state in OPEN_TO_PLANNING or at_work or state == State.STOPPED),
        "drop_line": plans and (state in OPEN_TO_PLANNING or state == State.STOPPED),
        "start": works and state == State.PLANNED,
        "step": works and at_work,
        "book": works and (at_work or state == State.STOPPED),
        "stop": works and at_work,
        "resume": works and state == State.STOPPED,
        "send_out": works and state == State.ON_THE_BENCH and order.outside_house_id is not None,
        "come_back": works and state == State.SENT_OUT,
        "back_to_bench": works and state == State.SENT_OUT and order.polisher_id is not None,
        "hand_over": works and state == State.ON_THE_BENCH,
        "sign_steel": judges and state == State.STEEL_CHECK,
        "sign_parts": judges and state == State.PARTS_CHECK and not sheet.parts_signed,
        "fail_parts": judges and state == State.PARTS_CHECK,
        "buy_off": judges and state == State.PARTS_CHECK and customer_waits,
        "release": releases and state == State.PARTS_CHECK and sheet.parts_signed,
        "traveller": (plans or works) and state not in ENDED,
    }
    return frozenset(name for name, now in acts.items() if now)


def own_work(order: WorkOrder, reader: Person) -> bool:
    """Return whether the reader worked on the order, so that the release is another's."""
    return reader.pk in passing.hands_of(order)


def _way(order: WorkOrder, moves: Sequence[Move]) -> tuple[Mark, ...]:
    been = {move.to_state for move in moves}
    way = [State.SENT_OUT if s == State.ON_THE_BENCH and _only_outside(order, been) else s for s in WAY]
    here = State(order.state)
    if here not in way:
        # Off the way, or outside between bench and check: shown where the order left it.
        last = max((way.index(State(move.to_state)) for move in moves if move.to_state in way), default=0)
        way.insert(last + 1, here)
    place = way.index(here)
    ended_early = here in (State.TURNED_DOWN, State.WITHDRAWN)
    shown = way[: place + 1] if ended_early else way
    return tuple(
        Mark(state, "here" if n == place else "behind" if n < place else "ahead") for n, state in enumerate(shown)
    )


def _only_outside(order: WorkOrder, been: set[str]) -> bool:
    outside = order.outside_house_id is not None and order.polisher_id is None
    return State.ON_THE_BENCH not in been and (outside or State.SENT_OUT in been)


def _evidence(lines: Sequence[Line]) -> dict[int, tuple[Saying, ...]]:
    found: dict[int, list[Saying]] = defaultdict(list)
    rows = (
        Evidence.objects.filter(call__line_call__line__in=lines)
        .select_related("call__line_call")
        .order_by("call__opened_at", "call_id", "at", "id")
    )
    for one in rows:
        found[one.call.line_call.line_id].append(reasons.saying(one))
    return {line: tuple(said) for line, said in found.items()}


def _row(
    order: WorkOrder,
    line: Line,
    standings: Mapping[int, Standing],
    positions: Mapping[int, int],
    why: Mapping[int, tuple[Saying, ...]],
    left: Mapping[int, Decimal | None],
    booked: Mapping[int, Decimal],
    booked_minutes: int,
) -> LineRow:
    face_id = line.face_id or 0
    standing = standings.get(face_id)
    trend = standing.worst if standing else None
    plant = order.tool.plant
    run = round(plant.lead_time_days * (standing.shots_per_day or 0.0)) if standing else 0
    to_book = max(Decimal(0), (line.planned_steel_um or Decimal(0)) - booked.get(face_id, Decimal(0)))
    by_lead = (Saying("line.by_lead", gettext_noop("Added by the lead."), {}),)
    return LineRow(
        line=line,
        position=positions.get(face_id),
        bar=figured(bar_of(trend, run, float(plant.conformance_required))) if trend else None,
        standing=standing,
        why=why.get(line.pk, by_lead if line.face_id and not line.cause else ()),
        steps=tuple(line.steps.all()),
        booked_minutes=booked_minutes,
        steel=_steel_bar(line, left.get(face_id), to_book),
        steel_left_um=left.get(face_id),
        steel_to_book_um=to_book.normalize(),
    )


def _steel_booked(order: WorkOrder, face_ids: Sequence[int]) -> dict[int, Decimal]:
    """Return by face the steel that was booked for this order already, where its steel passed before. [um]"""
    booked: dict[int, Decimal] = defaultdict(Decimal)
    entries = SteelEntry.objects.in_force().filter(kind="taken", work__startswith=f"{order.number} ")
    for face_id, depth_um in entries.filter(face__in=face_ids).values_list("face_id", "depth_um"):
        booked[face_id] += depth_um
    return booked


def _steel_bar(line: Line, left: Decimal | None, to_book: Decimal) -> SteelBar | None:
    if line.face is None or left is None:
        return None
    takes = Decimal(0) if line.closed_at else to_book
    whole = line.face.steel_to_give_um or left
    there = {"left": quantity(left, "um"), "whole": quantity(whole, "um"), "takes": quantity(takes, "um")}
    template = gettext_noop("{left} of {whole} left; this work takes {takes}")
    if not takes:
        template = gettext_noop("{left} of {whole} left")
    said = wording.say(Saying("steel.left", template, there))
    return SteelBar(left=float(left), whole=float(whole), text=said, next_takes=float(takes))


def _checked(order: WorkOrder, at: datetime) -> checking.Checked | None:
    if order.state == State.STEEL_CHECK:
        return checking.steel(order, at)
    return checking.parts(order, at) if order.state == State.PARTS_CHECK else None


def _parts_signed(order: WorkOrder) -> bool:
    if order.state != State.PARTS_CHECK:
        return False
    signed = checking.signed_since(order, Passing.Stage.PARTS)
    return signed is not None and signed.passed


def lines_with_steps() -> Prefetch[Any]:
    """Return what to fetch along so that a list of orders knows its lines and their steps."""
    lines = Line.objects.filter(dropped_because="").select_related("face__insert", "spec")
    return Prefetch("lines", queryset=lines.prefetch_related("steps").order_by("id"), to_attr="kept_lines")
