"""The tables of measuring and deciding: conditions by edition, acceptance rules, guard bands, gloss."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy as _

from shop.boards.scale_table import Column, Table, um
from shop.people.models import Plant
from shop.refusal import Word, gettext_noop
from shop.standards import acceptance, conditions, conformity, gloss, resins
from shop.units import Quantity

_RULES = {
    "16 %": gettext_noop(
        "At most 16 % of the values may lie beyond: a first value within 70 % of the limit, or none of 3, 1 of 6, 2 of "
        "12."
    ),
    "Tmax": gettext_noop("No value may lie beyond the limit."),
    "T16": gettext_noop("At most 16 % of the values may lie beyond the limit."),
    "Tmed": gettext_noop("The median must not lie beyond the limit."),
    "mean": gettext_noop("The mean must not lie beyond the limit."),
    "simple": gettext_noop("A value is held against the limit as it is."),
}


def _conditions(edition: str) -> Callable[[Plant], Table]:
    def table(_plant: Plant) -> Table:
        bounds = {what: _bounds(edition, what) for what in ("Ra", "Rz")}
        rows = []
        for row, cutoff in enumerate(conditions.CUTOFFS_MM):
            found = conditions.conditions_for_cutoff(cutoff, edition)
            rows.append(
                (found.setting_class or str(row + 1), bounds["Ra"].get(cutoff), bounds["Rz"].get(cutoff), _mm(cutoff),
                 _mm(found.evaluation_length_mm), _um(found.lambda_s_um), _um(found.tip_um), _um(found.spacing_um))
            )  # fmt: skip
        names = (Column(_("Row")), Column(_("Ra up to"), True), Column(_("Rz up to"), True), Column("λc", True),
                 Column(_("Evaluation length"), True), Column("λs", True), Column(_("Tip radius at most"), True),
                 Column(_("Spacing at most"), True))  # fmt: skip
        first = conditions.conditions_for_cutoff(0.8, edition)
        by_value = edition == conditions.ISO_1996
        note = (
            _("Chosen by the value that is estimated and then measured: it is measured again until it lies in its row.")
            if by_value
            else _("Chosen from the upper limit of the drawing, before anything is measured.")
        )
        return Table(names, rows, tuple(dict.fromkeys((first.source, first.instrument))), note=note)

    return table


def _bounds(edition: str, parameter: str) -> dict[float, Quantity]:
    """Return the upper bound of each cut-off's row as the module states it; the last may have none."""
    label = f"{parameter} to, cut-off "
    return {
        float(one.what.removeprefix(label).removesuffix(" mm")): um(float(one.value))
        for one in conditions.stated()
        if one.table == f"{edition} bounds" and one.what.startswith(label)
    }


def _acceptance(_plant: Plant) -> Table:
    defaults: dict[str, list[str]] = {}
    for edition in (conditions.ISO_1996, conditions.ISO_2021, "ASME B46.1"):
        defaults.setdefault(acceptance.default_rule(edition), []).append(edition)
    rows = [
        (Word(rule) if rule in ("mean", "simple") else rule, Word(_RULES[rule]), ", ".join(defaults.get(rule, ())))
        for rule in acceptance.RULES
    ]
    names = (Column(_("Rule")), Column(_("What it says")), Column(_("Default of")))
    return Table(names, rows, tuple(acceptance.RULE_SOURCES.values()))


def _guard(_plant: Plant) -> Table:
    rows = [
        (Word(gettext_noop("guard band of one limit at 95 %")), f"{conformity.guard_factor(0.95):.3f} u"),
        (Word(gettext_noop("the guard of one limit is enough for two from")), f"T/u {conformity.GUARD_ENOUGH_FROM:g}"),
        (Word(gettext_noop("no value can be proven below")), f"T/u {conformity.PROVABLE_FROM:g}"),
    ]
    names = (Column(_("What")), Column(_("Value"), True))
    return Table(names, rows, (conformity.GUARD_SOURCE, conformity.CONFORMITY_SOURCE))


def _gloss(_plant: Plant) -> Table:
    names = (Column(_("Opaque, ideal surface of")), Column(_("Index"), True),
             *(Column(_("at most at %(angle)d°") % {"angle": one}, True) for one in gloss.GEOMETRIES_DEG))  # fmt: skip
    rows: list[tuple[Any, ...]] = [
        (Word(gettext_noop("black glass, the standard")), f"{gloss.BLACK_GLASS_INDEX:g}",
         *(_gu(gloss.ideal_gloss_gu(gloss.BLACK_GLASS_INDEX, angle)) for angle in gloss.GEOMETRIES_DEG))
    ]  # fmt: skip
    for resin, index in resins.REFRACTIVE_INDEX.items():
        most = (resins.most_gloss_gu(resin, angle)[0] for angle in gloss.GEOMETRIES_DEG)
        rows.append((resin, f"{index:g}", *(_gu(value) for value in most)))
    rows.append(
        (Word(gettext_noop("spot of usual gloss meters, mm")), None,
         *(f"{w:g} × {h:g}" for w, h in gloss.USUAL_APERTURE_MM.values()))
    )  # fmt: skip
    sources = (gloss.GLOSS_SOURCE, gloss.INTERIOR_TOLERANCE_SOURCE, resins.INDEX_SOURCE, resins.INDEX_MEMORY_SOURCE,
               gloss.APERTURE_SOURCE)  # fmt: skip
    note = _("60° decides; 20° is advised above 70 GU, 85° below 10 GU. Angles do not convert.")
    return Table(names, rows, sources, note=note)


def _gu(value: float) -> Quantity:
    return Quantity(Decimal(f"{value:.1f}"), "GU")


def _mm(value: float) -> Quantity:
    return Quantity(Decimal(str(value)), "mm")


def _um(value: float | None) -> Quantity | None:
    return None if value is None else um(value)


MEASURING: tuple[tuple[str, Any, Callable[[Plant], Table]], ...] = (
    ("iso-4288", "ISO 4288:1996", _conditions(conditions.ISO_1996)),
    ("iso-21920-3", "ISO 21920-3:2021", _conditions(conditions.ISO_2021)),
    ("acceptance", _("Acceptance rules"), _acceptance),
    ("guard", _("Guard bands"), _guard),
    ("gloss", _("Gloss"), _gloss),
)
