"""Quantities: read what was typed, convert between units, show in the reader's units."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from shop.refusal import Refused, Word, gettext_noop

# Neither breaks: a count or a quantity is never parted at the end of a line.
THIN_SPACE = "\u202f"
FAST_SPACE = "\u00a0"
MINUS = "\u2212"

# Unit -> (dimension, size in the dimension's first unit). Inch sizes are exact by definition.
_SIZES: dict[str, tuple[str, Decimal]] = {
    "um": ("length", Decimal(1)),
    "uin": ("length", Decimal("0.0254")),
    "mm": ("length", Decimal(1000)),
    "in": ("length", Decimal(25400)),
    "cm2": ("area", Decimal(1)),
    "in2": ("area", Decimal("6.4516")),
    "GU": ("gloss", Decimal(1)),
    "grade": ("grade", Decimal(1)),
    "shots": ("shots", Decimal(1)),
    "percent": ("percent", Decimal(1)),
    "deg": ("angle", Decimal(1)),
    "min": ("minutes", Decimal(1)),
    "HRC": ("hardness", Decimal(1)),
    "days": ("days", Decimal(1)),
    "C": ("temperature", Decimal(1)),
}
UNITS = frozenset(_SIZES)

# Words among the labels are marked, since a reader's language has its own; symbols are everybody's.
LABELS: dict[str, str] = {
    "um": "µm",
    "uin": "µin",
    "mm": "mm",
    "in": "in",
    "cm2": "cm²",
    "in2": "in²",
    "GU": "GU",
    "grade": "",
    "shots": gettext_noop("shots"),
    "percent": "%",
    "deg": "°",
    "min": gettext_noop("min"),
    "HRC": "HRC",
    "days": gettext_noop("days"),
    "C": "°C",
}

# The words of one alone.
ONE: dict[str, str] = {"shots": gettext_noop("shot"), "days": gettext_noop("day")}

_IN_INCHES = {"um": "uin", "mm": "in", "cm2": "in2"}
_IN_METRIC = {inch: metric for metric, inch in _IN_INCHES.items()}

_WRITTEN: dict[str, str] = {
    "um": "um", "µm": "um", "μm": "um", "micron": "um", "microns": "um",
    "uin": "uin", "µin": "uin", "μin": "uin", "microinch": "uin",
    "mm": "mm", "in": "in", "inch": "in", '"': "in", "″": "in",
    "cm2": "cm2", "cm²": "cm2", "in2": "in2", "in²": "in2",
    "gu": "GU", "grade": "grade", "shots": "shots", "shot": "shots", "%": "percent", "percent": "percent",
    "°": "deg", "deg": "deg", "min": "min", "hrc": "HRC", "d": "days", "day": "days", "days": "days",
    "c": "C", "°c": "C",
}  # fmt: skip

# Fewest decimals by size (below 10, below 100, above) and the significant digits kept when there are more.
_DECIMALS: dict[str, tuple[tuple[int, int, int], int]] = {
    "um": ((2, 1, 0), 3),
    "uin": ((1, 1, 0), 3),
    "GU": ((1, 1, 0), 3),
}
_OTHER_DECIMALS = ((0, 0, 0), 3)
_WHOLE = frozenset({"shots", "min", "days", "HRC"})

_SPACES = re.compile("[\\s\u2007\u2009\u00a0\u202f'\u2019]+")
_GROUPED = re.compile(r"[0-9]{1,3}(?: [0-9]{3})+")
_PLAIN = re.compile(r"[0-9]{1,30}")
_PARTED = re.compile(r"(?P<sign>[+-]?)\s?(?P<number>[0-9.,][0-9., ]*)(?P<unit>.*)")


@dataclass(frozen=True)
class Quantity:
    """A value with its unit, kept as typed and shown in the reader's units."""

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        _known(self.unit)
        if not self.value.is_finite():
            raise _not_read(str(self.value), field="", name="value")


def parse_decimal(text: str, *, field: str = "", name: str = "value") -> Decimal:
    """Read a number as people type it.

    Parameters
    ----------
    text : str
        Digits with a decimal point or comma; spaces, thin spaces and apostrophes may group thousands. Where point and
        comma both stand, the last is the decimal sign. One comma alone is a decimal comma.
    field : str
        The input it came from, for the refusal.
    name : str
        What the number is, for the refusal.

    Returns
    -------
    Decimal
        The number as typed, with its digits kept. [-]

    Raises
    ------
    Refused
        If it is no number in plain digits, or if its separators contradict each other.
    """
    plain = _SPACES.sub(" ", text.strip()).replace(MINUS, "-")
    sign = plain[:1] if plain[:1] in ("+", "-") else ""
    digits = _joined(plain[len(sign) :].strip())
    if digits is None:
        raise _not_read(text, field=field, name=name)
    return Decimal(sign + digits)


