"""Pull list: faces in order of the shots left before their limit, why, and what is already booked."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.db.models import (
    BigIntegerField,
    Case,
    Count,
    Exists,
    F,
    Min,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
    Window,
)

from shop.bench.models import Line, Work, WorkOrder
from shop.boards.bars import bar_of
from shop.boards.costs import money, part_costs, waiting_cost
from shop.boards.figures import figured
from shop.craft import lightest
from shop.people.models import Plant
from shop.picture.finish_bar import Bar
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Face, Fitting, Insert, Spec
from shop.watch import reasons
from shop.watch.models import Call, Evidence, Standing, Trend

# What is to be pulled is asked for so far ahead, as `Standing.chance_ahead` is worked out.
AHEAD_DAYS = 28
# Faces below this many shots come first whatever their trend says: they are over, or somebody called them.
OFF_SPEC_RANK, CALLED_RANK = -2, -1


@dataclass(frozen=True)
class PullRow:
    """One face on the list."""

    face: Face
    position: int
    standing: Standing
    worst: Trend | None
    bar: Bar | None
    why: Saying | None
    besides: tuple[str, ...]
    left_10: int | None
    left_50: int | None
    left_90: int | None
    due_on: date | None
    even_on: date | None
    window: tuple[date, date] | None
    chance_ahead: float | None
    waiting: Decimal | None
    waiting_words: str
    work: str
    booked: WorkOrder | None
    visit: WorkOrder | None
    same_tool: int


@dataclass(frozen=True)
class Ahead:
    """What must come out in the next four weeks, and what leaving it all in is to be expected to cost."""

    faces: int
    tools: int
    bad_shots: float
    waiting: Decimal
    currency: str


def ahead(standings: QuerySet[Standing], plant: Plant, today: date) -> Ahead:
    """Return what comes due within four weeks among `in_order`, in three queries."""
    coming = standings.filter(
        Q(due_on__lte=today + timedelta(days=AHEAD_DAYS))
        | Q(state__in=[Standing.State.OFF_SPEC, Standing.State.DUE])
        | Q(called=True)
    ).order_by()
    by_tool = coming.values("face__insert__tool").annotate(faces=Count("pk"), bad=Sum("bad_shots_ahead"))
    rows = {row["face__insert__tool"]: (row["faces"], row["bad"] or 0.0) for row in by_tool}
    currency, costs = part_costs(plant, list(rows))
    return Ahead(
        faces=sum(faces for faces, _bad in rows.values()),
        tools=len(rows),
        bad_shots=sum(bad for _faces, bad in rows.values()),
        waiting=sum((waiting_cost(bad, costs[tool]) or Decimal(0) for tool, (_n, bad) in rows.items()), Decimal(0)),
        currency=currency,
    )


def pull_list(standings: QuerySet[Standing], plant: Plant) -> list[PullRow]:
    """Return the rows of a slice of `in_order`: five queries, whatever the size of the plant."""
    page = list(_with_names(standings))
    tools = Counter(standing.face.insert.tool_id for standing in page)
    called = {face_id: sorted(calls, key=_weight) for face_id, calls in _called(page).items()}
    visits = _visits(list(tools))
    currency, costs = part_costs(plant, list(tools))
    return [_row(one, plant, called.get(one.face_id, []), visits, tools, costs, currency) for one in page]


def in_order(plant: Plant, *, by_tool: bool = False) -> QuerySet[Standing]:
    """Return the fitted faces of the plant, soonest first; `by_tool` keeps those of one tool together."""
    called = Call.objects.open().wanting_bench_work().filter(face=OuterRef("face"))
    fitted = Fitting.objects.now().filter(insert=OuterRef("face__insert"))
    of_tool = Call.objects.open().wanting_bench_work().filter(tool=OuterRef("face__insert__tool"), face__isnull=True)
    standings: QuerySet[Standing] = Standing.objects.in_plant(plant).alias(called=Exists(called))
    standings = standings.annotate(
        position=Subquery(fitted.values("position__number")[:1]),
        tool_called=Exists(of_tool),
        rank=Case(
            When(state=Standing.State.OFF_SPEC, then=Value(OFF_SPEC_RANK)),
            When(called=True, then=Value(CALLED_RANK)),
            default=F("left_10"),
            output_field=BigIntegerField(),
        ),
    ).filter(position__isnull=False)
    if by_tool:
        soonest = Window(Min("rank"), partition_by=F("face__insert__tool"))
        standings = standings.annotate(tool_rank=soonest)
        return standings.order_by(
            F("tool_rank").asc(nulls_last=True), "face__insert__tool", F("rank").asc(nulls_last=True), "face"
        )
    return standings.order_by(F("rank").asc(nulls_last=True), F("left_10").asc(nulls_last=True), "face")


def needing(standings: QuerySet[Standing]) -> QuerySet[Standing]:
    """Return those that are called, off spec or due, or that have a forecast at all."""
    waiting = Q(state__in=[Standing.State.OFF_SPEC, Standing.State.DUE]) | Q(left_10__isnull=False)
    return standings.filter(waiting | Q(called=True) | Q(tool_called=True))


def _with_names(standings: QuerySet[Standing]) -> QuerySet[Standing]:
    spec = Spec.objects.filter(face=OuterRef("face")).order_by("-revision")
    return standings.select_related("face__insert__tool__customer", "worst__spot").annotate(
        how_made=Subquery(spec.values("how_made")[:1]), micro_matt=Subquery(spec.values("micro_matt")[:1])
    )


@dataclass
class _Called:
    """An open call with its reasons, latest last."""

    call: Call
    evidence: list[Evidence]


def _called(page: Sequence[Standing]) -> dict[int, list[_Called]]:
    # A call about the tool as a whole stands with each of its faces.
    ids = [standing.face_id for standing in page]
    tools: dict[int, list[int]] = {}
    for standing in page:
        tools.setdefault(standing.face.insert.tool_id, []).append(standing.face_id)
    evidence = Evidence.objects.filter(call__closed_at__isnull=True).filter(
        Q(call__face__in=ids) | Q(call__face__isnull=True, call__tool__in=list(tools))
    )
    calls: dict[int, _Called] = {}
    for one in evidence.select_related("call", "damage", "verdict").order_by("call__opened_at", "call_id", "at", "id"):
        calls.setdefault(one.call_id, _Called(one.call, [])).evidence.append(one)
    found: dict[int, list[_Called]] = {}
    for called in calls.values():
        call = called.call
        for face_id in [call.face_id] if call.face_id else tools[call.tool_id]:
            found.setdefault(face_id, []).append(called)
    return found


@dataclass(frozen=True)
class _Visits:
    by_face: dict[int, WorkOrder]
    by_tool: dict[int, WorkOrder]


def _visits(tools: Sequence[int]) -> _Visits:
    lines = Line.objects.open().filter(order__tool__in=tools, order__closed_at__isnull=True).select_related("order")
    by_face: dict[int, WorkOrder] = {}
    by_tool: dict[int, WorkOrder] = {}
    for line in lines.order_by("order__raised_at"):
        by_tool.setdefault(line.order.tool_id, line.order)
        if line.face_id:
            by_face.setdefault(line.face_id, line.order)
    return _Visits(by_face, by_tool)


def _row(
    standing: Any,
    plant: Plant,
    calls: list[_Called],
    visits: _Visits,
    tools: Counter[int],
    costs: Mapping[int, Decimal],
    currency: str,
) -> PullRow:
    waiting = waiting_cost(standing.bad_shots_ahead, costs[standing.face.insert.tool_id])
    trend, face = standing.worst, standing.face
    run = round(plant.lead_time_days * (standing.shots_per_day or 0.0))
    booked = visits.by_face.get(face.pk)
    return PullRow(
        face=face,
        position=standing.position,
        standing=standing,
        worst=trend,
        bar=figured(bar_of(trend, run, float(plant.conformance_required))) if trend else None,
        why=_why(standing, calls),
        besides=tuple(str(Call.Cause(called.call.cause).label) for called in calls[1:]),
        left_10=standing.left_10,
        left_50=standing.left_50,
        left_90=trend.left_90 if trend else None,
        due_on=standing.due_on,
        even_on=standing.even_on,
        window=(standing.window_from, standing.window_to) if standing.window_from and standing.window_to else None,
        chance_ahead=standing.chance_ahead,
        waiting=waiting,
        waiting_words=money(waiting, currency),
        work=_lightest(standing, calls),
        booked=booked,
        visit=None if booked else visits.by_tool.get(face.insert.tool_id),
        same_tool=tools[face.insert.tool_id],
    )


# The reason that is told in full is the one that stops a tool first; the others are named beside it.
_WEIGHTS = (
    Call.Cause.DAMAGE,
    Call.Cause.OFF_SPEC,
    Call.Cause.FORECAST,
    Call.Cause.INTERVAL,
    Call.Cause.NOT_PROVEN,
    Call.Cause.NOT_MEASURED,
)


def _weight(called: _Called) -> int:
    return _WEIGHTS.index(Call.Cause(called.call.cause))


def _why(standing: Standing, calls: list[_Called]) -> Saying | None:
    if calls:
        return reasons.saying(calls[0].evidence[-1])
    if standing.worst is None:
        return None
    if standing.left_10 is None:
        return Saying("pull.no_forecast", gettext_noop("No drift towards a limit is seen."), {})
    return Saying("pull.wearing", gettext_noop("It wears, and is not yet inside the lead time."), {})


def _lightest(standing: Any, calls: list[_Called]) -> str:
    """Return the lightest work that would do, in words; empty where nothing asks for work."""
    if not standing.how_made:
        return ""
    wanting = [called for called in calls if called.call.wants_bench_work]
    cause = wanting[0].call.cause if wanting else Call.Cause.FORECAST
    if not wanting and standing.left_10 is None:
        return ""
    trend = standing.worst
    harmed = [one.damage.kind for called in wanting for one in called.evidence if one.damage is not None]
    work = lightest.lightest_work(
        how_made=standing.how_made,
        parameter=trend.parameter if trend else "",
        side=trend.towards if trend else "",
        cause=str(cause),
        micro_matt=bool(standing.micro_matt),
        damage_kind=harmed[-1] if harmed else "",
        plated=standing.face.insert.coating not in (Insert.Coating.NONE, Insert.Coating.NITRIDED),
    )
    return str(Work(work).label)
