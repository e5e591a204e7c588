"""When an order would be done, and when the first face of the tool is due: the dates beside fit to run."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from shop.tooling.models import Tool
from shop.watch.calendar import calendars_of
from shop.watch.models import Standing


@dataclass(frozen=True)
class Ahead:
    """The day the order is done at the recent rate, the first face's 10 % day, and the gap in the press before it."""

    done_on: date | None
    due_on: date | None
    window: tuple[date, date] | None


def ahead(tool: Tool, standings: Iterable[Standing | None], order_shots: int | None, at: datetime) -> Ahead:
    """Return the dates of an order and of the faces that would run it."""
    calendar = calendars_of([tool], at)[tool.pk]
    rate = calendar.coming.pace.per_day
    known = [one for one in standings if one is not None and one.due_on is not None]
    first = min(known, key=lambda one: one.due_on or date.max, default=None)
    window = (first.window_from, first.window_to) if first and first.window_from and first.window_to else None
    done = calendar.today + timedelta(days=round(order_shots / rate)) if order_shots and rate > 0 else None
    return Ahead(done, first.due_on if first else None, window)
