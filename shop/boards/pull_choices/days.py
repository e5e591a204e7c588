"""The days on which a tool may be pulled, as its calendar sees them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from shop.boards.pull_choices.facts import ToolFacts
from shop.craft.visits import WindowAhead
from shop.tooling.models import Tool
from shop.watch.calendar import ToolCalendar

LEAST_DAYS, MOST_DAYS = 84, 364
FOUR_WEEKS = 28
MOST_GAPS = 4
NEAR_DAYS = 3  # the cheapest day is not named beside a window that is as near as this
FREE_DAYS = 7  # a tool that lies in the rack with nothing planned is free so long
NOW, GAP, BEST, TEN, LATER, ORDER = "now", "gap", "best", "ten", "later", "order"


@dataclass(frozen=True)
class Days:
    """Days from today to the horizon, with the shots made until each, every count as likely, and the gaps."""

    today: date
    shots: tuple[tuple[float, ...], ...]
    gaps: tuple[tuple[int, int], ...]

    @property
    def horizon(self) -> int:
        """Return the last day, counted from today."""
        return len(self.shots) - 1

    def window(self, name: str, day: int) -> WindowAhead:
        """Return a day as a window: how long the press does not want the tool from then on."""
        gap = max((last - day + 1 for first, last in self.gaps if first <= day <= last), default=0)
        return WindowAhead(name, day, self.shots[day], gap)

    def middle(self, day: int) -> float:
        """Return the shots made until a day, as many as not."""
        counts = self.shots[day]
        return counts[len(counts) // 2]

    def date(self, day: int) -> date:
        """Return the date of a day."""
        return self.today + timedelta(days=day)


def days_of(tool: ToolFacts, calendar: ToolCalendar) -> Days:
    """Return the days ahead of a tool, to a month beyond the first 10 % date where that is far."""
    ten = _ten_per_cent(tool)
    horizon = min(max(LEAST_DAYS, (ten or 0) + FOUR_WEEKS), MOST_DAYS)
    made = [calendar.coming.shots_by(float(day)) for day in range(horizon + 1)]
    shots = tuple(tuple(float(count) for count in counts) for counts in made)
    return Days(tool.day, shots, tuple(_gaps(tool, calendar, horizon)))


def _gaps(tool: ToolFacts, calendar: ToolCalendar, horizon: int) -> Iterator[tuple[int, int]]:
    """Yield the gaps in the press by their days; a tool that is in no press is free for some days anyhow."""
    found = [
        (max((gap.first - tool.day).days, 0), (gap.last - tool.day).days)
        for gap in calendar.windows(tool.day + timedelta(days=horizon))
        if gap.last >= tool.day
    ]
    if tool.run is None and tool.tool.place != Tool.Place.IN_PRESS and all(first > 0 for first, _last in found):
        yield 0, min([FREE_DAYS, *(first for first, _last in found)]) - 1
    yield from found


def windows_of(tool: ToolFacts, days: Days, *, cheapest: int) -> list[WindowAhead]:
    """Return the windows to weigh: now, gaps of the press, the end of the order, the cheapest day, 10 %, four weeks on.

    A day stands once, under the first of its names.
    """
    named: dict[int, str] = {0: NOW}
    for first, _last in days.gaps[:MOST_GAPS]:
        named.setdefault(first, GAP)
    if (after := _after_the_order(tool, days)) is not None:
        named.setdefault(after, ORDER)
    if all(abs(day - cheapest) > NEAR_DAYS for day in named):
        named[cheapest] = BEST
    if (ten := _ten_per_cent(tool)) is not None and ten <= days.horizon:
        named.setdefault(ten, TEN)
    named.setdefault(FOUR_WEEKS, LATER)
    return [days.window(name, day) for day, name in sorted(named.items())]


def _ten_per_cent(tool: ToolFacts) -> int | None:
    """Return the day on which the first face has a chance of 10 %, not before today; None where none is known."""
    due = [one.standing.due_on for one in tool.faces if one.standing and one.standing.due_on]
    return max((min(due) - tool.day).days, 0) if due else None


def _after_the_order(tool: ToolFacts, days: Days) -> int | None:
    """Return the first day by which the running order is likely made."""
    if not tool.order_left:
        return None
    return next((day for day in range(days.horizon + 1) if days.middle(day) >= tool.order_left), None)
