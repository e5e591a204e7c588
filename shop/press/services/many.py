"""Log many shot entries at once, as a file brings them: the same questions, with the ledger kept at hand.

A row that only follows the one before it is settled in memory and written in bulk. One that came late, or whose
counter was read between counts of another kind, or whose machine counter other tools moved too, goes the way of a
single entry.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.db import transaction

from shop.ledger.models import Receipt
from shop.people.models import Person
from shop.press import working_out
from shop.press.counting import Chain
from shop.press.models import Press, Run, ShotEntry
from shop.press.services import settling, shots
from shop.press.services.runs import check_press
from shop.refusal import Refused
from shop.tooling.models import Resin, Tool
from shop.tooling.services import tools
from shop.tooling.services.checks import not_in_future

BATCH = 1000


@dataclass(frozen=True)
class ShotDraft:
    """One entry as a file tells it; `ref` and `content` know it again."""

    tool: Tool
    at: datetime
    source: str
    ref: UUID
    content: str
    counter: int | None = None
    count: int | None = None
    press: Press | None = None
    blocked: Sequence[int] = ()
    sets: Sequence[str] = ()
    resin: Resin | None = None
    colour: str = ""
    lot: str = ""
    answers: Mapping[str, str | int] = field(default_factory=dict)


@transaction.atomic
def log_many(drafts: Sequence[ShotDraft], *, by: Person, at: datetime) -> tuple[int, list[tuple[int, Refused]]]:
    """Take the entries that can be taken; return how many they were, and why the others were not.

    The caller who wants all or none rolls back.
    """
    by_tool: dict[int, list[tuple[int, ShotDraft]]] = defaultdict(list)
    for index, draft in enumerate(drafts):
        by_tool[draft.tool.pk].append((index, draft))
    shared = _shared_presses(drafts)
    taken, faults = 0, []
    for of_tool in by_tool.values():
        book = ToolBook(of_tool[0][1].tool, by, at, shared)
        for index, draft in sorted(of_tool, key=lambda one: (one[1].at, one[0])):
            try:
                book.take(draft)
                taken += 1
            except Refused as refused:
                faults.append((index, refused))
        book.flush()
    return taken, faults


def _shared_presses(drafts: Iterable[ShotDraft]) -> set[int]:
    """Return the presses that the drafts or the ledger know with more than one tool."""
    tools_of: dict[int, set[int]] = defaultdict(set)
    for draft in drafts:
        if draft.press is not None:
            tools_of[draft.press.pk].add(draft.tool.pk)
    for rows in (ShotEntry.objects, Run.objects):
        for press_id, tool_id in rows.filter(press__in=tools_of).values_list("press_id", "tool_id").distinct():
            tools_of[press_id].add(tool_id)
    return {press_id for press_id, known in tools_of.items() if len(known) > 1}


class ToolBook:
    """The shot ledger of one tool while rows are added to its end."""

    def __init__(self, tool: Tool, by: Person, at: datetime, shared_presses: set[int]) -> None:
        """Hold the tool, and remember where each of its counters stands."""
        self.tool = Tool.objects.select_for_update().get(pk=tool.pk)
        self.by, self.at, self.shared = by, at, shared_presses
        self.waiting: list[tuple[ShotEntry, ShotDraft]] = []
        runs = Run.objects.filter(tool=tool).order_by("began_at")
        self.first_run_at = runs.values_list("began_at", flat=True).first()
        plant_presses = Press.objects.filter(plant=tool.plant_id).order_by("-most_shots_per_hour")
        self.fastest = plant_presses.first()
        self._stand()

    def _stand(self) -> None:
        """Read where the ledger stands."""
        self.chains: dict[Chain, ShotEntry] = {}
        self.last: ShotEntry | None = None
        for entry in ShotEntry.objects.of_tool(self.tool).select_related("run", "press"):
            self._follow(entry)

    def _follow(self, entry: ShotEntry) -> None:
        self.last = entry
        if entry.counter is not None:
            self.chains[working_out.as_counted(entry).chain] = entry

    def take(self, draft: ShotDraft) -> None:
        """Take one entry, at the end of the ledger or wherever it belongs; raise Refused where it cannot be taken."""
        if self.tool.status == Tool.Status.DISPOSED:
            raise tools.disposed(self.tool)
        not_in_future(draft.at, code="shots.in_future")
        shots.check_one_way(draft.counter, draft.count)
        if draft.press is not None:
            check_press(self.tool, draft.press)
        if self.last is not None and draft.at < self.last.at:
            self._take_alone(draft)
            return
        entry = self._entry(draft)
        before = self.chains.get(working_out.as_counted(entry).chain) if draft.counter is not None else None
        mixed = before is not None and before is not self.last
        if mixed or (entry.source == ShotEntry.Source.MACHINE and entry.press_id in self.shared):
            self._take_alone(draft)
            return
        self._settle(entry, before, draft)
        self.waiting.append((entry, draft))
        self._follow(entry)

    def _entry(self, draft: ShotDraft) -> ShotEntry:
        """Return the entry, described from its run and not settled yet."""
        run = None
        if self.first_run_at is None or draft.at < self.first_run_at:
            if draft.answers.get(shots.NOT_IN_PRESS) != "yes_it_ran":
                raise shots.not_in_press(self.tool, draft.at, draft.press, None)
        else:
            run = shots.run_at(self.tool, draft.at, draft.press, draft.answers)
        entry = ShotEntry(
            tool=self.tool,
            run=run,
            press=draft.press,
            source=draft.source,
            counter=draft.counter,
            shots=draft.count,
            answers=dict(draft.answers),
            by=self.by,
            at=draft.at,
        )
        shots.describe(
            entry, blocked=draft.blocked, sets=draft.sets, resin=draft.resin, colour=draft.colour, lot=draft.lot
        )
        shots.check_press_of_counter(entry)
        return entry

    def _settle(self, entry: ShotEntry, before: ShotEntry | None, draft: ShotDraft) -> None:
        """Say how the entry counts, as `settle` does for one whose neighbours must be looked up."""
        if entry.counter is None:
            entry.basis = ShotEntry.Basis.COUNT
        else:
            settling.settle_basis(entry, before, self.last is not None, draft.answers)
            settling.check_numbers(entry, before)
        nowhere = entry.press is None
        if nowhere:
            # The plant's fastest press bounds the rate where none is named; it is not looked up for every row.
            entry.press = self.fastest
        settling.check_rate(entry, before, self.last, draft.answers)
        if nowhere:
            entry.press = None

    def _take_alone(self, draft: ShotDraft) -> None:
        self.flush()
        entry = shots.log(
            tool=self.tool,
            by=self.by,
            at=draft.at,
            source=draft.source,
            counter=draft.counter,
            count=draft.count,
            press=draft.press,
            blocked=draft.blocked,
            sets=draft.sets,
            resin=draft.resin,
            colour=draft.colour,
            lot=draft.lot,
            answers=draft.answers,
        )
        self._receipts([(entry, draft)])
        self._stand()

    def flush(self) -> None:
        """Write what waits, and work it out."""
        if not self.waiting:
            return
        ShotEntry.objects.bulk_create([entry for entry, _draft in self.waiting], batch_size=BATCH)
        self._receipts(self.waiting)
        working_out.rebuild(self.tool, since=self.waiting[0][0].at)
        self.waiting = []

    def _receipts(self, taken: Sequence[tuple[ShotEntry, ShotDraft]]) -> None:
        Receipt.objects.bulk_create(
            [
                Receipt(
                    ref=draft.ref,
                    kind="bring shots",
                    content_sha256=draft.content,
                    made_id=entry.pk,
                    by_id=self.by.pk,
                    at=self.at,
                )
                for entry, draft in taken
            ],
            batch_size=BATCH,
        )
