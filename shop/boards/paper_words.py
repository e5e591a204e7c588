"""Words and drawings that several papers share."""

from __future__ import annotations

from typing import Any

from django.utils.translation import gettext, gettext_noop

from shop import picture
from shop.boards import ra_bands
from shop.people import wording
from shop.picture import swatches
from shop.tooling.models import Concession, Insert, Limit, Parameter, Spec
from shop.tooling.services.spec_checks import UNITS
from shop.units import Quantity

INK = (
    'text{font-family:"Source Sans Pro",sans-serif}'
    ".band{fill:#e4e4e4;fill-opacity:1}.ruling{stroke:#999}.hatch{stroke:#333;stroke-opacity:1}"
    ".tick-mark{stroke-width:3.5}.soft{fill:#222}"
    ".there{fill:#444;fill-opacity:1;stroke:#444}.gone{stroke:#777}.whole{stroke:#111;stroke-width:1.6}"
    ".steel{stroke:#777}.face{fill-opacity:0;stroke:#777}.face-map text{font-size:18px}"
    ".is-chosen .face{fill:#dcdcdc;fill-opacity:1;stroke:#111;stroke-width:3.5}"
)


def inked(thing: Any) -> str:
    """Return a picture with its ink inside it: the printer of paper does not look at a page's styles for a drawing."""
    if thing is None:
        return ""
    return picture.draw(thing).replace("</title>", f"</title><style>{INK}</style>", 1)


def steel_words(insert: Insert) -> str:
    """Return a steel with its hardness."""
    if insert.hardness_hrc is None:
        return insert.steel
    return f"{insert.steel}, {wording.number(insert.hardness_hrc.normalize())} HRC"


def swatch(spec: Spec | None) -> str:
    """Return the drawn lay of a finish."""
    if spec is None:
        return ""
    grade = spec.code if spec.scale == Spec.Scale.GRADE else ""
    return swatches.swatch(spec.how_made, grade, str(spec.get_how_made_display()))


def spec_words(spec: Spec | None) -> str:
    """Return a finish in one line, with its revision."""
    if spec is None:
        return ""
    parts = [str(spec.get_how_made_display())]
    if spec.code:
        parts.append(f"{spec.get_scale_display()} {spec.code}")
    if bands := ra_bands.beside(spec):
        parts.append(bands)
    if spec.plaque:
        parts.append(gettext("plaque %(plaque)s") % {"plaque": spec.plaque})
    parts.append(gettext("revision %(number)s") % {"number": spec.revision})
    return ", ".join(parts)


def limit_words(limit: Limit) -> str:
    """Return one limit of a spec."""
    lower, upper = (
        None if side is None else wording.show(Quantity(side, limit.unit)) for side in (limit.lower, limit.upper)
    )
    angle = f" {limit.geometry_deg}°" if limit.geometry_deg else ""
    spot = f", {limit.spot.name}" if limit.spot else ""
    name = f"{limit.get_parameter_display()}{angle} ({limit.get_where_display()}{spot})"
    if lower and upper:
        return gettext("%(name)s %(lower)s to %(upper)s") % {"name": name, "lower": lower, "upper": upper}
    if upper:
        return gettext("%(name)s at most %(upper)s") % {"name": name, "upper": upper}
    return gettext("%(name)s at least %(lower)s") % {"name": name, "lower": lower}


def um(depth_um: Any) -> str:
    """Return a depth of steel."""
    return wording.NOTHING if depth_um is None else wording.show(Quantity(depth_um, "um"))


def concession_words(concession: Concession) -> str:
    """Return a concession with its limits and where it ends."""
    unit = UNITS[Parameter(concession.parameter)]
    limits = [
        gettext(words) % {"value": wording.show(Quantity(side, unit))}
        for side, words in (
            (concession.lower, gettext_noop("from %(value)s")),
            (concession.upper, gettext_noop("to %(value)s")),
        )
        if side is not None
    ]
    said = {"number": concession.number, "parameter": concession.get_parameter_display(), "limits": " ".join(limits)}
    words = gettext("Concession %(number)s: %(parameter)s %(limits)s") % said
    return ", ".join([words, *ends(concession)])


def ends(concession: Concession) -> list[str]:
    """Return by what a concession ends: a date, the insert's shots, a quantity of parts."""
    found = []
    if concession.until_on:
        found.append(gettext("until %(day)s") % {"day": wording.day(concession.until_on)})
    if concession.until_insert_shots:
        found.append(
            gettext("until the insert has made %(shots)s") % {"shots": wording.shots(concession.until_insert_shots)}
        )
    if concession.until_quantity:
        found.append(gettext("for %(count)s") % {"count": wording.shots(concession.until_quantity)})
    return found
