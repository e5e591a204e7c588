"""What a list of shot entries means in shots: of the tool, and of each insert that was fitted.

Nothing is read or written here: entries and fittings go in, shots and totals come out. The same function works out
one entry more (from where the count stood) and a whole history (from nothing), so the two cannot differ.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from shop.refusal import Refused, gettext_noop

Chain = tuple[object, ...]


@dataclass(frozen=True)
class Counted:
    """One entry in force: how it counts, and what ran."""

    entry_id: int
    at: datetime
    source: str
    basis: str
    counter: int | None = None
    shots: int | None = None
    offset: int = 0
    read_before: int | None = None
    press_id: int | None = None
    order: str = ""
    blocked: frozenset[int] = frozenset()
    sets: frozenset[str] = frozenset()
    resin_id: int | None = None

    @property
    def chain(self) -> Chain:
        """Return which counter this is a reading of: readings of one counter follow one another."""
        if self.source == "machine counter":
            return (self.source, self.press_id)
        if self.source == "job counter":
            return (self.source, self.order)
        return (self.source,)


@dataclass(frozen=True)
class Fitted:
    """An insert in a position of the tool, from one time to another."""

    insert_id: int
    position_id: int
    number: int
    in_set: str
    from_at: datetime
    to_at: datetime | None

    def ran_in(self, entry: Counted) -> bool:
        """Return whether this insert was there, in a set that ran, in a position that was not blocked."""
        there = self.from_at <= entry.at and (self.to_at is None or self.to_at > entry.at)
        # A position of no set runs whenever the tool runs.
        ran = not entry.sets or not self.in_set or self.in_set in entry.sets
        return there and ran and self.number not in entry.blocked


@dataclass
class Standing:
    """Where the count stands: the tool's total, each counter's last reading, each insert's total."""

    total: int = 0
    counters: dict[Chain, int] = field(default_factory=dict)
    inserts: dict[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class InsertMade:
    insert_id: int
    position_id: int
    shots: int
    total: int


@dataclass(frozen=True)
class Made:
    """What one entry stands for: shots, the tool's total after it, and the same for each insert that ran."""

    entry: Counted
    shots: int
    total: int
    inserts: tuple[InsertMade, ...]


def shots_of(entry: Counted, before: int | None) -> int:
    """Return the shots that an entry stands for, where its counter showed `before` at the reading before it.

    Raises
    ------
    Refused
        If that would be less than none: shots are never taken back.
    """
    if entry.basis == "count":
        return entry.shots or 0
    counter = entry.counter or 0
    if entry.basis == "counter":
        return _not_less_than_none(entry, counter - (counter if before is None else before), before)
    if entry.basis == "rolled over":
        # After its last number the counter shows 0, which is one shot more.
        last_number = entry.read_before or 0
        return _not_less_than_none(entry, (0 if before is None else last_number - before + 1 + counter), before)
    until_then = 0 if before is None or entry.read_before is None else entry.read_before - before
    _not_less_than_none(entry, until_then, before)
    return _not_less_than_none(entry, counter - entry.offset, entry.offset) + until_then


def work_out(entries: Iterable[Counted], fitted: Sequence[Fitted], standing: Standing | None = None) -> list[Made]:
    """Return what each of the entries stands for, in their order, counting on from `standing`.

    `standing` is moved on as the entries are counted.
    """
    now = standing if standing is not None else Standing()
    return [_count(entry, fitted, now) for entry in entries]


def _count(entry: Counted, fitted: Sequence[Fitted], now: Standing) -> Made:
    shots = shots_of(entry, now.counters.get(entry.chain))
    if entry.counter is not None:
        now.counters[entry.chain] = entry.counter
    now.total += shots
    made = []
    for place in fitted:
        if place.ran_in(entry):
            now.inserts[place.insert_id] = now.inserts.get(place.insert_id, 0) + shots
            made.append(InsertMade(place.insert_id, place.position_id, shots, now.inserts[place.insert_id]))
    return Made(entry, shots, now.total, tuple(made))


def _not_less_than_none(entry: Counted, shots: int, before: int | None) -> int:
    if shots < 0:
        raise Refused(
            "shots.less_than_none",
            gettext_noop("The reading of {counter} at {at} would then follow {before}: fewer shots than none."),
            next_step=gettext_noop("Correct that reading first: say whether a new job began or the counter was set."),
            field="counter",
            counter=entry.counter,
            at=entry.at,
            before=before,
        )
    return shots
