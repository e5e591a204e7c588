"""Understand the header of a trace in text: how columns are parted, what they hold and in which unit."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import islice

from shop.refusal import Refused, gettext_noop

UNITS_UM: dict[str, float] = {"µm": 1.0, "mm": 1000.0, "nm": 0.001, "µin": 0.0254, "in": 25400.0}
SEPARATORS = ("\t", ";", ",", None)
MAX_HEADER_LINES = 400
_LOOKED_AT = 50

_WRITTEN = {"um": "µm", "micron": "µm", "microns": "µm", "micrometer": "µm", "micrometre": "µm", "uin": "µin"}
_WRITTEN |= {"microinch": "µin", "inch": "in", "inches": "in", "millimeter": "mm", "millimetre": "mm"}
_UNIT = r"(?:µm|um|microns?|micromet(?:er|re)|millimet(?:er|re)|mm|nm|µin|uin|microinch|inch(?:es)?|in)"
_UNIT_FOUND = re.compile(rf"(?:^|[\s\[(_/;,\t])({_UNIT})(?=[\])\s;,.:=\t]|$)", re.IGNORECASE)
_STEP = re.compile(
    r"(?<![a-z])(?:dx|delta[ _]?x|spacing|step|increment|interval)"
    rf"(?:[ _]*(?:in[ _]+)?[\[(]?(?P<before>{_UNIT})(?![a-z])[\])]?)?\s*[:=;,\t ]+\s*"
    r"(?P<number>\d[\d.,]*(?:e[+-]?\d+)?|[.,]\d+(?:e[+-]?\d+)?)"
    rf"(?:\s*[;,\t]?\s*[\[(]?(?P<after>{_UNIT})(?![a-z]))?",
    re.IGNORECASE,
)
_INDEX = re.compile(r"^\W*(?:i|n|no|nr|index|idx|point|points|#)\W*$", re.IGNORECASE)
_HEIGHT = re.compile(r"^\W*(?:z|height|profile|amplitude)", re.IGNORECASE)
_PLACE = re.compile(r"^\W*(?:x|position|distance|length)", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?$")
_GAPS = frozenset({"", "nan", "-nan", "inf", "-inf", "-", "--", "---", "*", "***", "bad", "n/a"})


@dataclass(frozen=True)
class Header:
    """How to read the rows of a trace: `lines` to pass over, columns, units, and the spacing where positions lack."""

    lines: int
    separator: str | None
    decimal_comma: bool
    columns: int
    position_column: int | None
    height_column: int
    position_unit: str
    height_unit: str
    spacing: float
    spacing_unit: str
    words: tuple[tuple[str, str], ...]


def as_number(said: str, decimal_comma: bool = False) -> float | None:
    """Return a finite number as it is written in a cell.

    Parameters
    ----------
    said : str
        The cell.
    decimal_comma : bool
        Whether a comma stands before the decimals.

    Returns
    -------
    float or None
        The number, None where it is none or not finite. [as written]

    References
    ----------
    .. [1] ISO 80000-1: comma or point before the decimals.
    """
    text = said.strip().replace(",", ".") if decimal_comma else said.strip()
    if not _NUMBER.match(text):
        return None
    number = float(text)
    return number if math.isfinite(number) else None


def is_gap(said: str) -> bool:
    """Return whether a cell says that nothing was measured there.

    Parameters
    ----------
    said : str
        The cell.

    Returns
    -------
    bool
        True for an empty cell and for the marks that exports put in its place.

    References
    ----------
    .. [1] Marks as exports write them; no standard names them.
    """
    return said.strip().lower() in _GAPS


def read_header(lines: Iterable[str]) -> Header:
    """Return how the rows of a trace are to be read.

    Parameters
    ----------
    lines : iterable of str
        The lines of the file; no more are read than are needed.

    Returns
    -------
    Header
        Columns, units, and the spacing of a single column [its own unit].

    Raises
    ------
    Refused
        If there are no numbers, more columns than two, no units, or no spacing for a single column.

    References
    ----------
    .. [1] No standard names a text format for traces.
    """
    head, rows = _parted(lines)
    units = [_units_of(line) for line in head]
    step = next((found for line in head if (found := _step(line))), None)
    separator, comma, columns = _layout(rows, {len(found) for found in units}, step is not None)
    names = head[-1].lstrip("#% ").split(separator) if head else []
    indexed = columns == 2 and bool(names) and _INDEX.match(names[0]) is not None
    if indexed or columns == 1:
        height_unit, spacing, spacing_unit = _height_alone(units, step)
        return Header(
            len(head),
            separator,
            comma,
            columns,
            None,
            columns - 1,
            "",
            height_unit,
            spacing,
            spacing_unit,
            _words(head),
        )
    pair = next((found for found in reversed(units) if len(found) == 2), None)
    if pair is None:
        raise _no_units(2)
    turned = len(names) == 2 and bool(_HEIGHT.match(names[0]) and _PLACE.match(names[1]))
    place, height = (1, 0) if turned else (0, 1)
    return Header(len(head), separator, comma, 2, place, height, pair[place], pair[height], 0.0, "", _words(head))


def _height_alone(units: list[list[str]], step: tuple[float, str] | None) -> tuple[str, float, str]:
    """Return the unit of heights that come without positions, and their spacing."""
    if step is None:
        raise Refused(
            "trace.no_spacing",
            gettext_noop("The file has heights only, and its header names no spacing of the points."),
            next_step=gettext_noop("Write it in the header, such as: spacing = 0.5 µm"),
        )
    single = next((found for found in reversed(units) if len(found) == 1), None)
    if single is None:
        raise _no_units(1)
    return single[0], *step


def _no_units(columns: int) -> Refused:
    return Refused(
        "trace.no_units",
        gettext_noop("The header does not name the units of the numbers, whose columns are {value}."),
        next_step=gettext_noop("Write them in the line above the numbers, such as: x [mm]; z [µm]"),
        value=columns,
    )


def _parted(lines: Iterable[str]) -> tuple[list[str], list[str]]:
    """Return the lines of the header and the first rows of numbers."""
    head: list[str] = []
    rows: list[str] = []
    for line in islice(lines, MAX_HEADER_LINES):
        text = line.strip("\r\n")
        if not rows and not _is_row(text):
            head.append(text)
        elif text.strip():
            rows.append(text)
            if len(rows) == _LOOKED_AT:
                break
    if not rows:
        raise Refused(
            "trace.no_numbers",
            gettext_noop("No row of numbers was found in the first {value} lines."),
            next_step=gettext_noop("Export the trace as one or two columns of numbers below a header of units."),
            value=len(head),
        )
    return head, rows


def _is_row(text: str) -> bool:
    cells = [cell for cell in re.split(r"[\s;,]+", text.strip()) if cell]
    return bool(cells) and all(as_number(cell) is not None or is_gap(cell) for cell in cells)


def _units_of(line: str) -> list[str]:
    """Return the units that a line of the header names, in order; the unit of a spacing is not a column's."""
    text = _STEP.sub(" ", line).replace("\u03bc", "µ")
    found = list(_UNIT_FOUND.finditer(text))
    kept: list[str] = []
    for at, unit in enumerate(found):
        follows = found[at + 1] if at + 1 < len(found) else None
        # "x in mm" names one unit.
        if unit[1].lower() == "in" and follows and not text[unit.end(1) : follows.start(1)].strip("[( "):
            continue
        kept.append(_unit(unit[1]))
    return kept


