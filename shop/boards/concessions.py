"""Concessions with their clock: which run, which end within thirty days, which are over, and how much is left."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.press.rates import shots_per_day
from shop.quality.asked import day_in, holds, insert_totals
from shop.refusal import gettext_noop
from shop.tooling.models import Concession

SOON_DAYS = 30


class Running(StrEnum):
    """Where a concession stands on its clock."""

    SOON = "ends soon"
    RUNS = "running"
    ENDED = "ended"
    WITHDRAWN = "withdrawn"

    @property
    def words(self) -> str:
        """Return its words, marked for the catalogues."""
        return WORDS[self]

    @property
    def mark(self) -> str:
        """Return the state whose mark it is shown with."""
        return MARKS[self]


WORDS = {
    Running.SOON: gettext_noop("ends soon"),
    Running.RUNS: gettext_noop("running"),
    Running.ENDED: gettext_noop("ended"),
    Running.WITHDRAWN: gettext_noop("withdrawn"),
}
MARKS = {
    Running.SOON: "check due",
    Running.RUNS: "in date",
    Running.ENDED: "expired",
    Running.WITHDRAWN: "withdrawn",
}


@dataclass(frozen=True)
class ConcessionRow:
    """One concession: where it stands, and what is left by each of its ends; None where it has no such end."""

    concession: Concession
    state: Running
    days_left: int | None
    shots_left: int | None
    quantity_left: int | None
    likely_ends_on: date | None
    why_withdrawn: str


def concession_list(plant: Plant, at: datetime) -> list[ConcessionRow]:
    """Return the plant's concessions, those that end soonest first, in a fixed number of queries."""
    rows = list(
        Concession.objects.filter(face__insert__tool__plant=plant, at__lte=at)
        .select_related("face__insert__tool__plant", "by")
        .annotate(total_when_granted=InsertShots.objects.total_before("face__insert", "at"))
        .order_by("at", "id")
    )
    gone = {row.supersedes_id: row for row in rows if row.supersedes_id}
    shown = [row for row in rows if not row.void and not (row.pk in gone and not gone[row.pk].void)]
    inserts = {row.face.insert_id for row in shown}
    totals = insert_totals(inserts, at)
    rates = shots_per_day(at=at, insert_ids=inserts)
    found = [_row(row, gone.get(row.pk), totals, rates, at) for row in shown]
    order = list(Running)
    return sorted(found, key=lambda one: (order.index(one.state), one.likely_ends_on or date.max, -one.concession.pk))


def counts(rows: Iterable[ConcessionRow]) -> dict[str, int]:
    """Return how many concessions stand where."""
    found = dict.fromkeys((str(state) for state in Running), 0)
    for row in rows:
        found[row.state] += 1
    return found


def _row(
    row: Any, over: Concession | None, totals: dict[int, int], rates: dict[int, float], at: datetime
) -> ConcessionRow:
    insert = row.face.insert_id
    total, today = totals.get(insert, 0), day_in(row.face.insert.tool.plant, at)
    made = total - (row.total_when_granted or 0)
    days = None if row.until_on is None else (row.until_on - today).days
    shots = None if row.until_insert_shots is None else row.until_insert_shots - total
    quantity = None if row.until_quantity is None else row.until_quantity - made
    likely = _likely_end(
        row.until_on, [one for one in (shots, quantity) if one is not None], rates.get(insert, 0.0), today
    )
    runs = holds(row, today, total, made)
    if over is not None:
        state = Running.WITHDRAWN
    elif not runs:
        state = Running.ENDED
    else:
        state = Running.SOON if likely is not None and likely <= today + timedelta(days=SOON_DAYS) else Running.RUNS
    return ConcessionRow(
        row, state, _left(days), _left(shots), _left(quantity), likely, over.why if over is not None else ""
    )


def _left(count: int | None) -> int | None:
    return None if count is None else max(0, count)


def _likely_end(until_on: date | None, shots: list[int], per_day: float, today: date) -> date | None:
    """Return the day by which the first of its ends is reached, at the rate of the last weeks."""
    ends = [until_on] if until_on else []
    if shots and per_day > 0:
        days = max(0, min(shots)) / per_day
        if days < (date.max - today).days:
            ends.append(today + timedelta(days=int(days)))
    return min(ends, default=None)
