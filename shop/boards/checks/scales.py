"""Roughness scales, the grades and their bands."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards import grades, roughness

AREA = "roughness scales"
# The catalogue rounds its Ra: 18.0 at Ref 45 is 1.22 % above the formula, the furthest of all.
CATALOGUE_ROUNDS = 0.0125


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of this area."""
    yield from _vdi(Table(AREA, tables["vdi3400_catalogue"]))
    yield from _n_grades(Table(AREA, tables["n_grades"]))
    yield from _grades(Table(AREA, tables["blast_and_grade"]))
    yield from _bands(Table(AREA, tables["grade_ra_bands"]))


def _vdi(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        ref, ra = float(row["ref"]), float(row["ra_um"])
        label = f"Ref {row['ref']}"
        near = CATALOGUE_ROUNDS * ra
        yield table.check(
            label, "Ra by the formula", row["ra_um"], of(roughness.vdi3400_ra_um, ref), "um", tolerance=near
        )
        yield table.check(
            f"Ra {row['ra_um']}", "Ref by the formula", row["ref"], of(roughness.vdi3400_ref, ra), tolerance=0.11
        )
        yield table.held(label, "Ra of the catalogue", row["ra_um"], of(roughness.vdi_card_row, ref, at="ra_um"), "um")
        yield table.check(
            label,
            "Rz of the card",
            row["card_rz_um"],
            of(roughness.vdi_card_row, ref, at="card_rz_um"),
            "um",
            tolerance=0.0,
            standing="common practice",
        )


def _n_grades(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        name, ra = row["grade"], float(row["ra_um"])
        yield table.held(name, "upper limit of Ra", row["ra_um"], of(roughness.n_grade_ra_um, name), "um")
        yield table.check(f"Ra {row['ra_um']}", "grade it still meets", name, of(roughness.n_grade_for, ra), words=True)


def _grades(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        grade = grades.grade_named(row["grade"])
        yield table.check(
            grade.name,
            f"grain, {row['grading']}",
            row["grain"],
            of(grades.grade_named, grade.name, at="grain"),
            words=True,
        )
        if row["distance_in"]:
            yield table.held(
                grade.name,
                "blast distance",
                row["distance_in"],
                of(grades.grade_named, grade.name, at="distance_in"),
                "in",
            )
            yield table.check(
                grade.name,
                "stone under the blast",
                row["stone_under"],
                of(grades.STONE_BEFORE_BLAST.__getitem__, grade.name),
                words=True,
            )


def _bands(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        grade = grades.grade_named(row["grade"])
        for variant in (1, 2):
            for side, place in (("lower", 0), ("upper", 1)):
                yield table.held(
                    grade.name,
                    f"Ra, variant {variant}, {side}",
                    row[f"variant_{variant}_{side}_um"],
                    of(grade.ra_um, variant, at=place),
                    "um",
                )
