"""Measuring conditions, acceptance and gloss."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards import acceptance, conditions, gloss

CONDITIONS, ACCEPTANCE, GLOSS = "measuring conditions", "acceptance", "gloss"
_RA_OF_CLASS = {"Sc1": 0.02, "Sc2": 0.1, "Sc3": 2.0, "Sc4": 10.0, "Sc5": 80.0}


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of these areas."""
    for name, edition in (("iso4288_conditions", conditions.ISO_1996), ("iso21920_conditions", conditions.ISO_2021)):
        yield from _bounds(Table(CONDITIONS, tables[name]), edition)
    yield from _classes(Table(CONDITIONS, tables["iso21920_classes"]))
    yield from _spacing(Table(CONDITIONS, tables["iso4288_spacing"]))
    yield from _sixteen(Table(ACCEPTANCE, tables["iso4288_sixteen"]))
    yield from _defaults(Table(ACCEPTANCE, tables["default_rules"]))
    yield from _fresnel(Table(GLOSS, tables["fresnel"]))
    yield from _angles(Table(GLOSS, tables["gloss_angles"]))


def _bounds(table: Table, edition: str) -> Iterator[Check]:
    rows = table.printed.rows
    for row, after in zip(rows, [*rows[1:], None], strict=True):
        to, parameter = float(row["to_um"]), row["parameter"]
        label = f"{parameter} to {row['to_um']} um"
        found = conditions.measuring_conditions
        yield table.held(label, "cut-off", row["cutoff_mm"], of(found, parameter, to, edition, at="cutoff_mm"), "mm")
        yield table.check(
            label,
            "evaluation length",
            row["evaluation_length_mm"],
            of(found, parameter, to, edition, at="evaluation_length_mm"),
            "mm",
            tolerance=0.0,
        )
        if after is not None and after["parameter"] == parameter:
            yield table.held(
                f"{parameter} just above {row['to_um']} um",
                "cut-off",
                after["cutoff_mm"],
                of(found, parameter, math.nextafter(to, math.inf), edition, at="cutoff_mm"),
                "mm",
            )


def _classes(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        ra = _RA_OF_CLASS[row["class"]]
        for name, unit in (("cutoff_mm", "mm"), ("lambda_s_um", "um"), ("tip_um", "um"), ("spacing_um", "um")):
            yield table.held(
                row["class"],
                name.rsplit("_", 1)[0].replace("_", " "),
                row[name],
                of(conditions.measuring_conditions, "Ra", ra, conditions.ISO_2021, at=name),
                unit,
            )


def _spacing(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        to, above = float(row["to_mm"]), math.nextafter(float(row["above_mm"]), math.inf)
        for label, rsm in ((f"RSm to {row['to_mm']} mm", to), (f"RSm just above {row['above_mm']} mm", above)):
            yield table.held(
                label, "cut-off", row["cutoff_mm"], of(conditions.conditions_for_spacing, rsm, at="cutoff_mm"), "mm"
            )


def _sixteen(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        taken = int(row["taken"])
        compute = _largest_first_share if taken == 1 else of(_most_beyond, taken)
        yield table.held(f"{taken} taken", row["what"], row["printed"], compute, "" if taken == 1 else "values")


def _largest_first_share() -> float:
    """Return the largest first value, in hundredths of the limit, at which the rule stops and accepts."""
    shares = [hundredths / 100 for hundredths in range(1, 101)]
    return max(share for share in shares if acceptance.accept([share], 1.0, "16 %").conforms)


def _most_beyond(taken: int) -> float:
    """Return how many of so many values may lie far beyond a limit, the others just inside it."""
    few = [n for n in range(taken) if acceptance.accept([0.99] * (taken - n) + [9.9] * n, 1.0, "16 %").conforms]
    return float(max(few))


def _defaults(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        edition = row["edition"]
        yield table.check(
            edition,
            "default rule",
            row["rule"],
            of(acceptance.default_rule, edition),
            standing=row["standing"],
            words=True,
        )


def _fresnel(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        index, angle = float(row["index"]), float(row["angle_deg"])
        label = f"n {row['index']} at {row['angle_deg']}°"
        if row["reflectance"]:
            yield table.check(label, "reflectance", row["reflectance"], of(gloss.specular_reflectance, index, angle))
        yield table.check(
            label, "gloss of an ideal surface", row["gloss_gu"], of(gloss.ideal_gloss_gu, index, angle), "GU"
        )


def _angles(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        yield table.held(
            f"{row['gloss_60_gu']} GU at 60°",
            "angle advised",
            row["advised_deg"],
            of(gloss.geometry_deg, float(row["gloss_60_gu"])),
            "deg",
        )
