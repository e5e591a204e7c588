"""Fit to run: may this tool run, and will each face last the order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import Any

from django.db.models import Prefetch

from shop.bench.models import Line, WorkOrder
from shop.bench.states import State
from shop.boards import fit_gauges
from shop.boards.bars import bar_of
from shop.boards.fit_ahead import Ahead, ahead
from shop.boards.measured import grade
from shop.picture.finish_bar import Bar
from shop.press.models import InsertShots, Run
from shop.quality import due
from shop.quality.asked import concessions_of
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Concession, Face, Fitting, Parameter, Position, Tool
from shop.units import Quantity
from shop.watch import forecast, reasons
from shop.watch.models import Call, Evidence, Standing, Trend


class Answer(StrEnum):
    """The three answers; the weight of a reason is one of the last two or a note."""

    YES = "yes"
    CONDITIONS = "with conditions"
    NO = "no"


@dataclass(frozen=True)
class Reason:
    """Why the answer is what it is, and what to do about it."""

    weight: Answer
    saying: Saying
    step: Saying | None = None
    order: WorkOrder | None = None
    face: Face | None = None


@dataclass(frozen=True)
class FaceLasts:
    """One face that would run: how it stands and the chance that it lasts the order; None is not known."""

    face: Face
    position: int
    standing: Standing | None
    worst: Trend | None
    lasts: float | None
    left_10: int | None
    bar: Bar | None

    @property
    def lasts_percent(self) -> Quantity | None:
        """Return the chance in per cent, to be worded."""
        return None if self.lasts is None else per_cent(self.lasts)


@dataclass(frozen=True)
class Fitness:
    """The answer for one tool and one order."""

    tool: Tool
    at: datetime
    order_shots: int | None
    answer: Answer
    reasons: tuple[Reason, ...]
    faces: tuple[FaceLasts, ...]
    lasts: float | None
    unknown: int = 0
    ahead: Ahead | None = None

    @property
    def deciding(self) -> tuple[Reason, ...]:
        """Return the reasons that make the answer what it is: where it is no, those alone."""
        return tuple(reason for reason in self.reasons if reason.weight == self.answer)

    @property
    def besides(self) -> tuple[Reason, ...]:
        """Return the conditions that would be left once what says no is put right."""
        return tuple(reason for reason in self.reasons if reason.weight != self.answer)

    @property
    def lasts_percent(self) -> Quantity | None:
        """Return the chance in per cent, to be worded."""
        return None if self.lasts is None else per_cent(self.lasts)


@dataclass
class _Seen:
    """All that the rules look at, fetched once."""

    tool: Tool
    at: datetime
    order_shots: int | None
    call_chance: float
    positions: list[Position] = field(default_factory=list)
    fittings: list[Fitting] = field(default_factory=list)
    faces: list[FaceLasts] = field(default_factory=list)
    calls: list[Call] = field(default_factory=list)
    orders: list[WorkOrder] = field(default_factory=list)
    concessions: Mapping[int, Mapping[str, Concession]] = field(default_factory=dict)
    totals: dict[int, int] = field(default_factory=dict)
    due_items: list[due.DueItem] = field(default_factory=list)


def fit_to_run(tool: Tool, order_shots: int | None, at: datetime, *, sets: Sequence[str] | None = None) -> Fitness:
    """Return whether the tool may run an order of so many shots, the reasons, and the chance that each face lasts.

    `sets` names the sets of a family tool that will run; None takes those of the running run, empty is all.
    """
    seen = _look(tool, order_shots, at, sets)
    found = tuple(sorted(_reasons(seen), key=lambda reason: reason.weight != Answer.NO))
    known = [row.lasts for row in seen.faces if row.lasts is not None]
    return Fitness(
        tool=tool,
        at=at,
        order_shots=order_shots,
        answer=_answer(found),
        reasons=found,
        faces=tuple(sorted(seen.faces, key=lambda row: (row.lasts is None, row.lasts or 0.0))),
        lasts=min(known, default=None),
        unknown=len(seen.faces) - len(known),
        ahead=ahead(tool, (row.standing for row in seen.faces), order_shots, at) if order_shots else None,
    )


def _answer(found: Iterable[Reason]) -> Answer:
    weights = {reason.weight for reason in found}
    if Answer.NO in weights:
        return Answer.NO
    return Answer.CONDITIONS if Answer.CONDITIONS in weights else Answer.YES


def _look(tool: Tool, order_shots: int | None, at: datetime, sets: Sequence[str] | None) -> _Seen:
    seen = _Seen(tool, at, order_shots, float(tool.plant.call_chance))
    if sets is None:
        run = Run.objects.running().filter(tool=tool).first()
        sets = run.sets if run else ()
    seen.positions = [one for one in tool.positions.all() if not sets or one.in_set in sets]
    in_use = {one.pk for one in seen.positions}
    fittings = Fitting.objects.at_time(at).filter(position__tool=tool).select_related("insert", "position")
    seen.fittings = [one for one in fittings if one.position_id in in_use]
    seen.faces = _faces(seen)
    ids = [row.face.pk for row in seen.faces]
    evidence = Prefetch("evidence", Evidence.objects.select_related("damage", "verdict").order_by("at", "id"))
    calls = Call.objects.open().filter(tool=tool).select_related("face__insert", "line_call__line")
    seen.calls = [one for one in calls.prefetch_related(evidence) if one.face_id is None or one.face_id in ids]
    lines = Prefetch("lines", Line.objects.open())
    seen.orders = list(WorkOrder.objects.open().filter(tool=tool).prefetch_related(lines).order_by("raised_at"))
    seen.totals = InsertShots.objects.totals({one.insert_id for one in seen.fittings})
    seen.concessions = concessions_of([row.face for row in seen.faces], seen.totals, at)
    seen.due_items = due.for_faces([row.face for row in seen.faces], at)
    return seen


def _faces(seen: _Seen) -> list[FaceLasts]:
    position_of = {one.insert_id: one.position.number for one in seen.fittings}
    faces = Face.objects.filter(insert__in=position_of).select_related("insert", "standing")
    trends = Trend.objects.of_running_lives().select_related("spot", "pool")
    rows = [
        _face_lasts(face, position_of[face.insert_id], seen)
        for face in faces.prefetch_related(Prefetch("trends", trends, to_attr="running_trends"))
    ]
    return sorted(rows, key=lambda row: (row.position, row.face.insert.number, row.face.name))


def _face_lasts(face: Face, position: int, seen: _Seen) -> FaceLasts:
    standing: Standing | None = getattr(face, "standing", None)
    trends: list[Trend] = face.running_trends  # type: ignore[attr-defined]  # set by the prefetch
    chances = [(forecast.chance_of_reaching(trend, seen.order_shots or 0), trend) for trend in trends]
    known = [(chance, trend) for chance, trend in chances if chance is not None]
    worst = max(known, key=lambda pair: pair[0])[1] if known else (trends[0] if trends else None)
    lasts = 1.0 - max(chance for chance, _ in known) if known else None
    if standing is not None and standing.state == Standing.State.OFF_SPEC:
        lasts = 0.0
    left = [trend.left_10 for trend in trends if trend.left_10 is not None]
    bar = bar_of(worst, seen.order_shots or 0, float(seen.tool.plant.conformance_required)) if worst else None
    return FaceLasts(face, position, standing, worst, lasts, min(left, default=None), bar)


def _reasons(seen: _Seen) -> Iterator[Reason]:
    yield from _of_status(seen)
    yield from _of_work(seen)
    yield from _of_positions(seen)
    yield from _of_calls(seen)
    yield from _of_states(seen)
    yield from _of_forecast(seen)
    yield from _of_concessions(seen)
    yield from _of_due(seen)
    for face, doubt in fit_gauges.doubtful([row.face for row in seen.faces], seen.at):
        yield Reason(Answer.CONDITIONS, doubt, _said("fit.gauge.step", fit_gauges.STEP), face=face)


def _said(code: str, template: str, **values: Any) -> Saying:
    return Saying(code, template, values)


def per_cent(chance: float) -> Quantity:
    """Return a chance in per cent; a forecast is never certain, so it ends short of both ends."""
    return Quantity(Decimal(str(round(min(max(100 * chance, 0.1), 99.9), 1))), "percent")


def _shots(count: int) -> Quantity:
    return Quantity(Decimal(max(count, 0)), "shots")


def _of_status(seen: _Seen) -> Iterator[Reason]:
    tool = seen.tool
    if tool.status != Tool.Status.PRODUCTION:
        yield Reason(
            Answer.NO,
            _said("fit.status", gettext_noop("The tool's status is {status}."), status=Tool.Status(tool.status)),
            _said("fit.status.step", gettext_noop("Ask the toolroom lead to set it to production first.")),
        )
    # A tool on the bench or sent out is explained by its order; the rest of the places have none.
    covered = any(order.state in (State.ON_THE_BENCH, State.SENT_OUT) for order in seen.orders)
    if tool.place not in (Tool.Place.IN_PRESS, Tool.Place.RACK) and not covered and not _first_offs(seen):
        yield Reason(
            Answer.NO,
            _said("fit.place", gettext_noop("The tool is not here: {place}."), place=Tool.Place(tool.place)),
            _said("fit.place.step", gettext_noop("Move it to the rack or into a press on the tool's page.")),
        )


_AT_WORK = {
    State.ON_THE_BENCH: gettext_noop("It is on the bench: {order}, {lines} lines."),
    State.SENT_OUT: gettext_noop("It is sent out: {order}, {lines} lines."),
    State.STOPPED: gettext_noop("Work on it was stopped: {order}, {lines} lines."),
    State.STEEL_CHECK: gettext_noop("The steel has not passed yet: {order}, {lines} lines."),
}
_ASK_WHEN = gettext_noop("Ask the toolroom lead when it will be released.")


def _of_work(seen: _Seen) -> Iterator[Reason]:
    for order in seen.orders:
        state = State(order.state)
        values = {"order": order.number, "lines": len(order.lines.all())}
        if state in _AT_WORK:
            yield Reason(Answer.NO, _said("fit.at_work", _AT_WORK[state], **values), _said("fit.ask", _ASK_WHEN), order)
        elif state == State.PARTS_CHECK:
            template = gettext_noop("First-offs only: the steel of {order} passed, its parts have not.")
            step = _said("fit.first_offs.step", gettext_noop("Warm up, mould first-offs and give them to quality."))
            yield Reason(Answer.CONDITIONS, _said("fit.first_offs", template, **values), step, order)


def _first_offs(seen: _Seen) -> set[int]:
    return {order.pk for order in seen.orders if order.state == State.PARTS_CHECK}


def _of_positions(seen: _Seen) -> Iterator[Reason]:
    filled = {one.position_id for one in seen.fittings}
    empty = [one.number for one in seen.positions if one.pk not in filled]
    if empty:
        yield Reason(
            Answer.CONDITIONS,
            _said("fit.empty", gettext_noop("No insert is fitted in position {positions}."), positions=_listed(empty)),
            _said("fit.empty.step", gettext_noop("Fit a spare, or tick the cavity as blocked when you log shots.")),
        )


def _listed(numbers: Iterable[int]) -> str:
    return ", ".join(str(number) for number in sorted(numbers))


_CALL_STEPS = {
    Call.Cause.OFF_SPEC: gettext_noop(
        "Pull the tool, or ask for a concession; hold the parts made since the last good reading."
    ),
    Call.Cause.NOT_PROVEN: gettext_noop("Give quality a second part to measure."),
    Call.Cause.INTERVAL: gettext_noop("Plan the work with the toolroom before the next order."),
    Call.Cause.DAMAGE: gettext_noop("Look at the first parts with quality before you go on."),
}


def _of_calls(seen: _Seen) -> Iterator[Reason]:
    first_offs = _first_offs(seen)
    for call in seen.calls:
        if call.cause not in _CALL_STEPS or _answered_by(call, first_offs):
            continue
        evidence = list(call.evidence.all())
        if not evidence:
            continue
        stops = any(one.damage is not None and one.damage.stops_run for one in evidence)
        weight = Answer.NO if stops or call.cause == Call.Cause.OFF_SPEC else Answer.CONDITIONS
        step = _said(f"fit.call.{call.cause}", _CALL_STEPS[Call.Cause(call.cause)])
        if stops:
            step = _said("fit.call.stops", gettext_noop("Do not run it: parts are bad now. Take it to the toolroom."))
        yield Reason(weight, reasons.saying(evidence[-1]), step, face=call.face)


def _answered_by(call: Call, orders: set[int]) -> bool:
    joined = getattr(call, "line_call", None)
    return joined is not None and joined.line.order_id in orders


def _of_states(seen: _Seen) -> Iterator[Reason]:
    called = {call.face_id for call in seen.calls if call.cause == Call.Cause.OFF_SPEC}
    first_offs = _first_offs(seen)
    for row in seen.faces:
        state = row.standing.state if row.standing else ""
        if state == Standing.State.OFF_SPEC and row.face.pk not in called:
            yield Reason(
                Answer.NO,
                _said("fit.off_spec", gettext_noop("It is off spec.")),
                _said("fit.off_spec.step", _CALL_STEPS[Call.Cause.OFF_SPEC]),
                face=row.face,
            )
        elif state == Standing.State.AWAITING_PARTS and not first_offs:
            yield Reason(
                Answer.CONDITIONS,
                _said("fit.awaiting", gettext_noop("It awaits its parts check.")),
                _said("fit.awaiting.step", gettext_noop("Mould first-offs and give them to quality.")),
                face=row.face,
            )


def _of_forecast(seen: _Seen) -> Iterator[Reason]:
    # A face that is off spec, or too near its limit to tell, is told of by its call already.
    told = {call.face_id for call in seen.calls if call.cause in (Call.Cause.OFF_SPEC, Call.Cause.NOT_PROVEN)}
    for row in seen.faces:
        if row.lasts is None or row.worst is None or row.face.pk in told:
            continue
        reaching = 1.0 - row.lasts
        if reaching <= seen.call_chance:
            continue
        step = _said("fit.forecast.measure", gettext_noop("Measure it before you start."))
        if row.left_10 is not None and row.left_10 > 0:
            step = _said(
                "fit.forecast.step",
                gettext_noop("Run at most {left} before it is measured again, or have it worked on first."),
                left=_shots(row.left_10),
            )
        yield Reason(Answer.CONDITIONS, _of_chance(row, reaching, seen.order_shots), step, face=row.face)


def _of_chance(row: FaceLasts, reaching: float, order_shots: int | None) -> Saying:
    values = {"chance": per_cent(reaching), **_limit(row.worst)}
    if order_shots:
        template = gettext_noop("The chance of reaching its limit of {limit} within {shots} is {chance}.")
        return Saying("fit.forecast", template, {**values, "shots": _shots(order_shots)})
    template = gettext_noop("The chance that its limit of {limit} is already reached is {chance}.")
    return Saying("fit.forecast.now", template, values)


def _limit(trend: Trend | None) -> dict[str, Quantity | Saying]:
    if trend is None:
        return {}
    side = trend.lower if trend.towards == "lower" and trend.lower is not None else trend.upper
    side = trend.lower if side is None else side
    if Parameter(trend.parameter).by_eye:
        return {"limit": grade(trend.parameter, side or 0.0)}
    return {"limit": Quantity(Decimal(str(side or 0)), trend.unit)}


def _of_concessions(seen: _Seen) -> Iterator[Reason]:
    for row in seen.faces:
        for one in seen.concessions.get(row.face.pk, {}).values():
            total = seen.totals.get(row.face.insert_id, 0)
            left = None if one.until_insert_shots is None else one.until_insert_shots - total
            step = _concession_step(one, left, seen.order_shots)
            yield Reason(Answer.CONDITIONS, _of_concession(one, left), step, face=row.face)


def _of_concession(one: Concession, left: int | None) -> Saying:
    if left is not None:
        template = gettext_noop("It runs on concession {number}: {left} are left of it.")
        return _said("fit.concession.shots", template, number=one.number, left=_shots(left))
    if one.until_on is not None:
        template = gettext_noop("It runs on concession {number} until {day}.")
        return _said("fit.concession.day", template, number=one.number, day=one.until_on)
    template = gettext_noop("It runs on concession {number} for {quantity} parts.")
    return _said("fit.concession.quantity", template, number=one.number, quantity=one.until_quantity)


def _concession_step(one: Concession, left: int | None, order_shots: int | None) -> Saying:
    if left is not None and order_shots and order_shots > left:
        template = gettext_noop("The order of {shots} is more than that: run {left}, or ask for a longer concession.")
        return _said("fit.concession.short", template, shots=_shots(order_shots), left=_shots(left))
    return _said("fit.concession.step", gettext_noop("Mark the parts with concession {number}."), number=one.number)


def _of_due(seen: _Seen) -> Iterator[Reason]:
    late = [item for item in seen.due_items if item.overdue]
    step = _said("fit.due.step", gettext_noop("Give quality a shot at the start of the run."))
    if len(late) == 1:
        yield Reason(Answer.CONDITIONS, late[0].reason, step, face=late[0].face)
    elif late:
        faces = list(dict.fromkeys(str(item.face) for item in late))
        template = gettext_noop("{count} planned measurements are overdue: {faces}.")
        yield Reason(Answer.CONDITIONS, _said("fit.due", template, count=len(late), faces=faces), step)
