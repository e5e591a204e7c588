"""What is known of faces before they are looked at: gathered in a fixed number of queries, however many they are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery

from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.press.rates import shots_per_day
from shop.quality.asked import Asked, asked_of, day_in
from shop.quality.judging import judge_statistic
from shop.quality.models import Verdict
from shop.tooling.models import Concession, Face, FinishLife, Limit, SteelEntry, Tool
from shop.watch.calendar import ToolCalendar, calendars_of
from shop.watch.models import Call, Question, RefinishInterval, Standing, Trend
from shop.watch.path import Worn, worn
from shop.watch.policies import DEFAULTS, Rules, book

Place = tuple[str, int | None, str, int | None]
# The columns that `place_of` reads.
_PLACE = ("parameter", "spot_id", "where", "limit__geometry_deg")


@dataclass(frozen=True)
class Held:
    """A verdict that decides for its place now, and what it means by what is in force now."""

    verdict: Verdict
    outcome: str
    limit: Limit
    concession: Concession | None


@dataclass
class Facts:
    """One face with everything that its standing and its calls rest on."""

    face: Face
    asked: Asked
    life: FinishLife | None
    at: datetime
    born_total: int = 0
    before_ended: datetime | None = None
    life_shots: int = 0
    worn: Worn = field(default_factory=Worn)
    calendar: ToolCalendar | None = None
    tool_shots_per_day: float = 0.0
    shots_per_day: float = 0.0
    steel_left_um: Decimal | None = None
    interval_shots: int | None = None
    rules: Rules = DEFAULTS
    asked_about: frozenset[int] = frozenset()
    standing: Standing | None = None
    held: list[Held] = field(default_factory=list)
    trends: list[Trend] = field(default_factory=list)
    calls: list[Call] = field(default_factory=list)

    @property
    def tool(self) -> Tool:
        """Return the tool that the face's insert belongs to."""
        return self.face.insert.tool

    @property
    def plant(self) -> Plant:
        """Return the plant."""
        return self.tool.plant

    @property
    def day(self) -> date:
        """Return the plant's date."""
        return day_in(self.plant, self.at)

    @property
    def life_wear(self) -> float:
        """Return the shots of the life, each weighted by its resin."""
        return self.run_by(self.at)[1]

    def run_by(self, at: datetime) -> tuple[int, float]:
        """Return the shots of the life by a moment, as they were made and weighted by resin."""
        return self.worn.between(self.life.began_at, at) if self.life is not None else (0, 0.0)

    @property
    def share(self) -> float:
        """Return what part of the tool's shots the face's insert makes: less where its cavity was blocked."""
        return self.shots_per_day / self.tool_shots_per_day if self.tool_shots_per_day > 0 else 1.0

    @property
    def lead_shots(self) -> float:
        """Return the shots that are to be expected inside the lead time: planned, else at the recent rate."""
        if self.calendar is None:
            return self.shots_per_day * self.rules.lead_time_days
        return float(self.calendar.coming.shots_by(float(self.rules.lead_time_days)).mean()) * self.share

    def failing(self, outcome: str) -> list[Held]:
        """Return the verdicts that stand so now."""
        return [held for held in self.held if held.outcome == outcome]


def gather(faces: Iterable[Face], at: datetime) -> dict[int, Facts]:
    """Return the facts of each face, in the order of their keys.

    The watch never goes back in time: news of yesterday is looked at from when the face was last looked at.
    """
    ids = {face.pk for face in faces}
    standings = {one.face_id: one for one in Standing.objects.filter(face__in=ids)}
    at = max([at, *(one.worked_out_at for one in standings.values())])
    asked = asked_of([*faces], at)
    found = {
        pk: Facts(asked[pk].face, asked[pk], asked[pk].life, at, standing=standings.get(pk)) for pk in sorted(asked)
    }
    _lives(found)
    _rates(found, at)
    _worn(found)
    left = SteelEntry.objects.left_by_face(ids)
    intervals = dict(RefinishInterval.objects.filter(face__in=ids).values_list("face_id", "shots"))
    calls = _by_face(Call.objects.open().filter(face__in=ids).prefetch_related("evidence").order_by("pk"))
    running = [facts.life.pk for facts in found.values() if facts.life is not None]
    trends = _by_face(Trend.objects.filter(life__in=running).select_related("spot", "resin", "pool").order_by("pk"))
    verdicts = _latest_verdicts(running)
    asked_about = _asked_about({facts.tool.pk for facts in found.values()})
    rules = {plant.pk: book(plant) for plant in {facts.plant for facts in found.values()}}
    for pk, facts in found.items():
        facts.steel_left_um = left.get(pk)
        facts.rules = rules[facts.plant.pk].of(facts.tool.customer_id)
        facts.asked_about = asked_about
        facts.interval_shots = intervals.get(pk, facts.rules.interval_shots)
        facts.calls = calls[pk]
        facts.trends = trends[pk]
        facts.held = [held for verdict in verdicts[pk] if (held := held_now(verdict, facts.asked)) is not None]
    return found


