"""How the sheet of a tool words what a place must be and how it is measured."""

from __future__ import annotations

from decimal import Decimal

from django import template
from django.utils.translation import gettext as _

from shop import units
from shop.boards.measure_sheet import Place, Sheet, SheetFace
from shop.pages.measured_values import OTHER_VALUES, reader_unit, slots
from shop.pages.typed import Typed
from shop.people import wording
from shop.quality.models import Reading
from shop.units import Quantity

register = template.Library()


@register.filter
def needs_gauge(sheet: Sheet, field: str) -> bool:
    """Return whether something on the sheet is measured with that gauge."""
    return any(not place.by_eye and place.gauge_field == field for place in sheet.places)


@register.filter
def typed_into(typed: Typed, row: SheetFace) -> bool:
    """Return whether something was typed for the face, so that it is shown again."""
    return any(
        typed.was[field_name(place, number)] or folded(typed, place)
        for place in row.places
        for number in numbers(place)
    )


@register.filter
def folded(typed: Typed, place: Place) -> bool:
    """Return whether something was typed into what the place folds away."""
    names = [f"dir-{place.key}", f"length-{place.key}", *(f"x-{place.key}-{number}" for number in range(OTHER_VALUES))]
    return any(typed.was[name].strip() or typed.fault[name] for name in names)


@register.filter
def five_lengths(place: Place) -> str:
    """Return the evaluation length that five sampling lengths make at the place."""
    return "" if place.evaluation_mm is None else wording.number(place.evaluation_mm.normalize())


@register.filter
def taken(reading: Reading) -> str:
    """Return under which conditions a reading was taken: lay, angle, cut-off, length, light."""
    said = []
    if reading.direction:
        said.append(reading.get_direction_display())
    if reading.geometry_deg is not None:
        said.append(_("at %(angle)s°") % {"angle": reading.geometry_deg})
    if reading.cutoff_mm is not None:
        said.append(_("cut-off %(cutoff)s") % {"cutoff": wording.show(Quantity(reading.cutoff_mm, "mm"))})
    if reading.evaluation_length_mm is not None:
        length = wording.show(Quantity(reading.evaluation_length_mm, "mm"))
        said.append(_("evaluation length %(length)s") % {"length": length})
    if reading.illuminant:
        said.append(_("light %(light)s") % {"light": reading.illuminant})
    if reading.view_angle_deg is not None:
        said.append(_("seen from %(angle)s°") % {"angle": reading.view_angle_deg})
    return " · ".join(said)


@register.filter
def field_name(place: Place, number: int) -> str:
    """Return the name of the field of one value."""
    return f"v-{place.key}-{number}"


@register.filter
def other_name(place: Place, number: int) -> str:
    """Return the name of the field of one value in the other direction."""
    return f"x-{place.key}-{number}"


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
