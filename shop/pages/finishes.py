"""Finishes: the scales with their sources, one value on all of them, and "can this face have this finish?"."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import URLPattern, path
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shop.boards import finishes as board
from shop.pages.doors import answer, door, person, plant
from shop.pages.typed import Typed
from shop.people.roles import Ability
from shop.refusal import Refused
from shop.standards import draft, grades, resins, roughness, steels
from shop.standards.source import STANDING_LABELS

SCALES = (
    ("Ra um", _("Ra in µm")),
    ("Ra uin", _("Ra in µin")),
    ("Rz um", _("Rz in µm")),
    ("VDI", _("VDI 3400 reference")),
    ("N", _("N grade")),
    ("grade", _("mould finish grade")),
)
LETTERS = {"A": "polished", "B": "polished", "C": "stoned", "D": "blasted"}
# Words of the tables, so that the catalogues know them.
WORDS = {
    "no": _("no"),
    "average": _("average"),
    "good": _("good"),
    "excellent": _("excellent"),
    "diamond": _("diamond"),
    "paper": _("paper"),
    "stone": _("stone"),
    "blast": _("blast"),
    "glass bead": _("glass bead"),
    "aluminium oxide": _("aluminium oxide"),
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
    """Show the scales, and answer what the address asks of them."""
    typed = Typed(request.GET, person(request))
    variant = plant(request).grade_ra_variant
    context: dict[str, Any] = {
        "scales": SCALES,
        "variant": variant,
        "grade_rows": [
            (grade, LETTERS[grade.letter], grade.ra_um(variant), _other(grade, variant)) for grade in grades.GRADES
        ],
        "ra_source": grades.RA_SOURCES[variant],
        "grade_source": grades.GRADE_SOURCE,
        "vdi_rows": roughness.VDI_CATALOGUE,
        "vdi_sources": (roughness.VDI_SOURCE, roughness.VDI_CARD_SOURCE),
        "n_rows": roughness.N_GRADES,
        "n_source": roughness.N_SOURCE,
        "resins": list(resins.RESIN_SUITABILITY),
        "suits": [
            (one.name, [(resin, row[one.name]) for resin, row in resins.RESIN_SUITABILITY.items()])
            for one in grades.GRADES
        ],
        "resin_sources": (resins.RESIN_SOURCE, resins.RESIN_CD_SOURCE),
        "steels": steels.STEELS,
        "steel_source": steels.STEEL_SOURCE,
        "draft_rules": draft.DRAFT_RULES,
        "draft_source": draft.DRAFT_SOURCE,
        "steel_choices": [(one.number, one.number) for one in steels.STEELS],
        "resin_choices": [(one, one) for one in resins.RESIN_SUITABILITY],
        "grade_choices": [(one.name, one.name) for one in grades.GRADES],
        "standings": {standing: gettext(label) for standing, label in STANDING_LABELS.items()},
        "named": WORDS,
        "typed": typed,
    }
    refused = _answer(typed, variant, context)
    return answer(request, "finishes/finishes.html", context, refused, typed=typed, part="converted")


def _other(grade: grades.Grade, variant: int) -> tuple[float, float]:
    return grade.ra_um(1 if variant == 2 else 2)


def _answer(typed: Typed, variant: int, context: dict[str, Any]) -> Refused | None:
    """Put the converted value and the answers on steel, resin and draft into the context; return what was refused."""
    context["converted"], context["says"] = None, []
    try:
        if typed.was["value"]:
            scale = typed.choice("scale", board.SCALES)
            number = typed.decimal("value") if scale not in ("N", "grade") else None
            if typed.ok:
                context["converted"] = board.on_every_scale(scale, typed.was["value"], number, variant)
        if typed.was["grade"]:
            hardness = typed.decimal("hardness")
            context["says"] += board.can_have(typed.was["steel"], hardness, typed.was["resin"], typed.was["grade"])
        depth = typed.quantity("depth", "um")
        if depth is not None:
            context["says"] += board.by_texture(typed.was["steel"], depth, typed.decimal("draft"))
    except Refused as said_no:
        return said_no
    return None


urls: list[URLPattern] = [path("finishes/", finishes, name="finishes")]
