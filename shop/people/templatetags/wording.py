"""How values and sayings are shown to the person who reads."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from django import template
from django.utils.translation import gettext

from shop.people import wording
from shop.people.models import Person
from shop.people.roles import Ability, may
from shop.refusal import Refused, Saying
from shop.units import Quantity

register = template.Library()

Number = Decimal | float | int | str


@register.filter
def qty(value: Quantity | Number | None, unit: str = "") -> str:
    """Return a value with its unit as the reader reads it; a dash for nothing."""
    if value is None or value == "":
        return wording.NOTHING
    if isinstance(value, Quantity):
        return wording.show(value)
    return wording.show(Quantity(Decimal(str(value)), unit))


@register.filter
def shots(value: int | None) -> str:
    """Return a count of shots."""
    return wording.shots(value)


@register.filter
def number(value: Decimal | float | int | None) -> str:
    """Return a bare number with the reader's decimal sign."""
    return wording.number(value)


@register.filter
def day(value: date | None) -> str:
    """Return a date that nobody can misread."""
    return wording.day(value)


@register.filter
def moment(value: datetime | None) -> str:
    """Return a date and a time on the plant's clock."""
    return wording.moment(value)


@register.filter
def say(said: Saying | Refused | None) -> str:
    """Return a saying or a refusal in the reader's words."""
    return "" if said is None else wording.say(said)


@register.filter
def marked(words: str | None) -> str:
    """Return words that were kept as marked English in the reader's language."""
    return gettext(words) if words else ""


@register.filter
def next_step(refused: Refused | None) -> str:
    """Return what a refusal proposes to do next."""
    return "" if refused is None else wording.next_step(refused)


@register.filter
def may_do(person: Person, ability: str) -> bool:
    """Return whether the person's role lets them do it."""
    return may(person, Ability(ability))
