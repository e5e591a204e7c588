"""Scales, tables and conditions against print; source and standing stand in each table of fixtures/printed."""

from __future__ import annotations

import math
from types import ModuleType

import pytest

from shop.refusal import Refused
from shop.standards import abrasives, conditions, gloss, hardness, mould_classes, roughness
from shop.standards.conformity import judge
from tests.reference.printed import printed

ISO_1996, ISO_2021 = "ISO 4288:1996", "ISO 21920-3:2021"


def ids(row: dict[str, str]) -> str:
    return " ".join(list(row.values())[:3])


# N grades; several sources.
@pytest.mark.parametrize("row", printed("n_grades").rows, ids=ids)
def test_n_grade_is_an_upper_limit(row: dict[str, str]) -> None:
    ra = float(row["ra_um"])
    assert roughness.n_grade_ra_um(row["grade"]) == ra
    assert roughness.n_grade_for(ra) == row["grade"]
    if row["grade"] != "N12":
        assert roughness.n_grade_for(math.nextafter(ra, math.inf)) == f"N{int(row['grade'][1:]) + 1}"


# ISO 4288:1996 published, ISO 21920-3:2021 several sources; both sides of each bound.
BOUNDS = [(ISO_1996, row) for row in printed("iso4288_conditions").rows] + [
    (ISO_2021, row) for row in printed("iso21920_conditions").rows
]


@pytest.mark.parametrize(("edition", "row"), BOUNDS, ids=lambda value: value if isinstance(value, str) else ids(value))
def test_cutoff_changes_just_above_its_bound(edition: str, row: dict[str, str]) -> None:
    above = math.nextafter(float(row["to_um"]), math.inf)
    following = {0.08: 0.25, 0.25: 0.8, 0.8: 2.5, 2.5: 8.0}.get(float(row["cutoff_mm"]))
    if following is None:
        with pytest.raises(Refused):
            roughness.measuring_conditions(row["parameter"], above, edition)
    else:
        assert roughness.measuring_conditions(row["parameter"], above, edition).cutoff_mm == following


def test_coarsest_class_of_iso_21920_takes_any_rz_above_its_last_bound() -> None:
    assert roughness.measuring_conditions("Rz", 250.0, ISO_2021).setting_class == "Sc5"


@pytest.mark.parametrize("row", printed("iso4288_spacing").rows, ids=ids)
def test_periodic_profile_is_measured_by_its_spacing(row: dict[str, str]) -> None:
    above, to = float(row["above_mm"]), float(row["to_mm"])
    for rsm in (math.nextafter(above, math.inf), (above + to) / 2, to):
        assert conditions.conditions_for_spacing(rsm).cutoff_mm == float(row["cutoff_mm"])


@pytest.mark.parametrize("index", [1.33, 1.49, 1.567, 1.586, 1.9])
@pytest.mark.parametrize("angle", [5.0, 20.0, 45.0, 60.0, 75.0, 85.0])
def test_reflectance_agrees_with_fresnels_other_form(index: float, angle: float) -> None:
    first = math.radians(angle)
    second = math.asin(math.sin(first) / index)
    across = (math.sin(first - second) / math.sin(first + second)) ** 2
    along = (math.tan(first - second) / math.tan(first + second)) ** 2
    assert gloss.specular_reflectance(index, angle) == pytest.approx((across + along) / 2, rel=1e-12)


@pytest.mark.parametrize("index", [1.33, 1.49, 1.567])
def test_reflectance_straight_on_is_the_textbook_one(index: float) -> None:
    assert gloss.specular_reflectance(index, 0) == pytest.approx(((index - 1) / (index + 1)) ** 2, rel=1e-13)


def test_worked_viscosity_is_not_proven() -> None:
    assert judge(13.6, 1.8, 12.5, 16.3).conforms == "not proven"


# Grain tables; the standing of each row stands in the table.
@pytest.mark.parametrize("row", printed("grains").rows, ids=ids)
def test_grain_agrees_with_print(row: dict[str, str]) -> None:
    assert abrasives.grain_um(row["system"], row["number"]) == float(row["grain_um"])
    assert abrasives.GRAIN_SOURCES[row["system"]].standing == row["standing"]


def test_grain_tables_hold_nothing_that_is_not_printed() -> None:
    rows = {(row["system"], int(row["number"])) for row in printed("grains").rows}
    assert rows == {
        (system, number)
        for system, table in abrasives.GRAINS_UM.items()
        for number in table
        if number not in abrasives.GRAINS_FROM_MEMORY.get(system, ())
    }


@pytest.mark.parametrize("row", printed("mould_classes").rows, ids=ids)
def test_mould_class_agrees_with_print(row: dict[str, str]) -> None:
    own = mould_classes.mould_class(int(row["class"]))
    for name in ("most_shots", "cavity_hrc", "base_hrc", "base_hb"):
        assert getattr(own, name) == (float(row[name]) if row[name] else None), name


@pytest.mark.parametrize(
    ("module", "table"),
    [(roughness, "VDI_SOURCE"), (roughness, "N_SOURCE"), (hardness, "HARDNESS_SOURCE"), (gloss, "GLOSS_SOURCE"),
     (conditions, "ISO_1996_SOURCE"), (conditions, "ISO_2021_SOURCE"), (mould_classes, "CLASS_SOURCE")],
)  # fmt: skip
def test_table_carries_the_standing_that_is_printed_beside_it(module: ModuleType, table: str) -> None:
    names = {"VDI_SOURCE": "vdi3400_catalogue", "N_SOURCE": "n_grades", "HARDNESS_SOURCE": "hardness",
             "GLOSS_SOURCE": "fresnel", "ISO_1996_SOURCE": "iso4288_conditions",
             "ISO_2021_SOURCE": "iso21920_conditions", "CLASS_SOURCE": "mould_classes"}  # fmt: skip
    assert getattr(module, table).standing == printed(names[table]).standing
