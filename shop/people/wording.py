"""Sayings, refusals and quantities in the words, units and time of the person who reads them."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, nullcontext
from contextvars import ContextVar
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models.enums import Choices
from django.utils import timezone, translation
from django.utils.formats import date_format
from django.utils.translation import gettext, pgettext

from shop import units
from shop.people.models import Person
from shop.refusal import Refused, Saying, Word
from shop.units import Quantity

NOTHING = "–"
# A sentence may have a per cent of its own beside those of its values; that one keeps to its number too.
_PER_CENT = re.compile(r"(?<=\d) %")
_reader: ContextVar[Person | None] = ContextVar("reader", default=None)


@contextmanager
def reading_as(person: Person | None) -> Iterator[None]:
    """Word everything inside for this person: language, units, decimal sign, and the plant's time zone."""
    if person is None:
        yield
        return
    token = _reader.set(person)
    try:
        with translation.override(person.language), timezone.override(ZoneInfo(person.plant.time_zone)):
            yield
    finally:
        _reader.reset(token)


def reader() -> Person | None:
    """Return who reads now, if anybody is known to."""
    return _reader.get()


def say(said: Saying | Refused, person: Person | None = None) -> str:
    """Return the sentence in the reader's language, its values in the reader's units."""
    return _worded(said.template, said.values, person)


def next_step(refused: Refused, person: Person | None = None) -> str:
    """Return what to do next, in the reader's language; empty where nothing was said."""
    return _worded(refused.next_step, refused.values, person) if refused.next_step else ""


def choices(refused: Refused, person: Person | None = None) -> list[tuple[str, str]]:
    """Return the answers that a question understands, each a code with its words."""
    return [(code, _worded(words, refused.values, person)) for code, words in refused.choices]


def show(quantity: Quantity, person: Person | None = None) -> str:
    """Return a quantity with its unit as this person reads it."""
    who = person or reader()
    if who is None:
        return units.show(quantity, words=gettext)
    return units.show(quantity, system=who.unit_system, decimal_comma=who.decimal_comma, words=gettext)


def shots(count: int | None) -> str:
    """Return a count of shots, its thousands set apart."""
    return NOTHING if count is None else show(Quantity(Decimal(count), "shots"))


def number(value: Decimal | float | int | None) -> str:
    """Return a bare number with the reader's decimal sign."""
    if value is None:
        return NOTHING
    plain = format(Decimal(str(value)), "f")
    who = reader()
    return plain.replace(".", ",") if who is not None and who.decimal_comma else plain


def day(value: date | None) -> str:
    """Return a date that nobody can misread: 25 Nov 2026."""
    if value is None:
        return NOTHING
    # Translators: the date as Django's date filter writes it; the month in letters, so that nobody can misread it.
    shape = pgettext("a date", "j M Y")
    return date_format(timezone.localtime(value) if isinstance(value, datetime) else value, shape)


def moment(value: datetime | None) -> str:
    """Return a date and a time on the plant's clock: 25 Nov 2026, 14:05."""
    if value is None:
        return NOTHING
    return date_format(timezone.localtime(value), pgettext("a date with its time", "j M Y, H:i"))


def _worded(template: str, values: Mapping[str, Any], person: Person | None) -> str:
    with nullcontext() if person is None else reading_as(person):
        said = gettext(template).format(**{name: _shown(value) for name, value in values.items()})
    return _PER_CENT.sub(f"{units.FAST_SPACE}%", said)


def _shown(value: object) -> str:
    if isinstance(value, Quantity):
        return show(value)
    if isinstance(value, Saying | Refused):
        return say(value)
    if isinstance(value, Word):
        return gettext(value)
    if isinstance(value, Choices):
        return str(value.label)
    if isinstance(value, datetime):
        return moment(value)
    if isinstance(value, date):
        return day(value)
    if isinstance(value, Decimal | float):
        return number(value)
    return ", ".join(map(_shown, value)) if isinstance(value, list | tuple) else str(value)