def parse_whole(text: str, *, field: str = "", name: str = "count") -> int:
    """Read a whole count, where a point or comma before each three digits can only be grouping.

    Parameters
    ----------
    text : str
        For instance "12345", "12 345", "12,345" or "12.345".
    field, name : str
        As for `parse_decimal`.

    Returns
    -------
    int
        The count. [-]

    Raises
    ------
    Refused
        If it is no whole number.
    """
    plain = _SPACES.sub(" ", text.strip()).replace(MINUS, "-")
    if re.fullmatch(r"[+-]?[1-9][0-9]{0,2}(?:([.,])[0-9]{3})(?:\1[0-9]{3})*", plain):
        return int(plain.replace(".", "").replace(",", ""))
    value = parse_decimal(text, field=field, name=name)
    if value != value.to_integral_value():
        raise Refused(
            "number.not_whole",
            gettext_noop("“{typed}” is not a whole number."),
            next_step=gettext_noop("Enter the count without a fraction."),
            field=field,
            typed=text,
            name=name,
        )
    return int(value)


def parse_quantity(text: str, unit: str, *, field: str = "") -> Decimal:
    """Read a number that may carry a unit, and give it in the unit asked for.

    Parameters
    ----------
    text : str
        For instance "0,8", "0.8 um" or "32 µin"; without a unit it is in `unit`.
    unit : str
        The unit wanted, one of `UNITS`.
    field : str
        The input it came from, for the refusal.

    Returns
    -------
    Decimal
        The value. [unit]

    Raises
    ------
    Refused
        If it is no number, or if its unit measures something else.
    """
    _known(unit)
    found = _PARTED.fullmatch(_SPACES.sub(" ", text.strip()).replace(MINUS, "-"))
    if found is None:
        raise _not_read(text, field=field, name="value")
    written = found["unit"].strip()
    typed = _WRITTEN.get(written.lower()) if written else unit
    if typed is None or _SIZES[typed][0] != _SIZES[unit][0]:
        raise Refused(
            "unit.wrong",
            gettext_noop("“{typed}” does not fit here: {unit} is wanted."),
            next_step=gettext_noop("Enter the value in {unit}."),
            field=field,
            typed=text,
            unit=Word(LABELS[unit] or unit),
        )
    number = found["sign"] + found["number"].strip()
    value = Decimal(parse_whole(number, field=field)) if unit == "shots" else parse_decimal(number, field=field)
    return convert(value, typed, unit)


def convert(value: Decimal, from_unit: str, to_unit: str) -> Decimal:
    """Convert a value between units of one dimension; inch sizes are exact.

    Parameters
    ----------
    value : Decimal
        The value. [from_unit]
    from_unit, to_unit : str
        Units of one dimension, from `UNITS`.

    Returns
    -------
    Decimal
        The value. [to_unit]

    Raises
    ------
    Refused
        If the units measure different things, or one is unknown.

    References
    ----------
    .. [1] International yard and pound agreement, 1959: 1 in = 25.4 mm.
    """
    dimension, size = _known(from_unit)
    other, other_size = _known(to_unit)
    if dimension != other:
        raise Refused(
            "unit.wrong",
            gettext_noop("{from_unit} cannot be given in {unit}."),
            next_step=gettext_noop("Choose a unit of the same kind."),
            from_unit=Word(LABELS[from_unit] or from_unit),
            unit=Word(LABELS[to_unit] or to_unit),
        )
    return value if from_unit == to_unit else value * size / other_size


def in_system(quantity: Quantity, system: str = "metric") -> Quantity:
    """Return the quantity in the units of a reader.

    Parameters
    ----------
    quantity : Quantity
        The quantity.
    system : str
        "metric" [um, mm, cm2] or "inch" [uin, in, in2]; other units are the same in both.

    Returns
    -------
    Quantity
        The same quantity in the reader's unit.
    """
    unit = (_IN_INCHES if system == "inch" else _IN_METRIC).get(quantity.unit, quantity.unit)
    return Quantity(convert(quantity.value, quantity.unit, unit), unit)