def place_of(verdict: Verdict) -> Place:
    """Return what tells one place of measuring from another."""
    return verdict.parameter, verdict.spot_id, verdict.where, verdict.limit.geometry_deg


def held_now(verdict: Verdict, asked: Asked) -> Held | None:
    """Return what a verdict means by the limits in force now; None where the spec no longer names the place.

    The verdict itself never changes. A failed one is let off by a concession or a wider limit, and one that passed
    by a concession fails when that has ended; a limit that was tightened waits for a new reading.
    """
    limits = asked.limits_for(verdict.parameter, verdict.where, verdict.spot_id)
    limit = next((one for one in limits if one.geometry_deg == verdict.limit.geometry_deg), None)
    if limit is None:
        return None
    sides = asked.sides(limit)
    same = (sides.lower, sides.upper) == (verdict.lower, verdict.upper)
    passed = verdict.outcome == Verdict.Outcome.YES
    ended = verdict.concession_id is not None and sides.concession is None
    if same or (passed and not ended):
        return Held(verdict, verdict.outcome, limit, sides.concession)
    outcome, _chance = judge_statistic(
        float(verdict.statistic),
        float(verdict.standard_uncertainty),
        None if sides.lower is None else float(sides.lower),
        None if sides.upper is None else float(sides.upper),
        acceptance=verdict.acceptance,
        required=float(verdict.required),
    )
    return Held(verdict, outcome, limit, sides.concession)


def _lives(found: Mapping[int, Facts]) -> None:
    before = FinishLife.objects.filter(face=OuterRef("face"), number__lt=OuterRef("number")).order_by("-number")
    lives = FinishLife.objects.filter(pk__in=[facts.life.pk for facts in found.values() if facts.life is not None])
    rows = lives.annotate(
        born_total=InsertShots.objects.total_before("face__insert", "began_at"),
        before_ended=Subquery(before.values("ended_at")[:1]),
    )
    for face_id, born_total, before_ended in rows.values_list("face_id", "born_total", "before_ended"):
        facts = found[face_id]
        facts.born_total = born_total or 0
        facts.before_ended = before_ended
        facts.life_shots = max(0, facts.asked.insert_total - facts.born_total)


def _rates(found: Mapping[int, Facts], at: datetime) -> None:
    rates = shots_per_day(at=at, insert_ids={facts.face.insert_id for facts in found.values()})
    tools = {facts.tool.pk: facts.tool for facts in found.values()}
    of_tools = shots_per_day(at=at, tool_ids=set(tools))
    calendars = calendars_of(tools.values(), at)
    for facts in found.values():
        facts.shots_per_day = rates.get(facts.face.insert_id, 0.0)
        facts.tool_shots_per_day = of_tools.get(facts.tool.pk, 0.0)
        facts.calendar = calendars[facts.tool.pk]


def _worn(found: Mapping[int, Facts]) -> None:
    living = [facts for facts in found.values() if facts.life is not None]
    if not living:
        return
    usual = {facts.face.insert_id: facts.tool.resin_id for facts in living}
    since = min(facts.life.began_at for facts in living if facts.life is not None)
    run = worn(usual, since, usual, living[0].plant)
    for facts in living:
        facts.worn = run[facts.face.insert_id]


def _asked_about(tool_ids: Iterable[int]) -> frozenset[int]:
    """Return the inspections on which all faces of a tool may have stepped together."""
    steps = Question.objects.open().filter(kind=Question.Kind.STEP, tool__in=list(tool_ids))
    return frozenset(steps.values_list("inspection_id", flat=True))


def _latest_verdicts(life_ids: list[int]) -> dict[int, list[Verdict]]:
    deciding = Verdict.objects.deciding().filter(life__in=life_ids).order_by("at", "id")
    latest: dict[tuple[Any, ...], int] = {}
    # A life holds hundreds of verdicts, of which few decide: they are told apart before any of them is made whole.
    for pk, *place in deciding.values_list("pk", "face_id", *_PLACE):
        latest[tuple(place)] = pk
    rows = Verdict.objects.select_related("limit", "spot", "concession").in_bulk(list(latest.values()))
    found: dict[int, list[Verdict]] = defaultdict(list)
    for pk in latest.values():
        found[rows[pk].face_id].append(rows[pk])
    return found


def _by_face(rows: QuerySet[Any]) -> dict[int, list[Any]]:
    found: dict[int, list[Any]] = defaultdict(list)
    for row in rows:
        found[row.face_id].append(row)
    return found
