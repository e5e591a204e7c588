"""The open SMD format of ISO 5436-2: a profile as text in four records, closed by a checksum.

Record 1 is the header (revision and identifier, feature, one line an axis), record 2 says who measured what and when,
record 3 holds one height a line, record 4 the checksum. Text fields end with NUL, lines with CR LF, records with ETX,
the file with SUB. This layout and the checksum were seen in two independent public writers, which differ in the modulus
(65535 and 65536): both are read, 65535 is written. That a coordinate is value x scale x unit is from memory.
"""

from __future__ import annotations

import io
import re
from collections.abc import Mapping

import numpy as np

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.profile.checking import Floats, Trace, checked_heights, checked_length, need_few
from shop.standards.source import Source, Standing

SMD_SOURCE = Source(
    "ISO 5436-2",
    "2012",
    Standing.SEVERAL,
    gettext_noop("SMD: layout as two public writers have it; the use of the scale factor is from memory."),
)

NUL, ETX, SUB = "\x00", "\x03", "\x1a"
UNITS_UM = {"m": 1e6, "mm": 1e3, "um": 1.0, "µm": 1.0, "nm": 1e-3}
MODULI = (65535, 65536)

_AXIS = re.compile(
    r"(?P<axis>C[XYZ])\s+(?P<kind>[A-Z])\s+(?P<points>\d+)\s+(?P<unit>\S+)\s+(?P<scale>\S+)\s+(?P<type>[ILFD])"
    r"(?:\s+(?P<step>\S+))?"
)
_NOTE = gettext_noop("Heights in {unit}, spacing {spacing} {spacing_unit}, as the SMD header says.")


def looks_like_smd(content: bytes) -> bool:
    """Return whether content begins as an SMD file does.

    Parameters
    ----------
    content : bytes
        The file, or its beginning.

    Returns
    -------
    bool
        True where the first line names ISO 5436.

    References
    ----------
    .. [1] ISO 5436-2:2012, record 1: the revision comes first.
    """
    first = content[:200].decode("latin-1").splitlines()[:1]
    return bool(first) and re.match(r"\s*ISO\s*5436", first[0]) is not None


def read_smd(content: bytes) -> Trace:
    """Return the trace that an SMD file holds.

    Parameters
    ----------
    content : bytes
        The file.

    Returns
    -------
    Trace
        Heights and spacing [um], with the fields of records 1 and 2.

    Raises
    ------
    Refused
        If it is another kind of file, cut short, altered (checksum), a surface, unevenly spaced or has a gap.

    References
    ----------
    .. [1] ISO 5436-2:2012, software measurement standards, type F1.
    """
    if not looks_like_smd(content):
        raise Refused(
            "smd.other_file",
            gettext_noop("This is not an SMD file: its first line does not name ISO 5436."),
            next_step=gettext_noop("Give the file the ending of what it is, or export it again as SMD."),
        )
    records = content.split(ETX.encode(), 4)
    if len(records) < 4:
        raise Refused(
            "smd.cut_short",
            gettext_noop("The SMD file is cut short: {value} of {limit} records are there."),
            next_step=gettext_noop("Copy the file from the gauge again."),
            value=len(records) - 1,
            limit=4,
        )
    _check_sum(content, records)
    header, x, z = _header(_lines(records[0]))
    spacing = _number(x["step"] or "", "CX") * _number(x["scale"], "CX") * _unit(x["unit"])
    heights = _heights(records[2], int(z["points"])) * (_number(z["scale"], "CZ") * _unit(z["unit"]))
    note = Saying("smd.units", _NOTE, {"unit": z["unit"], "spacing": x["step"], "spacing_unit": x["unit"]})
    spacing_um = checked_length("Spacing", spacing, "um")
    return Trace(checked_heights(heights), spacing_um, note, (*header, *_fields(_lines(records[1]))))


def write_smd(trace: Trace, identifier: str, fields: Mapping[str, str] | None = None) -> bytes:
    """Return a trace as an SMD file.

    Parameters
    ----------
    trace : Trace
        Heights and spacing. [um]
    identifier : str
        What the file calls itself.
    fields : mapping of str to str, or None
        Lines of record 2, such as "DATE", "CREATED_BY", "PROBING_SYSTEM", "COMMENT".

    Returns
    -------
    bytes
        The file: spacing in mm, heights in um, with every digit.

    Raises
    ------
    Refused
        If the trace has a gap or no spacing.

    References
    ----------
    .. [1] ISO 5436-2:2012, software measurement standards, type F1.
    """
    heights = checked_heights(trace.z_um)
    step = checked_length("Spacing", trace.spacing_um, "um") / 1000
    count = len(heights)
    lines = [
        f"ISO 5436-2:2012{NUL}{_plain(identifier)}{NUL}",
        f"PRF{NUL} 1 ISO5436{NUL}",
        f"CX{NUL} I{NUL} {count} mm{NUL} 1.0e0 D{NUL} {step!r}",
        f"CZ{NUL} A{NUL} {count} um{NUL} 1.0e0 D{NUL}",
        ETX,
    ]
    for name, said in (fields or {}).items():
        lines.append(f"{name} /* {_plain(said)} */{NUL}" if name == "COMMENT" else f"{name} {_plain(said)}{NUL}")
    lines += [ETX, *map(repr, heights.tolist()), ETX, ""]
    body = "\r\n".join(lines).encode("latin-1", "replace")
    return body + f"{_byte_sum(body) % MODULI[0]}\r\n{ETX}\r\n{SUB}\r\n".encode("latin-1")


