"""Writing the rows that are worked out: there are more of them than of anything else in the plant."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import connection

from shop.press.counting import Made
from shop.press.models import InsertShots, WorkedShots
from shop.tooling.models import Tool

Values = tuple[int | str | datetime | None, ...]
WORKED = ("entry_id", "tool_id", "at", "shots", "total")
OF_INSERTS = ("entry_id", "insert_id", "position_id", "at", "shots", "total", "resin_id")


def write_worked_out(tool: Tool, made: Iterable[Made]) -> None:
    """Write what was worked out of the tool's entries.

    A year's file makes hundreds of thousands of these rows, all numbers that were just computed: they go to the
    database as tuples, since making an object of each takes four times as long as writing it.
    """
    worked: list[Values] = []
    of_inserts: list[Values] = []
    for one in made:
        entry_id, at = one.entry.entry_id, connection.ops.adapt_datetimefield_value(one.entry.at)
        worked.append((entry_id, tool.pk, at, one.shots, one.total))
        of_inserts += [
            (entry_id, part.insert_id, part.position_id, at, part.shots, part.total, one.entry.resin_id)
            for part in one.inserts
        ]
    _insert(WorkedShots, WORKED, worked)
    _insert(InsertShots, OF_INSERTS, of_inserts)


def _insert(model: type[WorkedShots] | type[InsertShots], columns: tuple[str, ...], rows: list[Values]) -> None:
    if not rows:
        return
    quote = connection.ops.quote_name
    table, named = quote(model._meta.db_table), ", ".join(quote(column) for column in columns)
    places = ", ".join(["%s"] * len(columns))
    with connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO {table} ({named}) VALUES ({places})", rows)  # noqa: S608 (our own names)
