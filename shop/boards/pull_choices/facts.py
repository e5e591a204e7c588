"""What is known of a tool and its fitted faces before its visit is weighed: a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from django.db.models import Sum

from shop.bench.models import Costs, Line, OutsideHouse, OutsidePrice, WorkOrder
from shop.bench.states import IN_WORK
from shop.boards.costs import costs_of
from shop.boards.pull_choices.lives import Learned, learned_lives
from shop.craft import lightest
from shop.press.models import Run, WorkedShots
from shop.press.rates import shots_per_day
from shop.quality.asked import day_in
from shop.tooling.models import Face, FinishLife, Fitting, Insert, Spec, Spot, SteelEntry, Tool
from shop.watch.forecast import Outlook, outlook
from shop.watch.groups import severity_class
from shop.watch.models import Call, Evidence, Standing, Trend


@dataclass
class FaceFacts:
    """One fitted face: what it must be, how it stands, where it is heading, what asks for work on it.

    `share` is what part of the tool's shots its insert has lately made.
    """

    face: Face
    position: int
    spec: Spec
    standing: Standing | None = None
    ahead: Outlook | None = None
    life: FinishLife | None = None
    steel_left_um: Decimal | None = None
    causes: list[str] = field(default_factory=list)
    damage_kinds: list[str] = field(default_factory=list)
    booked: WorkOrder | None = None
    share: float = 1.0

    @property
    def trend(self) -> Trend | None:
        """Return the trend that comes to its limit first."""
        return self.standing.worst if self.standing else None

    @property
    def lefts(self) -> tuple[int | None, int | None, int | None]:
        """Return the shots from now to a chance of 10, 50 and 90 %, as the trend keeps them; None is never."""
        trend = self.trend
        return (trend.left_10, trend.left_50, trend.left_90) if trend else (None, None, None)

    @property
    def must(self) -> bool:
        """Return whether something asks for work whatever the forecast."""
        off = self.standing is not None and self.standing.state == Standing.State.OFF_SPEC
        return off or bool({Call.Cause.DAMAGE, Call.Cause.OFF_SPEC, Call.Cause.INTERVAL} & set(self.causes))

    @property
    def one_place(self) -> bool:
        """Return whether one place alone asks for work: damage, or wear at a named spot that is not the middle."""
        if self.damage_kinds:
            return True
        spot = self.trend.spot if self.trend else None
        return spot is not None and spot.kind != Spot.Kind.MIDDLE

    @property
    def lightest(self) -> str:
        """Return the lightest work that would do."""
        coating = self.face.insert.coating
        return lightest.lightest_work(
            how_made=self.spec.how_made,
            parameter=self.trend.parameter if self.trend else "",
            side=(self.ahead.towards if self.ahead else self.trend.towards) if self.trend else "",
            cause=Call.Cause.DAMAGE if self.damage_kinds else Call.Cause.FORECAST,
            micro_matt=self.spec.micro_matt,
            damage_kind=self.damage_kinds[-1] if self.damage_kinds else "",
            plated=coating not in (Insert.Coating.NONE, Insert.Coating.NITRIDED),
        )


@dataclass(frozen=True)
class ToolFacts:
    """The tool with its faces, what the plant reckons with, and what its lives have taught.

    `unseen` are fitted faces that nothing can be told of yet: without a spec, or without readings and calls.
    `order_left` are the shots that the running order still wants.
    """

    tool: Tool
    day: date
    faces: tuple[FaceFacts, ...]
    unseen: tuple[Face, ...]
    costs: Costs
    part_cost: Decimal | None
    prices: tuple[OutsidePrice, ...]
    houses: tuple[OutsideHouse, ...]
    lives: Mapping[tuple[str, str], Learned]
    in_work: WorkOrder | None
    run: Run | None
    order_left: int | None

    @property
    def filled(self) -> bool:
        """Return whether the tool's usual resin wears faces as a filled one does."""
        return self.tool.resin is not None and severity_class(float(self.tool.resin.severity)) != "mild"

    @property
    def bad_part(self) -> Decimal:
        """Return what a bad part of this tool costs."""
        return self.costs.bad_part if self.part_cost is None else self.part_cost


