"""Every published scale and rule as a table with its sources, grouped as an index."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy as _

from shop.boards.scale_measuring import MEASURING
from shop.boards.scale_table import Column, Lay, Table, span, um
from shop.people import ra_table
from shop.people.models import Plant
from shop.refusal import Word, gettext_noop
from shop.standards import (
    abrasives,
    coatings,
    draft,
    eroded,
    grades,
    hardness,
    mould_classes,
    resins,
    roughness,
    steels,
)
from shop.units import Quantity

LAYS = {"A": "polished", "B": "polished", "C": "stoned", "D": "blasted"}
# A blast medium and the media of the ladders, so that the catalogues know them.
MADE_WITH = {
    "diamond": gettext_noop("diamond"),
    "CAMI": gettext_noop("paper, CAMI"),
    "stone": gettext_noop("stone"),
    "glass bead": gettext_noop("dry blast, glass bead"),
    "aluminium oxide": gettext_noop("dry blast, aluminium oxide"),
}
KINDS = (gettext_noop("layer"), gettext_noop("diffusion"))
SYSTEMS = {
    "P": _("FEPA P, papers"),
    "CAMI": _("CAMI, American papers"),
    "F": _("FEPA F, blast media"),
    "diamond": _("diamond paste"),
}


def _grades(plant: Plant) -> Table:
    in_force = ra_table.in_force(plant)
    rows: list[Sequence[Any]] = []
    for grade in grades.GRADES:
        own = isinstance(in_force, grades.RaTable) and grade.name not in in_force.bands_um
        alike = () if own else grades.cannot_tell_apart(grade.name, in_force)
        made = (Word(MADE_WITH[grade.grading]), f"{grade.grain} µm" if grade.grading == "diamond" else grade.grain)
        rows.append(
            (
                Lay(LAYS[grade.letter], grade.name, grade.name), made,
                None if own else span(*grade.ra_um(in_force), "um"), span(*grade.ra_um(1), "um"),
                span(*grade.ra_um(2), "um"), ", ".join(alike),
            )
        )  # fmt: skip
    names = (Column(_("Grade")), Column(_("Made with")), Column(_("Ra in force"), True), Column(_("variant 1"), True),
             Column(_("variant 2"), True), Column(_("Ra cannot tell it from")))  # fmt: skip
    sources = (grades.GRADE_SOURCE, *grades.RA_SOURCES.values())
    if isinstance(in_force, grades.RaTable):
        sources = (*sources, in_force.source)
    return Table(
        names, rows, sources, note=_("A grade is a process and a plaque first; nothing is rejected on Ra alone.")
    )


def _vdi(_plant: Plant) -> Table:
    names = (Column(_("Ref")), Column("Ra", True), Column(_("Rz, card"), True), Column(_("Draft PA"), True),
             Column(_("Draft PC"), True), Column(_("Draft ABS"), True))  # fmt: skip
    rows = [
        (Lay("spark-eroded", "", str(row.ref)), um(row.ra_um), um(row.card_rz_um), _deg(row.draft_pa_deg),
         _deg(row.draft_pc_deg), _deg(row.draft_abs_deg))
        for row in roughness.VDI_CATALOGUE
    ]  # fmt: skip
    return Table(names, rows, (roughness.VDI_SOURCE, roughness.VDI_CARD_SOURCE), note=_("Ref = 20 log10 (10 Ra)."))


def _n(_plant: Plant) -> Table:
    rows = [(row.name, um(row.ra_um)) for row in roughness.N_GRADES]
    names = (Column(_("Grade")), Column(_("Ra at most"), True))
    return Table(names, rows, (roughness.N_SOURCE,), note=_("Each is an upper limit of Ra."))


def _steels(_plant: Plant) -> Table:
    american = {number: name for name, number in steels.AMERICAN_NAMES.items()}
    names = (Column(_("Steel")), Column(_("near American name")), Column(_("Kind")), Column(_("Best finish")),
             Column(_("from"), True), Column(_("Texture")), Column(_("Usual HRC"), True))  # fmt: skip
    rows = [
        (one.number, american.get(one.number), tuple(_kinds(one)), one.best_finish,
         None if one.finish_from_hrc is None else Quantity(Decimal(str(one.finish_from_hrc)), "HRC"),
         Word(one.texture), None if one.hardness_hrc is None else span(*one.hardness_hrc, "HRC"))
        for one in steels.STEELS
    ]  # fmt: skip
    sources = (steels.STEEL_SOURCE, steels.HARDNESS_SOURCE, steels.NAMES_SOURCE)
    return Table(names, rows, sources, note=_("Beyond the best practical finish: with care, and the lead decides."))


def _kinds(one: steels.Steel) -> Iterator[Word]:
    yield Word(one.kind)
    if one.resulphurised:
        yield Word(gettext_noop("resulphurised"))
    if one.remelted:
        yield Word(gettext_noop("remelted"))
    if one.stainless:
        yield Word(gettext_noop("stainless"))


def _hardness(_plant: Plant) -> Table:
    rows = [
        (str(hrc), str(hv), str(hb), Word(gettext_noop("several sources")) if hrc in hardness.PRINTED_HRC
         else Word(gettext_noop("from memory")))
        for hrc, hv, hb in hardness.POINTS
    ]  # fmt: skip
    names = (Column("HRC"), Column("HV", True), Column("HBW", True), Column(_("Standing")))
    return Table(
        names,
        rows,
        (hardness.HARDNESS_SOURCE, hardness.MEMORY_SOURCE),
        note=_("Straight lines between the points; nothing beyond them."),
    )


def _coatings(_plant: Plant) -> Table:
    kiss = {True: gettext_noop("yes"), False: gettext_noop("no"), None: gettext_noop("not known")}
    rows = [
        (Word(one.name), Word(one.kind), span(*one.thickness_um, "um") if one.thickness_um else None, Word(one.finish),
         Word(kiss[one.kiss_polish]))
        for one in coatings.COATINGS
    ]  # fmt: skip
    names = (Column(_("Coating")), Column(_("Kind")), Column(_("Usual thickness"), True), Column(_("The finish")),
             Column(_("Kiss polish on it")))  # fmt: skip
    return Table(names, rows, (coatings.COATING_SOURCE,))


def _resins(_plant: Plant) -> Table:
    names = (Column(_("Grade")), *(Column(resin) for resin in resins.RESIN_SUITABILITY))
    rows = [
        (Lay(LAYS[one.letter], one.name, one.name), *(Word(row[one.name]) for row in resins.RESIN_SUITABILITY.values()))
        for one in grades.GRADES
    ]
    return Table(names, rows, (resins.RESIN_SOURCE, resins.RESIN_CD_SOURCE), wide=True)


def _eroded(_plant: Plant) -> Table:
    rows: list[Sequence[Any]] = [
        (Word(gettext_noop("white layer, whole range")), None, span(*eroded.WHITE_LAYER_UM, "um")),
        (Word(gettext_noop("heat-affected below it")), None, span(*eroded.HEAT_AFFECTED_UM, "um")),
    ]
    for row in eroded.PLANNING:
        rows.append((Word(gettext_noop("to plan with")), _ra_range(row), span(*row.layer_um, "um")))
    names = (Column(_("What")), Column("Ra", True), Column(_("Depth"), True))
    note = _("Between Ra 6 and 8 µm the source says nothing, and nothing is made up.")
    return Table(names, rows, (eroded.LAYER_SOURCE, eroded.PLANNING_SOURCE), note=note)


def _ra_range(row: eroded.LayerRow) -> tuple[Any, ...]:
    if row.above_ra_um is None:
        return "≤", um(row.to_ra_um or 0)
    return (">", um(row.above_ra_um)) if row.to_ra_um is None else span(row.above_ra_um, row.to_ra_um, "um")


def _draft(_plant: Plant) -> Table:
    depths = (10.0, 25.0, 50.0, 100.0)
    names = (Column(_("Rule")), Column(_("To begin with"), True), Column(_("for each 25 µm of depth"), True),
             *(Column(f"{depth:g} µm", True) for depth in depths))  # fmt: skip
    rows = [
        (Word(rule.name), _deg(rule.base_deg), _deg(rule.per_step_deg),
         *(_deg(draft.textured_draft_deg(depth, rule.name)) for depth in depths))
        for rule in draft.DRAFT_RULES
    ]  # fmt: skip
    return Table(
        names,
        rows,
        (draft.DRAFT_SOURCE,),
        note=_("The sources conflict; the usual rule stands in the answers, the texture house decides."),
    )


def _classes(_plant: Plant) -> Table:
    names = (Column(_("Class")), Column(_("Cycles from"), True), Column(_("Cycles up to"), True),
             Column(_("Cavity at least"), True), Column(_("Base at least"), True))  # fmt: skip
    rows = [
        (str(one.number), _shots(one.least_shots), _shots(one.most_shots),
         None if one.cavity_hrc is None else Quantity(Decimal(str(one.cavity_hrc)), "HRC"),
         _base(one))
        for one in mould_classes.MOULD_CLASSES
    ]  # fmt: skip
    return Table(names, rows, (mould_classes.CLASS_SOURCE,), note=_("Moving steels differ by 4 HRC or more."))


def _base(one: mould_classes.MouldClass) -> Quantity | str | None:
    if one.base_hrc:
        return Quantity(Decimal(str(one.base_hrc)), "HRC")
    return f"{one.base_hb:g} HB" if one.base_hb else None


def _grain(_plant: Plant) -> Table:
    names = (
        Column(_("System")),
        Column(_("Number")),
        Column(_("Median grain"), True),
        Column(_("The same grain in the other systems")),
    )
    rows = []
    for system in ("P", "CAMI", "F"):
        for number, size in abrasives.GRAINS_UM[system].items():
            same = [f"{one.system} {one.number:g}" for one in abrasives.same_grain(system, number)]
            rows.append((SYSTEMS[system], str(number), um(size), ", ".join(same)))
    for size in abrasives.PASTES_UM:
        same = [f"{one.system} {one.number:g}" for one in abrasives.same_grain("diamond", size)]
        rows.append((SYSTEMS["diamond"], f"{size:g} µm", um(size), ", ".join(same)))
    sources = (*abrasives.GRAIN_SOURCES.values(), *abrasives.MEMORY_SOURCES.values())
    return Table(names, rows, sources, note=_("The grading system stands with every grain: P 400 is not CAMI 400."))


def _deg(value: float) -> Quantity:
    return Quantity(Decimal(str(round(value, 2))), "deg")


def _shots(value: int | None) -> Quantity | None:
    return None if value is None else Quantity(Decimal(value), "shots")


@dataclass(frozen=True)
class Scale:
    """One table by its name in the address."""

    slug: str
    title: Any
    table: Callable[[Plant], Table]


GROUPS: tuple[tuple[Any, tuple[Scale, ...]], ...] = (
    (_("Finish"), (Scale("grades", _("Mould finish grades"), _grades), Scale("vdi", "VDI 3400", _vdi),
                   Scale("n", _("N grades"), _n))),
    (_("Measuring and deciding"), tuple(Scale(slug, title, table) for slug, title, table in MEASURING)),
    (_("Material"), (Scale("steels", _("Steels"), _steels), Scale("hardness", _("Hardness"), _hardness),
                     Scale("coatings", _("Coatings"), _coatings), Scale("resins", _("Resins"), _resins))),
    (_("Mould and bench"), (Scale("draft", _("Draft of textured walls"), _draft),
                            Scale("classes", _("Mould classes"), _classes), Scale("grain", _("Grain"), _grain),
                            Scale("eroded", _("Spark-eroded layer"), _eroded))),
)  # fmt: skip
BY_SLUG = {scale.slug: scale for _group, scales in GROUPS for scale in scales}
