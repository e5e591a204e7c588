"""plan.csv: the runs that the plant's planning has ahead, one row a run; the file is the whole plan."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime
from typing import Any

from django.db import transaction

from shop.bring.answer import Brought
from shop.bring.sheet import Row, bad_row
from shop.people.models import Person, Plant
from shop.press.models import PlannedRun, Press, Run
from shop.press.services import planned
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Resin, Tool

UNKNOWN = gettext_noop("{value} is not known here")
GONE = "It is not in the plan any more."
COLUMN_OF = {"starts_at": "starts", "ends_at": "ends", "shots": "shots", "press": "press", "sets": "sets"}


def take(rows: Sequence[Row], plant: Plant, by: Person, at: datetime, *, whole: bool = True) -> Brought:
    """Take the plan: rows that are there stay or are changed, new ones are planned.

    What an earlier file planned ahead and this one does not is cancelled, where the file is `whole` and every row names
    what is known here.
    """
    taking = _Taking(plant, by, at)
    asked = [(row, told) for row in rows if (told := taking.told(row)) is not None]
    # Runs that are over belong to it too: the plan that is sent again still has them, and they are known.
    standing = PlannedRun.objects.in_plant(plant).standing().select_related("tool", "press", "resin")
    there = {(one.tool_id, one.order_number, one.starts_at): one for one in standing}
    # A row that could not be read may be the very run that seems to be gone: then nothing is taken for gone.
    if whole and not taking.brought.bad:
        ahead = [one for one in there.values() if one.ends_at > at]
        for one in _gone(ahead, [told for _row, told in asked], at):
            planned.cancel_run(run=one, by=by, at=at, why=GONE)
            taking.tools.add(one.tool_id)
    for row, told in asked:
        taking.row(row, told, there.get((told["tool"].pk, told["order_number"], told["starts_at"])))
    touched = Face.objects.filter(insert__tool__in=taking.tools).values_list("pk", flat=True)
    taking.brought.face_ids = set(touched) if taking.tools else set()
    return taking.brought


def _gone(ahead: Sequence[PlannedRun], asked: Sequence[dict[str, Any]], at: datetime) -> Iterator[PlannedRun]:
    """Yield what an earlier file planned and this one does not.

    What should run by now stays, since a plan may tell of later runs alone; unless this one moves it: its order
    stands here over the same days, or stands here and was never begun.
    """
    of_order: dict[tuple[int, str], list[dict[str, Any]]] = defaultdict(list)
    for told in asked:
        of_order[told["tool"].pk, told["order_number"]].append(told)
    begun = set(Run.objects.filter(tool__in={one.tool_id for one in ahead}).values_list("tool_id", "order_number"))
    for one in ahead:
        key = (one.tool_id, one.order_number)
        now = of_order[key]
        if one.source != PlannedRun.Source.FILE or any(told["starts_at"] == one.starts_at for told in now):
            continue
        over = any(told["starts_at"] < one.ends_at and told["ends_at"] > one.starts_at for told in now)
        moved = over or bool(now and one.order_number and key not in begun)
        if one.starts_at > at or moved:
            yield one


class _Taking:
    """One taking of a plan."""

    def __init__(self, plant: Plant, by: Person, at: datetime) -> None:
        self.by, self.at = by, at
        self.brought = Brought("plan")
        self.tools: set[int] = set()
        self._by_name: dict[str, dict[str, Any]] = {
            "tool": {one.number: one for one in Tool.objects.in_plant(plant).select_related("plant")},
            "press": {one.name: one for one in Press.objects.filter(plant=plant)},
            "resin": {one.name: one for one in Resin.objects.all()},
        }

    def told(self, row: Row) -> dict[str, Any] | None:
        """Return what a row says, or note what it names that is not known."""
        found: dict[str, Any] = {}
        for column, known in self._by_name.items():
            if row[column] and row[column] not in known:
                self.brought.bad.append(bad_row(row, column, "bring.plan_unknown", UNKNOWN, value=row[column]))
                return None
            found[column] = known[row[column]] if row[column] else None
        return {
            **found,
            "order_number": row["order"] or "",
            "shots": row["shots"],
            "starts_at": row["starts"],
            "ends_at": row["ends"],
            "colour": row["colour"] or "",
            "sets": sorted(set(row["sets"] or ())),
        }

    def row(self, row: Row, told: dict[str, Any], there: PlannedRun | None) -> None:
        """Plan the row, change what is there, or find that it is known."""
        if there is not None and all(getattr(there, name) == value for name, value in told.items()):
            self.brought.known += 1
        elif there is not None:
            changed = {name: value for name, value in told.items() if name != "tool"}
            self._try(row, told, lambda: planned.change_run(run=there, by=self.by, at=self.at, **changed))
        else:
            self._try(
                row, told, lambda: planned.plan_run(by=self.by, at=self.at, source=PlannedRun.Source.FILE, **told)
            )

    def _try(self, row: Row, told: dict[str, Any], make: Callable[[], object]) -> None:
        try:
            with transaction.atomic():
                make()
        except Refused as refused:
            self.brought.bad.append(row.bad(COLUMN_OF.get(refused.field, "tool"), refused))
            return
        self.brought.taken += 1
        self.tools.add(told["tool"].pk)
