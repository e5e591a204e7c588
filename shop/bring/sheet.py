"""A file as rows: bytes in, typed cells out, with every fault named by line, column and value."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from shop.bring.cells import Cell
from shop.refusal import Refused, Saying, gettext_noop


@dataclass(frozen=True)
class Column:
    """One column of a file: its name in the header, how a cell is read, and what it means."""

    name: str
    cell: Cell
    means: str
    must: bool = False
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class Bad:
    """A row that cannot be taken: where, what was written, and why not."""

    line: int
    column: str
    value: str
    reason: Saying


@dataclass
class Row:
    """A row whose cells were read; empty cells are None."""

    line: int
    values: Mapping[str, Any]
    texts: Mapping[str, str] = field(repr=False)

    def __getitem__(self, name: str) -> Any:
        return self.values.get(name)

    def bad(self, column: str, refused: Refused) -> Bad:
        """Return the fault of this row in that column."""
        return Bad(self.line, column, self.texts.get(column, ""), refused.saying)


def bad_row(row: Row, column: str, code: str, template: str, **values: Any) -> Bad:
    """Return a fault of the row, worded later."""
    return Bad(row.line, column, row.texts.get(column, ""), Saying(code, template, values))


def as_text(content: bytes) -> str:
    """Return the file's text; raise Refused where it is not UTF-8."""
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise Refused(
            "bring.not_utf8",
            gettext_noop("The file is not UTF-8: byte {at} cannot be read."),
            next_step=gettext_noop("Save it as CSV UTF-8 and bring it again."),
            at=fault.start,
        ) from fault


def delimiter_of(first_line: str) -> str:
    """Return the delimiter of the header, a semicolon or a comma, whichever there is more of."""
    return ";" if first_line.count(";") > first_line.count(",") else ","


def read_sheet(content: bytes, columns: Sequence[Column], zone: ZoneInfo) -> tuple[list[Row], list[Bad]]:
    """Return the file's rows with their cells read, and what could not be read.

    Raises Refused for a file that has no header, an unknown column, a column twice, or none that must be there.
    """
    text = as_text(content)
    reader = csv.reader(io.StringIO(text), delimiter=delimiter_of(text.split("\n", 1)[0]), strict=True)
    try:
        named = named_columns(next(reader, []), columns)
        rows: list[Row] = []
        bad: list[Bad] = []
        for cells in reader:
            if any(cell.strip() for cell in cells):
                read_row(reader.line_num, cells, named, zone, rows, bad)
    except csv.Error as fault:
        raise Refused(
            "bring.not_csv",
            gettext_noop("Line {line} is not CSV: {fault}."),
            next_step=gettext_noop("Look for a quote that is not closed."),
            line=reader.line_num,
            fault=str(fault),
        ) from fault
    return rows, bad


def named_columns(header: Sequence[str], columns: Sequence[Column]) -> list[Column]:
    """Return the columns in the order of the header; raise Refused where it does not hold."""
    known = {name: column for column in columns for name in (column.name, *column.also)}
    names = [" ".join(cell.replace("_", " ").split()).lower() for cell in header]
    if not any(names):
        raise Refused("bring.no_header", gettext_noop("The file has no header row."), next_step=_LOOK)
    if unknown := [name for name in names if name not in known]:
        raise Refused(
            "bring.unknown_column",
            gettext_noop("Unknown columns: {unknown}. Known are: {known}."),
            next_step=gettext_noop("Rename or remove them, then bring the file again."),
            unknown=", ".join(name or "(empty)" for name in unknown),
            known=", ".join(column.name for column in columns),
        )
    found = [known[name] for name in names]
    if twice := sorted({column.name for column in found if found.count(column) > 1}):
        raise Refused(
            "bring.column_twice", gettext_noop("Columns given twice: {twice}."), next_step=_LOOK, twice=", ".join(twice)
        )
    if missing := [column.name for column in columns if column.must and column not in found]:
        raise Refused(
            "bring.column_missing",
            gettext_noop("Columns that must be there are missing: {missing}."),
            next_step=_LOOK,
            missing=", ".join(missing),
        )
    return found


_LOOK = gettext_noop("`manage.py bring --columns` lists what each file may hold.")


def read_row(
    line: int, cells: Sequence[str], named: Sequence[Column], zone: ZoneInfo, rows: list[Row], bad: list[Bad]
) -> None:
    """Read one row into `rows`, or its faults into `bad`."""
    texts = {column.name: cell.strip() for column, cell in zip(named, cells, strict=False)}
    faults: list[Bad] = []
    if len(cells) > len(named):
        faults.append(Bad(line, "", cells[len(named)], _TOO_MANY))
    values: dict[str, Any] = {}
    for column in named:
        text = texts.get(column.name, "")
        if not text:
            if column.must:
                faults.append(Bad(line, column.name, "", _EMPTY))
            continue
        try:
            values[column.name] = column.cell(text, zone)
        except Refused as refused:
            faults.append(Bad(line, column.name, text, refused.saying))
    if faults:
        bad.extend(faults)
    else:
        rows.append(Row(line, values, texts))


_EMPTY = Saying("bring.empty", gettext_noop("must be given"), {})
_TOO_MANY = Saying("bring.too_many_cells", gettext_noop("the row has more cells than the header"), {})
