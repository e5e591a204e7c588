"""Read a stylus trace from a file: one or two columns of text with a header of units, or SMD.

What is understood: UTF-8 with or without a mark at its beginning, UTF-16, Windows-1252; columns parted by tab,
semicolon, comma or spaces; decimal point or comma; µm, mm, nm, µin, in. Two columns are position and height; a first
column named as an index is passed over. One column needs a spacing in the header, such as "spacing = 0.5 µm".
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.profile.checking import Floats, Trace, even_spacing, need_few
from shop.standards.smd import looks_like_smd, read_smd
from shop.standards.trace_header import MAX_HEADER_LINES, UNITS_UM, Header, as_number, is_gap, read_header

# First bytes of what is often sent instead of text.
_OTHERS = (
    (b"PK\x03\x04", "ZIP, X3P, XLSX"),
    (b"%PDF", "PDF"),
    (b"\x89PNG", "PNG"),
    (b"\xff\xd8\xff", "JPEG"),
    (b"\xd0\xcf\x11\xe0", "XLS, DOC"),
    (b"\x1f\x8b", "GZIP"),
    (b"\x7fELF", "ELF"),
    (b"MZ", "EXE"),
    (b"GIF8", "GIF"),
)
_SNIFFED = 65536
_POSITIONS = gettext_noop("Heights in {unit}; spacing worked out from positions in {spacing_unit}.")
_SPACING = gettext_noop("Heights in {unit}; spacing {spacing} {spacing_unit} from the header.")


def load_trace(content: bytes | str, name: str = "") -> Trace:
    """Return the trace that a file holds.

    Parameters
    ----------
    content : bytes or str
        The file's bytes, or its text.
    name : str
        The file's name: one that ends in .smd must hold an SMD file, and no other may.

    Returns
    -------
    Trace
        Heights and spacing [um], the units that were read, and the header's own words.

    Raises
    ------
    Refused
        If the file is not what its name says, names no units, has text, a gap or a missing number in its columns (with
        the line), is unevenly spaced (with the points), or has more than 5 million points.

    References
    ----------
    .. [1] No standard names a text format for traces; SMD is that of ISO 5436-2:2012.
    """
    raw = content.encode("utf-8") if isinstance(content, str) else content
    if not raw or raw.isspace():
        raise Refused(
            "trace.empty",
            gettext_noop("The file {name} is empty."),
            next_step=gettext_noop("Export the trace from the gauge again."),
            name=name,
        )
    if name.lower().endswith(".smd"):
        return read_smd(raw)
    if looks_like_smd(raw):
        raise Refused(
            "trace.is_smd",
            gettext_noop("The file {name} holds an SMD file, not a table of text."),
            next_step=gettext_noop("Give its name the ending .smd."),
            name=name,
        )
    return read_text_trace(raw, name)


def read_text_trace(content: bytes, name: str = "") -> Trace:
    """Return the trace that a table of one or two columns holds.

    Parameters
    ----------
    content : bytes
        The file.
    name : str
        The file's name, for the refusal.

    Returns
    -------
    Trace
        Heights and spacing [um], the units that were read, and the header's own words.

    Raises
    ------
    Refused
        As `load_trace`.

    References
    ----------
    .. [1] No standard names a text format for traces.
    """
    # Ten million lines are refused before they are read.
    need_few(max(content.count(b"\n") - MAX_HEADER_LINES, content.count(b"\r") - MAX_HEADER_LINES, 2))
    encoding = _encoding(content, name)
    header = read_header(_lines(content, encoding))
    table = _table(content, encoding, header)
    need_few(len(table))
    heights = table[:, header.height_column] * UNITS_UM[header.height_unit]
    _refuse_gap(content, encoding, header, table)
    if header.position_column is None:
        said = {"unit": header.height_unit, "spacing": header.spacing, "spacing_unit": header.spacing_unit}
        spacing = header.spacing * UNITS_UM[header.spacing_unit]
        return Trace(heights, spacing, Saying("trace.spacing", _SPACING, said), header.words)
    spacing = even_spacing(table[:, header.position_column] * UNITS_UM[header.position_unit])
    said = {"unit": header.height_unit, "spacing_unit": header.position_unit}
    # A trace written backwards is the same trace.
    rightwards = heights if spacing > 0 else heights[::-1].copy()
    return Trace(rightwards, abs(spacing), Saying("trace.positions", _POSITIONS, said), header.words)


@dataclass(frozen=True)
class _Fault:
    line: int
    said: str
    missing: bool


def _encoding(content: bytes, name: str) -> str:
    for magic, kind in _OTHERS:
        if content.startswith(magic):
            raise _not_text(name, kind)
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return "utf-16"
    start = content[:_SNIFFED]
    nuls = start.count(0)
    if nuls > 0.4 * len(start):
        return "utf-16-le" if start[1:2] == b"\x00" else "utf-16-be"
    if nuls:
        raise _not_text(name, "?")
    try:
        content.decode("utf-8")
    except UnicodeDecodeError:
        if sum(byte < 9 or 13 < byte < 32 for byte in start) > 0.01 * len(start):
            raise _not_text(name, "?") from None
        return "cp1252"
    return "utf-8-sig"


def _not_text(name: str, kind: str) -> Refused:
    return Refused(
        "trace.not_text",
        gettext_noop("The file {name} is not a table of text but another kind of file ({value})."),
        next_step=gettext_noop("Export the trace from the gauge as text, CSV or SMD."),
        name=name,
        value=kind,
    )


def _lines(content: bytes, encoding: str) -> Iterator[str]:
    # Lines are decoded as they are read: a million points would be many times their size as a list of texts.
    return io.TextIOWrapper(io.BytesIO(content), encoding=encoding, errors="replace")


def _rows(content: bytes, encoding: str, header: Header) -> Iterator[str]:
    trailing = " \t\r\n" + (header.separator or "")
    for at, line in enumerate(_lines(content, encoding)):
        if at < header.lines:
            continue
        row = line.rstrip(trailing)
        if row:
            yield row.replace(",", ".") if header.decimal_comma else row


def _table(content: bytes, encoding: str, header: Header) -> Floats:
    rows = _rows(content, encoding, header)
    try:
        table = np.loadtxt(rows, delimiter=header.separator, comments=None, ndmin=2)
    except ValueError as error:
        fault = _first_fault(content, encoding, header)
        if fault is None:
            raise
        raise _refusal(fault, header) from error
    if table.shape[1] != header.columns:
        raise _refusal(_first_fault(content, encoding, header) or _Fault(header.lines + 1, "", True), header)
    return table


def _refuse_gap(content: bytes, encoding: str, header: Header, table: Floats) -> None:
    if np.isfinite(table).all():
        return
    fault = _first_fault(content, encoding, header)
    if fault is not None:
        raise _refusal(fault, header)


def _first_fault(content: bytes, encoding: str, header: Header) -> _Fault | None:
    """Return the first line that is not the numbers it should be; read slowly, only once something is wrong."""
    trailing = " \t\r\n" + (header.separator or "")
    for at, line in enumerate(_lines(content, encoding)):
        if at < header.lines or not line.strip():
            continue
        cells = line.rstrip(trailing).split(header.separator)
        cells += [""] * (header.columns - len(cells))
        for cell in cells:
            if as_number(cell, header.decimal_comma) is None:
                return _Fault(at + 1, cell.strip(), is_gap(cell))
        if len(cells) > header.columns:
            return _Fault(at + 1, line.strip(), False)
    return None


def _refusal(fault: _Fault, header: Header) -> Refused:
    if fault.missing:
        return Refused(
            "trace.gap",
            gettext_noop("Line {line} has no height or no position ({value}): the trace has a gap there."),
            next_step=gettext_noop("Measure the trace again, or export the part without the gap."),
            line=fault.line,
            value=fault.said or "–",
        )
    return Refused(
        "trace.not_a_number",
        gettext_noop("Line {line} reads {value}, where {limit} numbers belong."),
        next_step=gettext_noop("Export the trace without text between its numbers."),
        line=fault.line,
        value=fault.said[:60],
        limit=header.columns,
    )
