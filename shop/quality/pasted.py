"""A study's table as it comes out of a spreadsheet: read, or every fault named by line, column and value."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from shop import units
from shop.refusal import Refused, Saying, gettext_noop

# The heads of a long table, in the languages that spreadsheets here are written in.
PART = {"part", "parts", "piece", "sample", "teil", "stück", "stueck", "muster", "pieza", "muestra"}
PERSON = {"person", "people", "operator", "appraiser", "who", "prüfer", "pruefer", "persona", "operador", "evaluador"}
TRIAL = {"trial", "trials", "repeat", "run", "versuch", "wiederholung", "ensayo", "repetición", "repeticion"}
VALUE = {"value", "values", "reading", "judgement", "verdict", "wert", "urteil", "valor", "juicio"}
MASTER = {"master", "reference", "referenz", "meister", "referencia", "maestro", "patrón"}
LONGEST = 200_000

_PARTED = re.compile(r"(?P<person>.*\S)[\s/._#-]+(?P<trial>\d+)")
_GLUED = re.compile(r"(?P<person>.*\D)(?P<trial>\d+)")


@dataclass(frozen=True)
class PastedFault:
    """What is wrong in one place: the line of the text, the column by its head, what stands there, and why not."""

    line: int
    column: str
    value: str
    reason: Saying


@dataclass(frozen=True)
class Pasted:
    """The table as it was pasted, `values[part][person][trial]`; with faults it is not whole."""

    parts: tuple[str, ...] = ()
    people: tuple[str, ...] = ()
    values: tuple[tuple[tuple[str, ...], ...], ...] = ()
    master: tuple[str, ...] | None = None
    faults: tuple[PastedFault, ...] = ()


@dataclass(frozen=True)
class _Cell:
    part: str
    person: str
    trial: str
    text: str
    line: int
    column: str


@dataclass
class _Sheet:
    """The rows of the text with their line numbers, and the faults found so far."""

    rows: list[tuple[int, list[str]]]
    faults: list[PastedFault] = field(default_factory=list)

    def fault(self, line: int, column: str, value: str, code: str, template: str, **values: object) -> None:
        self.faults.append(PastedFault(line, column, value, Saying(code, template, values)))


def number(text: str) -> str:
    """Read a value as the gauge showed it. Raises Refused where it is no number."""
    return format(units.parse_decimal(text), "f")


def among(categories: Sequence[str]) -> Callable[[str], str]:
    """Return a reader of judgements, which takes one of the categories whatever its case."""
    known = {name.casefold(): name for name in categories}

    def read(text: str) -> str:
        try:
            return known[text.casefold()]
        except KeyError:
            raise Refused(
                "paste.no_category", gettext_noop("is not one of: {known}"), known=", ".join(categories)
            ) from None

    return read


def read_pasted(text: str, read: Callable[[str], str] = number) -> Pasted:
    """Return the table in the text, parted by tabs, semicolons or commas.

    Three shapes are known: one row a value (part, person, trial, value); parts down and people with their trials
    across, in one head row ("Anna 1") or two; people and trials down and parts across.
    """
    sheet = _sheet(text)
    if sheet.faults:
        return Pasted(faults=tuple(sheet.faults))
    cells = [cell for cell in _cells(sheet) if cell.text or _empty(sheet, cell)]
    return _assembled(sheet, cells, read)


def _sheet(text: str) -> _Sheet:
    sheet = _Sheet([])
    if len(text) > LONGEST:
        sheet.fault(0, "", "", "paste.too_long", gettext_noop("the text has {found} characters, more than {limit}"),
                    found=len(text), limit=LONGEST)  # fmt: skip
        return sheet
    text = text.replace("\x00", "")
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith("#")]
    parted_by = next((mark for mark in "\t;," if lines and mark in lines[0]), "\t")
    reader = csv.reader(io.StringIO(text), delimiter=parted_by)
    try:
        for row in reader:
            cells = [cell.strip() for cell in row]
            if any(cells) and not cells[0].startswith("#"):
                sheet.rows.append((reader.line_num, cells))
    except csv.Error as fault:
        sheet.fault(reader.line_num, "", "", "paste.not_a_table", gettext_noop("cannot be read: {fault}"),
                    fault=str(fault))  # fmt: skip
    if (len(sheet.rows) < 2 or len(sheet.rows[0][1]) < 2) and not sheet.faults:
        sheet.fault(1, "", text.strip()[:40], "paste.no_table",
                    gettext_noop("is no table: a head row and rows of values are wanted"))  # fmt: skip
    return sheet


def _cells(sheet: _Sheet) -> Iterator[_Cell]:
    line, head = sheet.rows[0]
    at = {kind: next((n for n, cell in enumerate(head) if cell.casefold() in names), None)
          for kind, names in (("part", PART), ("person", PERSON), ("trial", TRIAL), ("value", VALUE))}  # fmt: skip
    if at["value"] is not None and (at["part"] is None or at["person"] is None):
        sheet.fault(line, "", "; ".join(head), "paste.head_incomplete",
                    gettext_noop("names a value, and lacks a column for the part or the person"))  # fmt: skip
        return iter(())
    if at["part"] is not None and at["person"] is not None and at["value"] is not None:
        return _long(sheet, head, at["part"], at["person"], at["value"], at["trial"])
    if at["person"] is not None and at["part"] is None:
        return _parts_across(sheet, head, at["person"], at["trial"])
    return _people_across(sheet, head)


def _row_cells(sheet: _Sheet, line: int, row: list[str], head: Sequence[str]) -> list[str]:
    """Return the row as wide as the head; more than that is a fault."""
    for extra in row[len(head) :]:
        if extra:
            sheet.fault(line, "", extra, "paste.too_many", gettext_noop("stands in a column that has no head"))
    return (row + [""] * len(head))[: len(head)]


def _long(sheet: _Sheet, head: Sequence[str], part: int, person: int, value: int, trial: int | None) -> Iterator[_Cell]:
    seen: dict[tuple[str, str], int] = {}
    for line, typed in sheet.rows[1:]:
        row = _row_cells(sheet, line, typed, head)
        for place in (part, person):
            if not row[place]:
                sheet.fault(line, head[place], "", "paste.empty", gettext_noop("is empty"))
        seen[row[part], row[person]] = count = seen.get((row[part], row[person]), 0) + 1
        which = row[trial] if trial is not None else str(count)
        yield _Cell(row[part], row[person], which, row[value], line, head[value])


def _parts_across(sheet: _Sheet, head: Sequence[str], person: int, trial: int | None) -> Iterator[_Cell]:
    seen: dict[str, int] = {}
    who = ""
    for line, typed in sheet.rows[1:]:
        row = _row_cells(sheet, line, typed, head)
        # A spreadsheet writes a name once over the rows that it has merged.
        who = row[person] or who
        seen[who] = seen.get(who, 0) + 1
        which = row[trial] if trial is not None and row[trial] else str(seen[who])
        for place, part in enumerate(head):
            if place not in (person, trial) and (part or row[place]):
                yield _Cell(part or f"({place + 1})", who, which, row[place], line, part)


def _people_across(sheet: _Sheet, head: Sequence[str]) -> Iterator[_Cell]:
    columns, first = _columns(sheet, head)
    for line, typed in sheet.rows[first:]:
        row = _row_cells(sheet, line, typed, head)
        if not row[0]:
            sheet.fault(line, head[0] or "1", "", "paste.empty", gettext_noop("is empty"))
        for (person, trial), text in zip(columns, row[1:], strict=False):
            once = [name for name, _trial in columns].count(person) == 1
            yield _Cell(row[0], person, trial, text, line, person if once else f"{person} {trial}")


def _columns(sheet: _Sheet, head: Sequence[str]) -> tuple[list[tuple[str, str]], int]:
    """Return person and trial of each column after the first, and where the values begin."""
    people, who = [], ""
    for name in head[1:]:
        who = name or who
        people.append(who)
    below = sheet.rows[1][1]
    numbered = [cell for cell in below[1:] if cell]
    if (not below[0] or below[0].casefold() in PART | TRIAL) and numbered and all(c.isdecimal() for c in numbered):
        below += [""] * (len(head) - len(below))
        return list(zip(people, [trial or "1" for trial in below[1:]], strict=False)), 2
    judging = [name for name in people if name.casefold() not in MASTER]
    if len(set(judging)) == len(judging):
        for pattern in (_PARTED, _GLUED):
            found = {name: pattern.fullmatch(name) for name in judging}
            stems = {match["person"].strip() for match in found.values() if match}
            if all(found.values()) and (pattern is _PARTED or 1 < len(stems) < len(judging)):
                parted = {name: (m["person"].strip(), m["trial"]) for name, m in found.items() if m}
                return [parted.get(name, (name, "1")) for name in people], 1
    seen: dict[str, int] = {}
    columns = []
    for name in people:
        seen[name] = seen.get(name, 0) + 1
        columns.append((name, str(seen[name])))
    return columns, 1


def _empty(sheet: _Sheet, cell: _Cell) -> bool:
    sheet.fault(cell.line, cell.column, "", "paste.empty", gettext_noop("is empty"))
    return False


def _assembled(sheet: _Sheet, cells: Sequence[_Cell], read: Callable[[str], str]) -> Pasted:
    taken: dict[tuple[str, str, str], _Cell] = {}
    values: dict[tuple[str, str, str], str] = {}
    for cell in cells:
        key = (cell.part, cell.person, cell.trial)
        if key in taken:
            sheet.fault(
                cell.line, cell.column, cell.text, "paste.twice",
                gettext_noop("stands for part {part}, {person}, trial {trial}, which line {first} gave already"),
                part=cell.part, person=cell.person, trial=cell.trial, first=taken[key].line,
            )  # fmt: skip
            continue
        taken[key] = cell
        try:
            values[key] = read(cell.text)
        except Refused as refused:
            sheet.faults.append(PastedFault(cell.line, cell.column, cell.text, refused.saying))
    parts = tuple(dict.fromkeys(part for part, _person, _trial in taken))
    persons = tuple(dict.fromkeys(person for _part, person, _trial in taken))
    people = tuple(person for person in persons if person.casefold() not in MASTER)
    trials = sorted({trial for _part, person, trial in taken if person in people}, key=_in_order)
    wanted = [(part, person, trial) for part in parts for person in people for trial in trials]
    said = {(fault.line, fault.column) for fault in sheet.faults}
    for part, person, trial in wanted:
        if (part, person, trial) not in taken and not said:
            sheet.fault(
                0, "", "", "paste.missing", gettext_noop("Part {part}, {person}, trial {trial} is missing"),
                part=part, person=person, trial=trial,
            )  # fmt: skip
    table = tuple(
        tuple(tuple(values.get((part, person, trial), "") for trial in trials) for person in people) for part in parts
    )
    master = _master(sheet, persons, people, parts, values)
    return Pasted(parts, people, table, master, tuple(sorted(sheet.faults, key=lambda fault: fault.line)))


def _master(
    sheet: _Sheet,
    persons: Sequence[str],
    people: Sequence[str],
    parts: Sequence[str],
    values: dict[tuple[str, str, str], str],
) -> tuple[str, ...] | None:
    name = next((person for person in persons if person not in people), None)
    if name is None:
        return None
    given = {part: value for (part, person, _trial), value in values.items() if person == name}
    for part in parts:
        if part not in given and not sheet.faults:
            sheet.fault(0, name, "", "paste.no_master", gettext_noop("part {part} has no verdict of the master"),
                        part=part)  # fmt: skip
    return tuple(given.get(part, "") for part in parts)


def _in_order(trial: str) -> tuple[int, str]:
    return (len(trial), trial)
