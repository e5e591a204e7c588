"""The weeks ahead: what tools are to run, and when their faces reach their limits; the whole plant on one screen."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.urls import reverse
from django.utils.translation import gettext as _

from shop.people import wording
from shop.people.models import Plant
from shop.picture.run_plan import LATER, NOW, PlanBar, PlanMark, PlanRow, RunPlan
from shop.press.models import PlannedRun
from shop.tooling.models import Tool
from shop.watch.models import Standing

WEEKS_OF_RUNS, WEEKS_OF_PLANT = 12, 26
SECONDS_A_DAY = 86_400.0
# A plant of many tools is drawn closer, so that it stays on one screen.
MANY_TOOLS, CLOSE_ROW = 24, 19.0
URGENT = (Standing.State.OFF_SPEC, Standing.State.DUE)


@dataclass(frozen=True)
class Week:
    """The faces that reach their limits in one week; the first week has in it what is called already."""

    first: date
    standings: tuple[Standing, ...]


@dataclass(frozen=True)
class WholePlant:
    """Every fitted face by the date of its 10 % chance."""

    picture: RunPlan | None
    weeks: tuple[Week, ...]
    states: tuple[tuple[str, str, int], ...]
    faces: int
    later: int


def planned_runs(plant: Plant, at: datetime, tool: str = "") -> list[PlannedRun]:
    """Return the planned runs that are not over, by tool and time, in one query."""
    runs = PlannedRun.objects.in_plant(plant).ahead_of(at).select_related("tool", "press", "resin")
    if tool:
        runs = runs.filter(tool__number__icontains=tool)
    return sorted(runs, key=lambda run: (run.tool.number, run.starts_at))


def plan_picture(runs: Iterable[PlannedRun], plant: Plant, at: datetime) -> RunPlan | None:
    """Return the runs as a picture; None where nothing is planned."""
    by_tool: dict[Tool, list[PlannedRun]] = defaultdict(list)
    for run in runs:
        by_tool[run.tool].append(run)
    if not by_tool:
        return None
    rows = tuple(
        PlanRow(tool.number, reverse("tool", args=[tool.pk]), tuple(_bar(run, at) for run in of_tool))
        for tool, of_tool in by_tool.items()
    )
    words = _("What %(n)d tools are to run in the coming %(weeks)d weeks.") % {"n": len(rows), "weeks": WEEKS_OF_RUNS}
    return RunPlan(words, rows, 7.0 * WEEKS_OF_RUNS, _marks(plant, at, WEEKS_OF_RUNS, 1))


def whole_plant(plant: Plant, at: datetime) -> WholePlant:
    """Return every fitted face by its date, with the runs that are planned: two queries."""
    today = at.astimezone(ZoneInfo(plant.time_zone)).date()
    fitted = Standing.objects.in_plant(plant).filter(face__insert__fittings__to_at__isnull=True).distinct()
    standings = list(fitted.select_related("face__insert__tool").order_by("face__insert__tool__number", "due_on", "pk"))
    runs: dict[int, list[PlannedRun]] = defaultdict(list)
    for run in PlannedRun.objects.in_plant(plant).ahead_of(at).select_related("press"):
        runs[run.tool_id].append(run)
    counts = Counter(standing.state for standing in standings)
    weeks = _weeks(standings, today)
    return WholePlant(
        picture=_plant_picture(standings, runs, plant, at, today) if standings else None,
        weeks=weeks,
        states=tuple((str(state.value), str(state.label), counts[state.value]) for state in Standing.State),
        faces=len(standings),
        later=len(standings) - sum(len(week.standings) for week in weeks),
    )


def _plant_picture(
    standings: list[Standing], runs: dict[int, list[PlannedRun]], plant: Plant, at: datetime, today: date
) -> RunPlan:
    by_tool: dict[Tool, list[Standing]] = defaultdict(list)
    for standing in standings:
        by_tool[standing.face.insert.tool].append(standing)
    last = today + timedelta(weeks=WEEKS_OF_PLANT)
    rows = tuple(
        PlanRow(
            tool.number,
            reverse("tool", args=[tool.pk]),
            tuple(_bar(run, at) for run in runs[tool.pk]),
            tuple(mark for one in of_tool if (mark := _mark(one, today, last)) is not None),
        )
        for tool, of_tool in by_tool.items()
    )
    words = _("%(faces)d faces of %(tools)d tools by the date of their 10 %% chance, %(weeks)d weeks ahead.") % {
        "faces": len(standings), "tools": len(rows), "weeks": WEEKS_OF_PLANT,
    }  # fmt: skip
    row = CLOSE_ROW if len(rows) > MANY_TOOLS else 26.0
    return RunPlan(words, rows, 7.0 * WEEKS_OF_PLANT, _marks(plant, at, WEEKS_OF_PLANT, 2), row=row)


def _mark(standing: Standing, today: date, last: date) -> PlanMark | None:
    """Return where a face stands on the picture; None where nothing is in sight."""
    address = f"{reverse('tool', args=[standing.face.insert.tool_id])}?face={standing.face_id}#face"
    state = Standing.State(standing.state)
    if state in URGENT:
        return PlanMark(0.0, f"{standing.face}: {state.label}", address, NOW)
    if standing.due_on is None or standing.due_on > last:
        return None
    words = _("%(face)s: %(state)s, 10 %% on %(day)s") % {
        "face": standing.face, "state": state.label, "day": wording.day(standing.due_on),
    }  # fmt: skip
    return PlanMark(float(max((standing.due_on - today).days, 0)), words, address, LATER)


def _weeks(standings: list[Standing], today: date) -> tuple[Week, ...]:
    found: dict[int, list[Standing]] = defaultdict(list)
    for standing in standings:
        if standing.state in URGENT:
            found[0].append(standing)
        elif standing.due_on is not None and (standing.due_on - today).days < 7 * WEEKS_OF_PLANT:
            found[max((standing.due_on - today).days, 0) // 7].append(standing)
    return tuple(Week(today + timedelta(weeks=number), tuple(found[number])) for number in sorted(found))


def _bar(run: PlannedRun, at: datetime) -> PlanBar:
    first, last = ((when - at).total_seconds() / SECONDS_A_DAY for when in (run.starts_at, run.ends_at))
    words = f"{run.order_number} {wording.shots(run.shots)}, {wording.day(run.starts_at)} – {wording.day(run.ends_at)}"
    return PlanBar(first, last, words.strip())


def _marks(plant: Plant, at: datetime, weeks: int, every: int) -> tuple[tuple[float, str], ...]:
    today = at.astimezone(ZoneInfo(plant.time_zone)).date()
    monday = today + timedelta(days=-today.weekday() % 7)
    days = [monday + timedelta(weeks=number) for number in range(0, weeks, every)]
    return tuple((float((day - today).days), wording.day(day)[:-5]) for day in days)
