"""Working out the ledger: shots and totals per tool, position and insert, written beside the raw entries.

The ledger holds what was counted; these rows hold what it means and can be made again from it at any time.
"""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import OuterRef, Subquery

from shop.press.counting import Counted, Fitted, Made, Standing, work_out
from shop.press.models import InsertShots, ShotEntry, WorkedShots
from shop.press.rows import write_worked_out
from shop.tooling.models import Fitting, Insert, Tool


@transaction.atomic
def append(entry: ShotEntry) -> Made:
    """Count one entry on from where the tool's count stands; one that came late is given its place."""
    if ShotEntry.objects.of_tool(entry.tool).after(entry).exists():
        return rebuild(entry.tool, since=entry.at)[entry.pk]
    counted = as_counted(entry)
    fitted = [_as_fitted(row) for row in Fitting.objects.at_time(entry.at).filter(position__tool=entry.tool).placed()]
    last = WorkedShots.objects.filter(tool=entry.tool).order_by("-at", "-entry_id").values_list("total", flat=True)
    standing = Standing(total=last.first() or 0, inserts=_insert_totals([place.insert_id for place in fitted]))
    before = ShotEntry.objects.of_tool(entry.tool).before(entry).in_chain(entry).last()
    if before is not None and before.counter is not None:
        standing.counters[counted.chain] = before.counter
    made = work_out([counted], fitted, standing)
    write_worked_out(entry.tool, made)
    return made[0]


@transaction.atomic
def rebuild(tool: Tool, *, since: datetime | None = None) -> dict[int, Made]:
    """Work the tool's ledger out again; with `since`, write again only what happened from then on.

    What happened before does not depend on what came after, so it may stay.
    """
    Tool.objects.select_for_update().get(pk=tool.pk)
    entries = [as_counted(entry) for entry in ShotEntry.objects.of_tool(tool).select_related("run")]
    fitted = [_as_fitted(row) for row in Fitting.objects.filter(position__tool=tool).placed()]
    made = work_out(entries, fitted)
    worked, of_inserts = WorkedShots.objects.filter(tool=tool), InsertShots.objects.filter(entry__tool=tool)
    if since is not None:
        worked, of_inserts = worked.filter(at__gte=since), of_inserts.filter(at__gte=since)
        made = [one for one in made if one.entry.at >= since]
    of_inserts.delete()
    worked.delete()
    write_worked_out(tool, made)
    return {one.entry.entry_id: one for one in made}


@transaction.atomic
def rebuild_if_counted(tool: Tool, *, since: datetime) -> bool:
    """Work out again what was counted from `since` on, if anything was; for inserts that are moved in hindsight."""
    if not WorkedShots.objects.filter(tool=tool, at__gte=since).exists():
        return False
    rebuild(tool, since=since)
    return True


def as_counted(entry: ShotEntry) -> Counted:
    """Return the entry as the counting takes it."""
    return Counted(
        entry_id=entry.pk or 0,
        at=entry.at,
        source=entry.source,
        basis=entry.basis,
        counter=entry.counter,
        shots=entry.shots,
        offset=entry.offset,
        read_before=entry.read_before,
        press_id=entry.press_id,
        order=order_of(entry),
        blocked=frozenset(entry.blocked),
        sets=frozenset(entry.sets),
        resin_id=entry.resin_id,
    )


def order_of(entry: ShotEntry) -> str:
    """Return the order that a job counter counts for; a run without an order's number is an order of its own."""
    if entry.run is None:
        return ""
    return entry.run.order_number or f"run {entry.run.pk}"


def _as_fitted(row: Fitting) -> Fitted:
    position = row.position
    return Fitted(row.insert_id, position.pk, position.number, position.in_set, row.from_at, row.to_at)


def _insert_totals(insert_ids: list[int]) -> dict[int, int]:
    latest = InsertShots.objects.filter(insert=OuterRef("pk")).order_by("-at", "-entry_id").values("total")[:1]
    rows = Insert.objects.filter(pk__in=insert_ids).annotate(made=Subquery(latest)).values_list("pk", "made")
    return {insert_id: made or 0 for insert_id, made in rows}
