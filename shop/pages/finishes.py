"""Finishes: an index of every scale with its sources, and one value on all of them."""

from __future__ import annotations

from typing import Any

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils.translation import gettext_lazy as _

from shop.boards import finishes as board
from shop.boards import scales
from shop.pages.doors import answer, door, person, plant
from shop.pages.typed import Typed
from shop.people import ra_table
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.standards import grades, hardness

SCALES = (
    ("Ra um", _("Ra in µm")),
    ("Ra uin", _("Ra in µin")),
    ("Rz um", _("Rz in µm")),
    ("VDI", _("VDI 3400 reference")),
    ("N", _("N grade")),
    ("grade", _("mould finish grade")),
)
# Words of the tables, so that the catalogues know them.
WORDS = {
    "no": _("no"),
    "average": _("average"),
    "good": _("good"),
    "excellent": _("excellent"),
    "prehardened": _("prehardened"),
    "hardened": _("hardened"),
    "age-hardened": _("age-hardened"),
    "aluminium": _("aluminium"),
    "well": _("well"),
    "yes": _("yes"),
    "with care": _("with care"),
    "usual": _("usual"),
    "lean": _("lean"),
    "in total": _("in total"),
}


@door(Ability.READ)
def finishes(request: HttpRequest) -> HttpResponse:
    """Show the index of the scales, and a value on all of them."""
    typed, refused = Typed(request.GET, person(request)), None
    in_force = ra_table.in_force(plant(request))
    context: dict[str, Any] = {
        "scales": SCALES,
        "groups": scales.GROUPS,
        "bands": ra_table.name_of(plant(request)),
        "converted": None,
    }
    try:
        if typed.was["value"]:
            context["converted"] = _converted(typed, in_force)
    except Refused as said_no:
        refused = said_no
    return answer(request, "finishes/finishes.html", context, refused, typed=typed, part="converted")


def _converted(typed: Typed, in_force: int | grades.RaTable) -> board.OnEveryScale | None:
    scale = typed.choice("scale", board.SCALES)
    number = typed.decimal("value") if scale not in ("N", "grade") else None
    return board.on_every_scale(scale, typed.was["value"], number, in_force) if typed.ok else None


@door(Ability.READ)
def scale(request: HttpRequest, slug: str) -> HttpResponse:
    """Show one scale as a table; for grain and hardness answer one value on the other scales."""
    shown = scales.BY_SLUG.get(slug)
    if shown is None:
        raise Http404(slug)
    typed, refused = Typed(request.GET, person(request)), None
    context: dict[str, Any] = {
        "shown": shown,
        "table": shown.table(plant(request)),
        "groups": scales.GROUPS,
        "bands": ra_table.name_of(plant(request)),
        "systems": list(scales.SYSTEMS.items()),
        "hardness_scales": [(one, "HBW" if one == "HB" else one) for one in hardness.SCALES],
        "grain": None,
        "hard": None,
    }
    try:
        if slug == "grain" and typed.was["number"]:
            system = typed.choice("system", scales.SYSTEMS)
            context["grain"] = board.same_grain(system, typed.was["number"]) if typed.ok else None
        if slug == "hardness" and typed.was["value"]:
            value, unit = typed.decimal("value"), typed.choice("scale", hardness.SCALES)
            context["hard"] = board.on_hardness_scales(value, unit).items() if typed.ok and value is not None else None
    except Refused as said_no:
        refused = said_no
    return answer(request, "finishes/scale.html", context, refused, typed=typed)


urls: list[URLPattern] = [
    path("finishes/", finishes, name="finishes"),
    path("finishes/scales/<slug:slug>/", scale, name="finishes-scale"),
]
