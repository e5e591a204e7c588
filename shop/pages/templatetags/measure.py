"""How the sheet of a tool words what a place must be and how it is measured."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.utils.translation import gettext as _

from shop import units
from shop.boards.measure_sheet import Place, Sheet, SheetFace
from shop.pages.measure import reader_unit, slots
from shop.pages.typed import Typed
from shop.people import wording
from shop.units import Quantity

register = template.Library()


@register.filter
def needs_gauge(sheet: Sheet, field: str) -> bool:
    """Return whether something on the sheet is measured with that gauge."""
    return any(not place.by_eye and place.gauge_field == field for place in sheet.places)


@register.filter
def typed_into(typed: Typed, row: SheetFace) -> bool:
    """Return whether something was typed for the face, so that it is shown again."""
    return any(typed.was[field_name(place, number)] for place in row.places for number in numbers(place))


@register.filter
def field_name(place: Place, number: int) -> str:
    """Return the name of the field of one value."""
    return f"v-{place.key}-{number}"


@register.filter
def numbers(place: Place) -> range:
    """Return the numbers of the values that the sheet has room for."""
    return range(slots(place))


@register.filter
def unit_label(place: Place) -> str:
    """Return the unit that a bare number is in."""
    return units.LABELS[reader_unit(place, wording.reader())]


@register.filter
def plain_number(value: Decimal | None) -> str:
    """Return a number as the choices of a form write it."""
    return "" if value is None else format(value.normalize(), "f")


@register.filter
def must_be(place: Place) -> str:
    """Return what the place must be: one limit or both."""
    lower, upper = place.sides.lower, place.sides.upper
    if place.by_eye:
        return _("as the plaque, within its limits")
    if lower is None:
        return _("at most %(upper)s") % {"upper": _shown(place, upper)}
    if upper is None:
        return _("at least %(lower)s") % {"lower": _shown(place, lower)}
    return _("%(lower)s to %(upper)s") % {"lower": _shown(place, lower), "upper": _shown(place, upper)}


@register.filter
def how(place: Place) -> str:
    """Return how the place is measured: angle or cut-off, how many, in which direction, how conditioned."""
    said = []
    if place.limit.geometry_deg is not None:
        said.append(_("at %(angle)s°") % {"angle": place.limit.geometry_deg})
    if place.cutoff_mm is not None and place.evaluation_mm is not None:
        lengths = {"cutoff": wording.number(place.cutoff_mm), "length": wording.number(place.evaluation_mm.normalize())}
        said.append(_("cut-off %(cutoff)s mm, evaluation length %(length)s mm") % lengths)
    elif place.roughness:
        said.append(_("the drawing names no cut-off: enter the one used"))
    if place.stylus_marks:
        said.append(_("no stylus: it marks a mirror, use optical means, a replica or a coupon"))
    if place.plan is not None:
        if place.plan.values_wanted > 1:
            said.append(_("%(n)s values") % {"n": place.plan.values_wanted})
        said.extend(words for words in (place.plan.direction, place.plan.condition) if words)
    if place.by_eye and place.spec.plaque is not None:
        said.append(_("plaque %(plaque)s, in the light booth") % {"plaque": place.spec.plaque})
    return " · ".join(said)


def _shown(place: Place, value: Decimal | None) -> str:
    return wording.show(Quantity(value or Decimal(0), place.limit.unit))
