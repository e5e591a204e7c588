"""What somebody typed into a form: read into values, and kept as it was where it cannot be read."""

from __future__ import annotations

import uuid
from collections.abc import Container, Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any, TypeVar

from django.db.models import Model, QuerySet
from django.http import QueryDict
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime
from django.utils.translation import gettext as _

from shop import units
from shop.people import wording
from shop.refusal import Refused

if TYPE_CHECKING:
    from shop.people.models import Person

Row = TypeVar("Row", bound=Model)


class Words(dict[str, str]):
    """Words by field; a field with none has empty words, so that a template may ask for any."""

    def __missing__(self, key: str) -> str:
        return ""


class Typed:
    """Values of one form. Each reader notes a fault by field and returns None instead of failing.

    Templates use `was` (what was typed), `fault` (what is wrong with it), `ref` and `answered`.
    """

    def __init__(self, data: QueryDict, reader: Person | None = None) -> None:
        self.data = data
        self.reader = reader
        self.names = set(data)
        self.was = Words({name: data.get(name, "") for name in data})
        self.fault = Words()
        self.answered: dict[str, str | int] = self._answers()

    @classmethod
    def blank(cls, **start: Any) -> Typed:
        """Return a form nobody has typed into yet, with the values it starts from."""
        data = QueryDict(mutable=True)
        for name, value in start.items():
            data.setlist(name, [str(one) for one in value] if isinstance(value, list | tuple) else [str(value)])
        return cls(data)

    @property
    def ok(self) -> bool:
        """Return whether nothing is wrong so far."""
        return not self.fault

    @property
    def ref(self) -> str:
        """Return the reference the form was given when it was first shown, or a new one."""
        return self.was["ref"] or str(uuid.uuid4())

    def find_fault(self, name: str, words: str) -> None:
        """Note what is wrong with a field; the first fault stays."""
        self.fault.setdefault(name, words)

    def many(self, name: str) -> list[str]:
        """Return all values of a field that may be ticked several times."""
        return [value for value in self.data.getlist(name) if value]

    def text(self, name: str, *, required: bool = False, most: int = 0) -> str:
        """Return the words of a field, trimmed."""
        words = self.was[name].strip()
        if required and not words:
            self.find_fault(name, _("Please fill this in."))
        if most and len(words) > most:
            self.find_fault(name, _("At most %(most)d characters, these are %(n)d.") % {"most": most, "n": len(words)})
        return words

    def decimal(self, name: str, *, required: bool = False) -> Decimal | None:
        """Return a number; a decimal comma will do."""
        words = self.text(name, required=required)
        if not words:
            return None
        try:
            return units.parse_decimal(words, field=name)
        except Refused as refused:
            self.find_fault(name, wording.say(refused, self.reader))
            return None

    def quantity(self, name: str, unit: str, *, required: bool = False) -> Decimal | None:
        """Return a quantity in `unit`, read in whichever unit was typed beside it."""
        words = self.text(name, required=required)
        if not words:
            return None
        try:
            return units.parse_quantity(words, unit, field=name)
        except Refused as refused:
            self.find_fault(name, wording.say(refused, self.reader))
            return None

    def integer(self, name: str, *, required: bool = False) -> int | None:
        """Return a whole number, not below nought."""
        value = self.decimal(name, required=required)
        if value is None:
            return None
        if value != value.to_integral_value() or value < 0:
            self.find_fault(name, _("A whole number, please: “%(typed)s” is not one.") % {"typed": self.was[name]})
            return None
        return int(value)

    def moment(self, name: str, *, required: bool = False) -> datetime | None:
        """Return a time as the plant's clock shows it."""
        words = self.text(name, required=required)
        if not words:
            return None
        try:
            read = parse_datetime(words)
        except ValueError:
            read = None
        if read is None:
            self.find_fault(name, _("A date and time, please: “%(typed)s” is not one.") % {"typed": words})
            return None
        return read if timezone.is_aware(read) else timezone.make_aware(read)

    def day(self, name: str, *, required: bool = False) -> date | None:
        """Return a date."""
        words = self.text(name, required=required)
        if not words:
            return None
        try:
            read = parse_date(words)
        except ValueError:
            read = None
        if read is None:
            self.find_fault(name, _("A date, please: “%(typed)s” is not one.") % {"typed": words})
        return read

    def choice(self, name: str, among: Container[str], *, required: bool = True) -> str:
        """Return one of the choices; something else is a fault."""
        words = self.text(name, required=required)
        if words and words not in among:
            self.find_fault(name, _("“%(typed)s” is not one of the choices.") % {"typed": words})
            return ""
        return words

    def pick(self, name: str, among: QuerySet[Row], *, required: bool = False) -> Row | None:
        """Return the row that was picked by its number."""
        words = self.text(name, required=required)
        if not words:
            return None
        row = among.filter(pk=int(words)).first() if words.isascii() and words.isdigit() else None
        if row is None:
            self.find_fault(name, _("“%(typed)s” is not one of the choices.") % {"typed": words})
        return row

    def whole_numbers(self, name: str) -> list[int]:
        """Return the whole numbers of the boxes that were ticked."""
        return [int(value) for value in self.many(name) if value.isascii() and value.isdigit()]

    def ticked(self, name: str) -> bool:
        """Return whether the box was ticked."""
        return bool(self.was[name])

    def reference(self) -> uuid.UUID | None:
        """Return the form's own reference, by which a double tap enters once."""
        try:
            return uuid.UUID(self.was["ref"])
        except ValueError:
            return None

    def is_set(self, names: Iterable[str]) -> bool:
        """Return whether any of the fields has something in it."""
        return any(self.was[name].strip() for name in names)

    def _answers(self) -> dict[str, str | int]:
        """Return the answers given to questions: `answer` is "code=choice", `answer.offset` a number asked for."""
        answers: dict[str, str | int] = {}
        for given in self.data.getlist("answer"):
            code, _equals, choice = given.partition("=")
            if code and choice:
                answers[code] = choice
        for name in self.data:
            number = self.data.get(name, "") or ""
            if name.startswith("answer.") and number.isascii() and number.isdigit():
                answers[name.removeprefix("answer.")] = int(number)
        return answers
