"""The calendar of a tool: what it will run, when its faces reach their limits, and when the press leaves it free."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Protocol
from zoneinfo import ZoneInfo

from django.db.models import Sum

from shop.drift.calendar import Coming, DatedChance, Pace, Planned, pace
from shop.press.models import PlannedRun, Run, WorkedShots
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Tool
from shop.units import Quantity

AHEAD_DAYS = 28
WEEKS_BACK = 12
# A gap in the press of so many days is long enough to pull a tool in.
LEAST_GAP_DAYS = 2.0
SECONDS_A_DAY = 86_400.0
CHANCES = (0.1, 0.5, 0.9)


class Ahead(Protocol):
    """What a calendar asks of an outlook."""

    def chance_by(self, extra_shots: float) -> float: ...


@dataclass(frozen=True)
class Dates:
    """When the chance of having reached a limit is 10, 50 and 90 %, and what the next four weeks hold."""

    due_on: date | None
    even_on: date | None
    sure_on: date | None
    chance_ahead: float
    bad_shots_ahead: float


@dataclass(frozen=True)
class Window:
    """Days in which the press leaves the tool free; why it is named, or what is too soon about it."""

    first: date
    last: date
    why: Saying


@dataclass
class _Running:
    """A run that has begun: its order, the shots made of it and left of it, and whether it stands in the plan."""

    order_number: str
    made: int
    left: int | None
    planned: bool = False


@dataclass(frozen=True)
class ToolCalendar:
    """What one tool will run, seen from a moment."""

    at: datetime
    zone: ZoneInfo
    coming: Coming

    @property
    def today(self) -> date:
        """Return the plant's date."""
        return self.at.astimezone(self.zone).date()

    def shots_by(self, day: date, chance: float = 0.5) -> float:
        """Return the shots made by the end of a day, as few as this chance allows for."""
        courses = self.coming.shots_by(self._days_to(day) + 1.0)
        return float(courses[min(int(chance * len(courses)), len(courses) - 1)])

    def dates(self, ahead: Ahead, share: float = 1.0) -> Dates:
        """Return when a face reaches its limits; `share` is what part of the tool's shots it makes."""
        dated = DatedChance(ahead.chance_by, self.coming, share)
        days = [dated.day_of(chance) for chance in CHANCES]
        due_on, even_on, sure_on = (None if one is None else self._day(one) for one in days)
        return Dates(due_on, even_on, sure_on, dated.by(AHEAD_DAYS), dated.shots_beyond(AHEAD_DAYS))

    def windows(self, until: date) -> list[Window]:
        """Return the gaps in the press that begin by a day."""
        why = Saying("window.gap", gettext_noop("Nothing is planned for the tool in these days."), {})
        gaps = self.coming.gaps(LEAST_GAP_DAYS, self._days_to(until) + 1.0)
        return [Window(self._day(gap.first), self._day(gap.last), why) for gap in gaps]

    def window_before(self, day: date | None, lead_days: int) -> Window | None:
        """Return the last gap that begins before a day and leaves time to prepare; failing that, the last too soon."""
        if day is None:
            return None
        found = [one for one in self.windows(day) if one.first <= day]
        ready = [one for one in found if one.last >= self.today + timedelta(days=lead_days)]
        if ready:
            return ready[-1]
        if not found:
            return None
        soon = Saying(
            "window.too_soon",
            gettext_noop(
                "Nothing is planned for the tool in these days, but they are sooner than the {days} to prepare."
            ),
            {"days": Quantity(Decimal(lead_days), "days")},
        )
        return Window(found[-1].first, found[-1].last, soon)

    def _day(self, days: float) -> date:
        return (self.at + timedelta(days=min(days, 36_500.0))).astimezone(self.zone).date()

    def _days_to(self, day: date) -> float:
        return float((day - self.today).days)


def calendars_of(tools: Collection[Tool], at: datetime) -> dict[int, ToolCalendar]:
    """Return the calendar of each tool, in four queries; the plant comes along with the tools."""
    ids = [tool.pk for tool in tools]
    weeks = _weeks(ids, at)
    running = _running(ids)
    planned = _planned(ids, running, at)
    found = {}
    for tool in tools:
        rate = pace(weeks[tool.pk])
        runs = _with_running(planned[tool.pk], running.get(tool.pk), rate)
        found[tool.pk] = ToolCalendar(at, ZoneInfo(tool.plant.time_zone), Coming(tuple(runs), rate))
    return found


def _weeks(ids: Collection[int], at: datetime) -> dict[int, list[float]]:
    """Return the shots of each of the last weeks since the tool first made any, the latest first."""
    found: dict[int, list[float]] = {pk: [0.0] * WEEKS_BACK for pk in ids}
    since = at - timedelta(weeks=WEEKS_BACK)
    rows = WorkedShots.objects.filter(tool__in=ids, at__gt=since, at__lte=at).values_list("tool_id", "at", "shots")
    for tool_id, when, shots in rows:
        found[tool_id][int((at - when).total_seconds() // (7 * SECONDS_A_DAY))] += shots
    return {pk: _since_the_first(weeks) for pk, weeks in found.items()}


def _since_the_first(weeks: list[float]) -> list[float]:
    """Leave out the weeks before the first shots, since a new tool was not idle then."""
    made = [number for number, shots in enumerate(weeks) if shots > 0]
    return weeks[: made[-1] + 1] if made else weeks


def _with_running(runs: list[Planned], now: _Running | None, rate: Pace) -> list[Planned]:
    """Return the planned runs with what is left of one that runs unplanned: until it is done or the next begins."""
    if not runs or now is None or now.planned or rate.per_day <= 0:
        return runs
    next_begins = min(run.first for run in runs)
    days = next_begins if now.left is None else min(now.left / rate.per_day, next_begins)
    return [Planned(0.0, days, days * rate.per_day), *runs] if days > 0 else runs


def _planned(ids: Collection[int], running: Mapping[int, _Running], at: datetime) -> dict[int, list[Planned]]:
    """Return the planned runs ahead; of one that has begun under its order's number, what is left."""
    found: dict[int, list[Planned]] = defaultdict(list)
    for run in PlannedRun.objects.ahead_of(at).filter(tool__in=ids):
        shots = float(run.shots)
        now = running.get(run.tool_id)
        begun = now is not None and bool(run.order_number) and now.order_number == run.order_number
        if now is not None and begun:
            shots, now.planned = max(shots - now.made, 0.0), True
        first, last = ((when - at).total_seconds() / SECONDS_A_DAY for when in (run.starts_at, run.ends_at))
        if first < 0 and not begun:
            # It should run by now: what is left of its time is what is left of its shots.
            shots *= last / (last - first)
        if shots > 0 and math.isfinite(last):
            found[run.tool_id].append(Planned(first, last, shots))
    return found


def _running(ids: Collection[int]) -> dict[int, _Running]:
    """Return what runs now, by tool."""
    runs = Run.objects.running().filter(tool__in=ids).annotate(made=Sum("shot_entries__worked__shots"))
    columns = runs.values_list("tool_id", "order_number", "order_shots", "made")
    return {
        tool_id: _Running(number, made or 0, None if asked is None else max(asked - (made or 0), 0))
        for tool_id, number, asked, made in columns
    }
