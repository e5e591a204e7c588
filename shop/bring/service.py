"""Bringing a file: all rows are looked at first, and all are taken or none, unless the good ones were asked for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from django.db import transaction

from shop import loop
from shop.bring import gauges as gauge_rows
from shop.bring import plan as plan_rows
from shop.bring import presses as press_rows
from shop.bring import readings, shots, take_tools, tools
from shop.bring.answer import Brought
from shop.bring.columns import FILES
from shop.bring.sheet import Row, read_sheet
from shop.people.models import Person, Plant
from shop.press.models import Press
from shop.press.services import many as many_shots
from shop.press.services import presses
from shop.quality.services import many as many_readings
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face
from shop.tooling.services import names

NAMED = {
    "shots": ("press", "resin"),
    "readings": ("resin",),
    "tools": ("usual resin",),
    "plan": ("press", "resin"),
}
ONE_BY_ONE = {"presses": press_rows.take, "gauges": gauge_rows.take}


def kind_of(file_name: str) -> str:
    """Return the kind of file its name says; raise Refused where it says none."""
    for kind in FILES:
        if file_name.lower().startswith(kind):
            return kind
    raise Refused(
        "bring.which_kind",
        gettext_noop("{name} does not say what it holds."),
        next_step=gettext_noop(
            "Name it presses.csv, gauges.csv, tools.csv, shots.csv, readings.csv or plan.csv, or say --kind."
        ),
        name=file_name,
    )


def bring(
    kind: str,
    content: bytes,
    *,
    plant: Plant,
    by: Person,
    at: datetime,
    good_rows: bool = False,
    new_names: bool = False,
    answers: Mapping[str, str | int] | None = None,
) -> Brought:
    """Take a file; raise Refused where it cannot be read at all.

    The faces that it tells news of are brought up to date once, at the end.
    """
    rows, bad = read_sheet(content, FILES[kind], ZoneInfo(plant.time_zone))
    brought = take_rows(
        kind,
        rows,
        plant=plant,
        by=by,
        at=at,
        good_rows=good_rows,
        new_names=new_names,
        answers=answers,
        refuse=bool(bad) and not good_rows,
        whole=not bad,
    )
    brought.bad = sorted([*bad, *brought.bad], key=lambda fault: (fault.line, fault.column))
    if brought.face_ids:
        loop.brought_up_to_date(brought.face_ids, at=at)
    return brought


def take_rows(
    kind: str,
    rows: Sequence[Row],
    *,
    plant: Plant,
    by: Person,
    at: datetime,
    good_rows: bool = False,
    new_names: bool = False,
    answers: Mapping[str, str | int] | None = None,
    refuse: bool = False,
    whole: bool = True,
) -> Brought:
    """Take rows that were read, `whole` where they are all that the file has; with `refuse` only look at them."""
    with transaction.atomic():
        if new_names:
            _add_names(kind, rows, plant, by, at)
        if kind == "plan":
            brought = plan_rows.take(rows, plant, by, at, whole=whole)
        elif kind in ONE_BY_ONE:
            brought = ONE_BY_ONE[kind](rows, plant, by, at)
        else:
            taking = {"tools": _tools, "shots": _shots, "readings": _readings}[kind]
            brought = taking(rows, plant, by, at, new_names, answers or {}, good_rows)
        if refuse or (brought.bad and not good_rows):
            transaction.set_rollback(True)
            brought.taken, brought.face_ids = 0, set()
    return brought


def _tools(
    rows: Sequence[Row], plant: Plant, by: Person, at: datetime, new_names: bool, _answers: object, _good: bool
) -> Brought:
    asked = tools.gather(rows, plant)
    tools.check(asked, plant, new_names=new_names)
    brought = Brought("tools", bad=asked.bad, known=asked.known)
    # A tool, insert or face is taken whole or not at all. What stands under a bad one waits with it.
    good = tools.without_bad(asked) if asked.bad else asked
    taking = take_tools.Taking(plant, by, at)
    brought.face_ids = taking.tools(good)
    brought.taken = taking.rows
    brought.bad = [*asked.bad, *taking.bad]
    return brought


def _shots(
    rows: Sequence[Row],
    plant: Plant,
    by: Person,
    at: datetime,
    _new: bool,
    answers: Mapping[str, str | int],
    _good: bool,
) -> Brought:
    found, bad, known = shots.check(rows, plant, answers)
    taken, faults = many_shots.log_many([draft for _row, draft in found], by=by, at=at)
    for index, refused in faults:
        bad.append(found[index][0].bad(shots.FIELD_COLUMNS.get(refused.field, refused.field), refused))
    tool_ids = {draft.tool.pk for _row, draft in found}
    touched = Face.objects.filter(insert__tool__in=tool_ids).values_list("pk", flat=True) if taken else ()
    return Brought("shots", taken, known, bad, set(touched))


def _readings(
    rows: Sequence[Row], plant: Plant, by: Person, at: datetime, _new: bool, _answers: object, good_rows: bool
) -> Brought:
    looked, bad, known = readings.check(rows, plant)
    if bad and not good_rows:
        return Brought("readings", 0, known, bad)
    made = many_readings.take_many(looked, by=by, at=at)
    return Brought("readings", len(made), known, bad, {reading.face_id for reading in made})


def _add_names(kind: str, rows: Sequence[Row], plant: Plant, by: Person, at: datetime) -> None:
    """Enter the presses and resins that are named for the first time."""
    for column in NAMED.get(kind, ()):
        named = {row[column] for row in rows if row[column]}
        if column == "press":
            for name in sorted(named - set(Press.objects.filter(plant=plant).values_list("name", flat=True))):
                presses.add_press(plant=plant, name=name, by=by, at=at)
        else:
            for name in sorted(named):
                names.resin_named(name, by=by, at=at)
