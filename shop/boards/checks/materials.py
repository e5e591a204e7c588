"""Grain, hardness, mould classes, draft, steels, resins and layers."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards import abrasives, coatings, draft, eroded, hardness, mould_classes, resins, roughness, steels

GRAIN, HARDNESS, WALLS, MATERIALS = "grain", "hardness", "draft and mould classes", "steels, resins and layers"
_PRINTED_SCALES = (("hrc", "HRC"), ("hv", "HV"), ("hb", "HBW"))


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of these areas."""
    yield from _grains(Table(GRAIN, tables["grains"]), Table(GRAIN, tables["same_grain"]))
    yield from _hardness(Table(HARDNESS, tables["hardness"]))
    yield from _classes(Table(WALLS, tables["mould_classes"]))
    yield from _draft(Table(WALLS, tables["draft_rules"]))
    yield from _card_draft(Table(WALLS, tables["vdi3400_catalogue"]))
    yield from _steels(Table(MATERIALS, tables["steels"]))
    yield from _layers(Table(MATERIALS, tables["coatings"]))
    yield from _eroded(Table(MATERIALS, tables["eroded_layer"]))
    yield from _resins(Table(MATERIALS, tables["resin_suitability"]))


def _grains(grains: Table, same: Table) -> Iterator[Check]:
    for row in grains.printed.rows:
        system, number = row["system"], row["number"]
        yield grains.check(
            f"{system} {number}",
            "median grain",
            row["grain_um"],
            of(abrasives.grain_um, system, number),
            "um",
            tolerance=0.0,
            standing=row["standing"],
        )
    for row in same.printed.rows:
        system, number, other = row["system"], row["number"], row["other"]
        yield same.held(
            f"{system} {number}", f"about the same in {other}", row["same"], of(_same, system, number, other)
        )


def _same(system: str, number: str, other: str) -> float:
    return float(abrasives.in_other_systems(system, number)[other])


def _hardness(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        for here, from_scale in _PRINTED_SCALES:
            for there, to_scale in _PRINTED_SCALES:
                if here != there:
                    yield table.held(
                        f"{row[here]} {from_scale}",
                        f"in {to_scale}",
                        row[there],
                        of(hardness.convert, float(row[here]), from_scale, to_scale),
                        to_scale,
                    )


def _classes(table: Table) -> Iterator[Check]:
    units = {"most_shots": "shots", "cavity_hrc": "HRC", "base_hrc": "HRC", "base_hb": "HB"}
    for row in table.printed.rows:
        number = int(row["class"])
        for name, unit in units.items():
            if row[name]:
                yield table.held(
                    f"class {number}",
                    name.replace("_", " "),
                    row[name],
                    of(mould_classes.mould_class, number, at=name),
                    unit,
                )


def _draft(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        rule, depth = row["rule"], float(row["depth_um"])
        yield table.check(
            f"{rule}, {row['depth_um']} um deep",
            "draft",
            row["draft_deg"],
            of(draft.textured_draft_deg, depth, rule),
            "deg",
            tolerance=0.0,
        )


def _card_draft(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        for name in ("PA", "PC", "ABS"):
            yield table.check(
                f"Ref {row['ref']}",
                f"draft of the card, {name}",
                row[f"draft_{name.lower()}_deg"],
                of(roughness.vdi_card_draft_deg, float(row["ref"]), name),
                "deg",
                tolerance=0.0,
                standing="common practice",
            )


def _steels(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        number = row["steel"]
        yield table.check(
            number,
            "best practical finish",
            row["best_finish"],
            of(steels.steel_named, number, at="best_finish"),
            words=True,
        )
        if row["from_hrc"]:
            yield table.held(
                number, "best finish from", row["from_hrc"], of(steels.steel_named, number, at="finish_from_hrc"), "HRC"
            )


def _layers(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        for place, side in enumerate(("from_um", "to_um")):
            yield table.held(
                row["layer"], f"usual thickness {side[:-3]}", row[side], of(_thickness, row["layer"], place), "um"
            )


def _thickness(layer: str, place: int) -> float:
    thickness = coatings.coating_named(layer).thickness_um
    return float("nan") if thickness is None else thickness[place]


def _eroded(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        for place, side in enumerate(("from_um", "to_um")):
            compute = of(eroded.white_layer_um, float(row["ra_um"]), at=place)
            yield table.held(f"Ra {row['ra_um']} um as eroded", f"white layer {side[:-3]}", row[side], compute, "um")


def _resins(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        for grade in (name for name in row if name != "resin"):
            standing = "several sources" if grade[0] in "AB" else "common practice"
            yield table.check(
                row["resin"],
                grade,
                row[grade],
                of(resins.resin_suitability, row["resin"], grade),
                standing=standing,
                words=True,
            )