def _unit(said: str) -> str:
    low = said.lower().replace("\u03bc", "µ")
    return _WRITTEN.get(low, low)


def _step(line: str) -> tuple[float, str] | None:
    found = _STEP.search(line.replace("\u03bc", "µ"))
    if not found or not (found["before"] or found["after"]):
        return None
    number = as_number(found["number"].rstrip(",."), decimal_comma=True)
    return None if not number else (number, _unit(found["before"] or found["after"]))


def _layout(rows: list[str], units_named: set[int], has_step: bool) -> tuple[str | None, bool, int]:
    """Return the separator, whether the comma stands before decimals, and the number of columns."""
    text = "".join(rows)
    if "\t" in text.strip("\t"):
        separator: str | None = "\t"
    elif ";" in text:
        separator = ";"
    elif any(re.search(r"\S\s+\S", row.strip()) and not re.search(r",\s", row) for row in rows):
        separator = None
    else:
        separator = "," if "," in text and _comma_parts(text, units_named, has_step) else None
    columns = max(len(row.rstrip(f" \t{separator or ''}").split(separator)) for row in rows)
    if columns > 2:
        raise Refused(
            "trace.columns",
            gettext_noop("The file has {value} columns of numbers, and one or two are read."),
            next_step=gettext_noop("Export position and height alone; with a decimal comma, part them by a semicolon."),
            value=columns,
            limit=2,
        )
    return separator, "," in text and separator != ",", columns


def _comma_parts(text: str, units_named: set[int], has_step: bool) -> bool:
    """Return whether a comma parts two columns, rather than standing before decimals in a single one."""
    return "." in text or ", " in text or (2 in units_named and not has_step) or not has_step


def _words(head: list[str]) -> tuple[tuple[str, str], ...]:
    said = []
    for line in head:
        text = line.strip("#%\t ;,\ufeff")
        name, _, value = re.sub(r"^([^:=;\t]{1,60})[:=;\t]", "\\1\x00", text, count=1).partition("\x00")
        if text:
            said.append((name.strip(), value.strip(" ;,\t")))
    return tuple(said[:200])