def parts(quantity: Quantity, *, system: str = "metric", decimal_comma: bool = False) -> tuple[str, str]:
    """Return a quantity as number and unit label, so that a door can translate the label.

    Parameters
    ----------
    quantity : Quantity
        The quantity.
    system : str
        "metric" or "inch".
    decimal_comma : bool
        Whether the reader writes a decimal comma.

    Returns
    -------
    tuple of str
        The number with sensible digits, and the label, which is empty for a grade. [-]
    """
    seen = in_system(quantity, system)
    number = _number(seen.value, seen.unit)
    label = ONE.get(seen.unit, LABELS[seen.unit]) if number == "1" else LABELS[seen.unit]
    return (number.replace(".", ",") if decimal_comma else number), label


def show(
    quantity: Quantity, *, system: str = "metric", decimal_comma: bool = False, words: Callable[[str], str] = str
) -> str:
    """Write a quantity in the reader's units.

    Parameters
    ----------
    quantity : Quantity
        The quantity.
    system : str
        "metric" or "inch".
    decimal_comma : bool
        Whether the reader writes a decimal comma.
    words : callable
        Gives a label that is a word in the reader's language.

    Returns
    -------
    str
        For instance "0.80 µm" or "31.5 µin", in one piece that no line breaks; shots are grouped by thin spaces.
    """
    number, label = parts(quantity, system=system, decimal_comma=decimal_comma)
    if not label or quantity.unit == "deg":
        return number + label
    return f"{number}{FAST_SPACE}{words(label)}"


def _known(unit: str) -> tuple[str, Decimal]:
    if unit not in _SIZES:
        raise Refused(
            "unit.unknown",
            gettext_noop("The unit “{unit}” is not known."),
            next_step=gettext_noop("Use one of {known}."),
            unit=unit,
            known=", ".join(sorted(UNITS)),
        )
    return _SIZES[unit]


def _joined(typed: str) -> str | None:
    """Return plain digits with a decimal point, or None where the separators do not make sense."""
    last = max(typed.rfind("."), typed.rfind(","))
    if last < 0:
        return _whole_digits(typed, "")
    mark, other = typed[last], "," if typed[last] == "." else "."
    before, after = typed[:last], typed[last + 1 :]
    if mark in before:
        # The same sign twice can only be grouping, and then nothing else may stand in the number.
        return None if other in typed else _whole_digits(typed, mark)
    if after and not _PLAIN.fullmatch(after):
        return None
    if not before:
        return f"0.{after}" if after else None
    whole = _whole_digits(before, other if other in before else "")
    return None if whole is None else f"{whole}.{after}" if after else whole


def _whole_digits(typed: str, grouping: str) -> str | None:
    if grouping and " " in typed:
        return None
    spaced = typed.replace(grouping, " ") if grouping else typed
    if _GROUPED.fullmatch(spaced):
        return spaced.replace(" ", "")
    return typed if _PLAIN.fullmatch(typed) else None


def _number(value: Decimal, unit: str) -> str:
    fewest, significant = _DECIMALS.get(unit, _OTHER_DECIMALS)
    size = abs(value)
    least = 0 if unit in _WHOLE else fewest[0 if size < 10 else 1 if size < 100 else 2]
    most = least if unit in _WHOLE or not value else max(least, significant - 1 - value.adjusted())
    rounded = value.quantize(Decimal(1).scaleb(-most), rounding=ROUND_HALF_UP)
    whole, _, fraction = f"{abs(rounded):f}".partition(".")
    fraction = fraction[:least] + fraction[least:].rstrip("0")
    # Four digits of a measure stay together, as in print; shots stand in columns and are always grouped.
    if len(whole) > (3 if unit == "shots" else 4):
        whole = f"{int(whole):,}".replace(",", THIN_SPACE)
    sign = MINUS if rounded < 0 else "+" if unit == "grade" and rounded > 0 else ""
    return sign + whole + (f".{fraction}" if fraction else "")


def _not_read(typed: str, *, field: str, name: str) -> Refused:
    return Refused(
        "number.not_read",
        gettext_noop("“{typed}” is not read as a number."),
        next_step=gettext_noop("Enter it in plain digits, for instance 0.8 or 0,8."),
        field=field,
        typed=typed,
        name=name,
    )