def _plain(said: str) -> str:
    return re.sub(r"[\x00-\x1f]+", " ", said).replace("*/", "* /").strip()


def _byte_sum(content: bytes) -> int:
    return int(np.frombuffer(content, dtype=np.uint8).sum(dtype=np.uint64))


def _check_sum(content: bytes, records: list[bytes]) -> None:
    said = records[3].decode("latin-1").strip("\r\n\t \x00\x1a")
    # Everything up to and with the line that ends record 3.
    end = sum(len(record) + 1 for record in records[:3])
    end += len(records[3]) - len(records[3].lstrip(b"\r\n"))
    found = [_byte_sum(content[:end]) % modulus for modulus in MODULI]
    if not said.isdigit() or int(said) not in found:
        raise Refused(
            "smd.checksum",
            gettext_noop("The checksum of the SMD file says {limit}, and its content gives {value}: it was altered."),
            next_step=gettext_noop("Copy the file from the gauge again, without editing it."),
            value=found[0],
            limit=said[:40],
        )


def _lines(record: bytes) -> list[str]:
    text = record.decode("latin-1")
    return [line for line in (raw.strip("\r\n\t ") for raw in text.split("\n")) if line.strip(NUL)]


def _header(lines: list[str]) -> tuple[tuple[tuple[str, str], ...], dict[str, str], dict[str, str]]:
    axes: dict[str, dict[str, str]] = {}
    for line in lines[2:]:
        found = _AXIS.match(line.replace(NUL, " "))
        if found:
            axes[found["axis"]] = found.groupdict()
    if len(lines) < 2 or not lines[1].startswith("PRF") or "CY" in axes:
        raise _header_fault(gettext_noop("The SMD file does not hold a profile (PRF)."))
    if "CX" not in axes or "CZ" not in axes:
        raise _header_fault(gettext_noop("The header of the SMD file names no axis CX or no axis CZ."))
    x, z = axes["CX"], axes["CZ"]
    if x["kind"] != "I" or not x["step"] or z["kind"] != "A":
        raise _header_fault(gettext_noop("Only SMD files with an even spacing (CX I) and heights (CZ A) are read."))
    if x["points"] != z["points"]:
        raise _header_fault(gettext_noop("The axes of the SMD file name different numbers of points."))
    names = [part.strip() for part in lines[0].split(NUL) if part.strip()]
    said = (("revision", names[0]), ("identifier", names[1] if len(names) > 1 else ""))
    return (*said, ("feature", lines[1].replace(NUL, " ").strip())), x, z


def _header_fault(template: str) -> Refused:
    return Refused("smd.header", template, next_step=gettext_noop("Export one profile with even spacing as SMD."))


def _number(said: str, where: str) -> float:
    try:
        return float(said)
    except ValueError as error:
        raise Refused(
            "smd.not_a_number",
            gettext_noop("In the SMD file, {where} holds {value} where a number belongs."),
            next_step=gettext_noop("Copy the file from the gauge again, without editing it."),
            where=where,
            value=said[:40],
        ) from error


def _unit(said: str) -> float:
    size = UNITS_UM.get(said.strip().lower().replace("\u03bc", "µ"))
    if size is None:
        raise Refused(
            "smd.unit",
            gettext_noop("The SMD file names the unit {value}, which is not one of {limit}."),
            next_step=gettext_noop("Export the profile in millimetres and micrometres."),
            value=said[:40],
            limit=", ".join(("m", "mm", "µm", "nm")),
        )
    return size


def _heights(record: bytes, count: int) -> Floats:
    need_few(record.count(b"\n") if record.strip() else 0)
    try:
        heights = np.loadtxt(io.BytesIO(record), comments=None, ndmin=1).ravel()
    except ValueError:
        values = record.decode("latin-1").split()
        heights = np.array([_number(value, f"record 3, point {at}") for at, value in enumerate(values, 1)])
    if len(heights) != count:
        raise Refused(
            "smd.count",
            gettext_noop("The SMD file holds {value} heights, and its header names {limit}."),
            next_step=gettext_noop("Copy the file from the gauge again."),
            value=len(heights),
            limit=count,
        )
    return heights


def _fields(lines: list[str]) -> tuple[tuple[str, str], ...]:
    said = (line.strip(NUL + " ").partition(" ") for line in lines)
    return tuple(
        (name.rstrip(":"), text.strip().removeprefix("/*").removesuffix("*/").strip()) for name, _, text in said
    )
