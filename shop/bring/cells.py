"""How one cell of a file is read."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from zoneinfo import ZoneInfo

from shop.refusal import Refused, gettext_noop

Cell = Callable[[str, ZoneInfo], Any]

YES = {"yes", "y", "true", "1", "x"}
NO = {"no", "n", "false", "0"}
DAY_FIRST = ("%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S", "%d.%m.%Y")
GROUPING = str.maketrans("", "", "\u2009\u202f\u00a0 ")


def text(longest: int) -> Cell:
    """Return a reader for a text of at most so many letters."""

    def read(cell: str, _zone: ZoneInfo) -> str:
        if len(cell) > longest:
            raise Refused("bring.too_long", gettext_noop("is longer than {longest} letters"), longest=longest)
        return cell

    return read


def number(least: Decimal | None = None, most: Decimal | None = None) -> Cell:
    """Return a reader for a number with a decimal point or comma, within the bounds."""

    def read(cell: str, _zone: ZoneInfo) -> Decimal:
        plain = cell.translate(GROUPING)
        if plain.count(",") == 1 and "." not in plain:
            plain = plain.replace(",", ".")
        try:
            value = Decimal(plain)
        except InvalidOperation:
            raise Refused("bring.not_a_number", gettext_noop("is not a number")) from None
        if not value.is_finite():
            raise Refused("bring.not_a_number", gettext_noop("is not a number"))
        return within(value, least, most)

    return read


def whole(least: int = 0, most: int = 10**12) -> Cell:
    """Return a reader for a whole number within the bounds."""

    def read(cell: str, _zone: ZoneInfo) -> int:
        plain = cell.translate(GROUPING)
        if not plain.lstrip("+-").isdecimal():
            raise Refused("bring.not_whole", gettext_noop("is not a whole number"))
        return int(within(Decimal(plain), Decimal(least), Decimal(most)))

    return read


def within(value: Decimal, least: Decimal | None, most: Decimal | None) -> Decimal:
    """Return the value; raise Refused where it lies outside the bounds."""
    if least is not None and value < least:
        raise Refused("bring.too_small", gettext_noop("is below {least}"), least=str(least))
    if most is not None and value > most:
        raise Refused("bring.too_large", gettext_noop("is above {most}"), most=str(most))
    return value


def moment(cell: str, zone: ZoneInfo) -> datetime:
    """Read a date and time, ISO or day first, in the plant's time zone where the cell names none."""
    try:
        read = datetime.fromisoformat(cell)
    except ValueError:
        read = day_first(cell)
    return read if read.tzinfo else read.replace(tzinfo=zone)


def day_first(cell: str) -> datetime:
    """Read 25.11.2026 14:30; raise Refused for anything else."""
    for pattern in DAY_FIRST:
        try:
            return datetime.strptime(cell, pattern)  # noqa: DTZ007 - the caller adds the plant's zone
        except ValueError:
            continue
    raise Refused("bring.not_a_time", gettext_noop("is not a time; write 2026-11-25 14:30 or 25.11.2026 14:30"))


def day(cell: str, zone: ZoneInfo) -> date:
    """Read a date."""
    return moment(cell, zone).date()


def yes_no(cell: str, _zone: ZoneInfo) -> bool:
    """Read yes or no."""
    if cell.lower() in YES:
        return True
    if cell.lower() in NO:
        return False
    raise Refused("bring.not_yes_or_no", gettext_noop("is neither yes nor no"))


def one_of(choices: Iterable[str], also: dict[str, str] | None = None) -> Cell:
    """Return a reader for one of the words, whatever its case; `also` maps other spellings to them."""
    words = {choice.lower(): choice for choice in choices} | (also or {})
    listed = ", ".join(dict.fromkeys(word for word in words.values() if word))

    def read(cell: str, _zone: ZoneInfo) -> str:
        if (word := words.get(" ".join(cell.lower().split()))) is None:
            raise Refused("bring.not_one_of", gettext_noop("is not one of: {listed}"), listed=listed)
        return word

    return read


def several(cell: Cell) -> Cell:
    """Return a reader for several values parted by a vertical bar or a blank."""

    def read(text: str, zone: ZoneInfo) -> tuple[Any, ...]:
        parts = text.split("|") if "|" in text else text.split()
        return tuple(cell(part.strip(), zone) for part in parts if part.strip())

    return read


def answers(cell: str, _zone: ZoneInfo) -> dict[str, str | int]:
    """Read answers to questions: `shots.counter_fell=new_job | offset=0`."""
    found: dict[str, str | int] = {}
    for part in cell.split("|"):
        code, sign, choice = (piece.strip() for piece in part.partition("="))
        if not (code and sign and choice):
            raise Refused("bring.not_an_answer", gettext_noop("is not written as question=answer"))
        found[code] = int(choice) if choice.isdecimal() else choice
    return found


def spots(cell: str, _zone: ZoneInfo) -> tuple[tuple[str, str, int, int], ...]:
    """Read the spots of a face: `gate:gate:10:50 | far end:end of fill:90:50`; kind and place may be left out."""
    return tuple(spot(part.strip()) for part in cell.split("|") if part.strip())


def spot(part: str) -> tuple[str, str, int, int]:
    """Read one spot: name, kind, and per cent across and down."""
    pieces = [piece.strip() for piece in part.split(":")]
    name, kind, x, y, *more = pieces + ["", "middle", "50", "50"][len(pieces) :]
    if more or not (name and x.isdecimal() and y.isdecimal() and int(x) <= 100 and int(y) <= 100):
        raise Refused("bring.not_a_spot", gettext_noop("is not written as name:kind:x:y with x and y from 0 to 100"))
    return name, kind, int(x), int(y)