def facts_of(tool: Tool, at: datetime) -> ToolFacts:
    """Return everything that the weighing of a tool's visit rests on, but its calendar."""
    places = dict(
        Fitting.objects.now().filter(insert__tool=tool).values_list("insert_id", "position__number")
    )
    fitted = list(
        Face.objects.filter(insert__in=places).select_related("insert__tool__plant").order_by("insert__number", "name")
    )
    specs = {spec.face_id: spec for spec in Spec.objects.filter(face__in=fitted).at_time(at).with_limits()}
    found = {
        face.pk: FaceFacts(face, places[face.insert_id], specs[face.pk]) for face in fitted if face.pk in specs
    }
    _how_they_stand(found)
    _what_asks(tool, found)
    _shares(tool, found, at)
    seen = [one for one in found.values() if one.ahead is not None or one.must]
    kept = {one.face.pk for one in seen}
    run = Run.objects.running().filter(tool=tool).select_related("press").first()
    houses = OutsideHouse.objects.filter(plant=tool.plant_id).order_by("lead_time_days", "name")
    return ToolFacts(
        tool=tool,
        day=day_in(tool.plant, at),
        faces=tuple(sorted(seen, key=lambda one: (one.position, str(one.face)))),
        unseen=tuple(face for face in fitted if face.pk not in kept),
        costs=costs_of(tool.plant),
        part_cost=_part_cost(tool),
        prices=tuple(OutsidePrice.objects.filter(house__plant=tool.plant_id).select_related("house").order_by("id")),
        houses=tuple(houses),
        lives=learned_lives(tool, {one.spec.how_made for one in seen}, at),
        in_work=WorkOrder.objects.filter(tool=tool, state__in=IN_WORK).order_by("id").first(),
        run=run,
        order_left=_order_left(run),
    )


def _how_they_stand(found: Mapping[int, FaceFacts]) -> None:
    standings = Standing.objects.filter(face__in=found).select_related("worst__pool", "worst__spot")
    for standing in standings:
        facts = found[standing.face_id]
        facts.standing = standing
        facts.ahead = outlook(standing.worst) if standing.worst else None
    for life in FinishLife.objects.running().filter(face__in=found):
        found[life.face_id].life = life
    for face_id, left in SteelEntry.objects.left_by_face(list(found)).items():
        found[face_id].steel_left_um = left
    lines = Line.objects.open().filter(face__in=found, order__closed_at__isnull=True)
    for line in lines.select_related("order").order_by("id"):
        found[line.face_id].booked = line.order


def _shares(tool: Tool, found: Mapping[int, FaceFacts], at: datetime) -> None:
    whole = shots_per_day(at=at, tool_ids=[tool.pk])[tool.pk]
    rates = shots_per_day(at=at, insert_ids={one.face.insert_id for one in found.values()})
    for one in found.values():
        made = rates.get(one.face.insert_id, 0.0)
        one.share = min(made / whole, 1.0) if whole > 0 and made > 0 else 1.0


def _what_asks(tool: Tool, found: Mapping[int, FaceFacts]) -> None:
    calls = Call.objects.open().wanting_bench_work().filter(tool=tool, face__in=found)
    for face_id, cause in calls.order_by("opened_at", "id").values_list("face_id", "cause"):
        found[face_id].causes.append(cause)
    harmed: Mapping[int, list[str]] = defaultdict(list)
    evidence = Evidence.objects.filter(call__tool=tool, call__closed_at__isnull=True, damage__isnull=False)
    for face_id, kind in evidence.order_by("at", "id").values_list("call__face_id", "damage__kind"):
        harmed[face_id].append(kind)
    for face_id, kinds in harmed.items():
        if face_id in found:
            found[face_id].damage_kinds = kinds


def _part_cost(tool: Tool) -> Decimal | None:
    return Tool.objects.filter(pk=tool.pk).values_list("part_cost__amount", flat=True).first()


def _order_left(run: Run | None) -> int | None:
    """Return the shots that the running order still wants; None where none runs or its size is not known."""
    if run is None or not run.order_shots:
        return None
    made = WorkedShots.objects.filter(tool=run.tool_id, entry__run=run).aggregate(made=Sum("shots"))["made"]
    return max(run.order_shots - (made or 0), 0)
