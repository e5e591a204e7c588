"""Grades, steels, grain, gloss, hardness, classes and draft."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards import abrasives, draft, gloss, grades, hardness, mould_classes, resins, steels
from shop.standards.source import STANDING_LABELS, Standing


@pytest.mark.parametrize("written", ["A-2", "a2", "SPI A-2", "spi a2", " A 2 "])
def test_grade_is_read_as_drawings_write_it(written: str) -> None:
    assert grades.grade_named(written).name == "A-2"


@pytest.mark.parametrize("written", ["", "A", "A-4", "E-1", "SPI", "22"])
def test_grade_that_is_none_is_refused(written: str) -> None:
    with pytest.raises(Refused):
        grades.grade_named(written)


@pytest.mark.parametrize("variant", [1, 2])
def test_roughness_cannot_tell_a3_from_b1(variant: int) -> None:
    assert grades.cannot_tell_apart("A-3", variant) == ("B-1",)
    assert "A-3" in grades.cannot_tell_apart("B-1", variant)


@pytest.mark.parametrize(
    ("ra_um", "variant", "names"),
    [
        (0.06, 1, ["A-3", "B-1"]),
        (0.28, 1, ["C-1", "D-1"]),
        (0.30, 2, ["B-3"]),
        (0.2, 1, []),
        (0.025, 2, ["A-1", "A-2"]),
    ],
)
def test_candidates_are_the_grades_whose_band_holds_the_roughness(ra_um: float, variant: int, names: list[str]) -> None:
    assert [grade.name for grade in grades.candidates(ra_um, variant)] == names


@pytest.mark.parametrize(("ra_um", "variant"), [(0, 1), (-1, 1), (math.nan, 1), (0.1, 3), (0.1, 0)])
def test_candidates_without_sense_are_refused(ra_um: float, variant: int) -> None:
    with pytest.raises(Refused):
        grades.candidates(ra_um, variant)


def test_every_grade_carries_the_grading_system_of_its_grain() -> None:
    assert {(g.medium, g.grading) for g in grades.GRADES} == {
        ("diamond", "diamond"), ("paper", "CAMI"), ("stone", "stone"), ("blast", "glass bead"),
        ("blast", "aluminium oxide"),
    }  # fmt: skip


@pytest.mark.parametrize("grade", ["A-1", "A-2", "A-3", "B-1", "B-2", "B-3"])
def test_grain_of_a_diamond_or_paper_grade_is_in_its_table(grade: str) -> None:
    own = grades.grade_named(grade)
    assert abrasives.grain_um(own.grading, own.grain) > 0


def test_stone_under_a_blast_grows_coarser_with_the_blast() -> None:
    assert grades.STONE_BEFORE_BLAST == {"D-1": "600", "D-2": "400", "D-3": "320"}


@pytest.mark.parametrize(("resin", "grade"), [("PEEK", "A-1"), ("ABS", "Z-1"), ("", "A-1")])
def test_resin_or_grade_outside_the_table_is_refused(resin: str, grade: str) -> None:
    with pytest.raises(Refused):
        resins.resin_suitability(resin, grade)


@pytest.mark.parametrize(
    ("written", "number"),
    [("1.2343", "1.2343"), ("1.2343 ESR", "1.2343"), ("X37CrMoV5-1 (1.2343)", "1.2343"), ("EN AW-7075", "EN AW-7075"),
     ("en aw-7075", "EN AW-7075"), ("7075", "EN AW-7075"), ("Ni-Al-Cu", "Ni-Al-Cu"), ("ni-al-cu", "Ni-Al-Cu")],
)  # fmt: skip
def test_steel_is_found_as_it_is_written(written: str, number: str) -> None:
    assert steels.steel_named(written).number == number


@pytest.mark.parametrize("written", ["", "steel", "1.9999", "1.23"])
def test_steel_outside_the_table_is_refused(written: str) -> None:
    with pytest.raises(Refused):
        steels.steel_named(written)


@pytest.mark.parametrize(
    ("steel", "grade", "hardness_hrc", "beyond"),
    [
        ("1.2311", "A-3", None, False), ("1.2311", "A-2", None, True), ("1.2312", "C-1", None, False),
        ("1.2312", "B-3", None, True), ("1.2343", "A-1", 52.0, False), ("1.2343", "A-1", 46.0, True),
        ("1.2343", "A-1", None, False), ("1.2343", "A-3", 46.0, False), ("1.2083", "A-1", 48.0, False),
        ("1.2316", "A-3", None, True), ("1.2379", "B-2", 58.0, False), ("1.2379", "B-1", 58.0, True),
        ("1.2312", "D-2", None, False),
    ],
)  # fmt: skip
def test_finish_beyond_the_steel_is_said(steel: str, grade: str, hardness_hrc: float | None, beyond: bool) -> None:
    assert steels.beyond_best(steels.steel_named(steel), grade, hardness_hrc) is beyond


def test_resulphurised_steels_take_no_texture() -> None:
    assert {s.number for s in steels.STEELS if s.resulphurised} == {"1.2312", "1.2085"}
    assert all(s.texture == "no" for s in steels.STEELS if s.resulphurised)


@pytest.mark.parametrize(("cami", "p"), [(600, 1200), (400, 800), (320, 400)])
def test_american_paper_is_finer_than_its_number_says(cami: int, p: int) -> None:
    assert abrasives.in_other_systems("CAMI", cami)["P"] == p


def test_same_number_is_another_grain_in_another_system() -> None:
    assert abrasives.grain_um("F", 600) < abrasives.grain_um("CAMI", 600) < abrasives.grain_um("P", 600)


@pytest.mark.parametrize("system", abrasives.GRAINS_UM)
def test_grain_falls_with_its_number(system: str) -> None:
    table = abrasives.GRAINS_UM[system]
    assert list(table) == sorted(table)
    assert list(table.values()) == sorted(table.values(), reverse=True)


@pytest.mark.parametrize(("system", "number", "size"), [("P", "P400", 35), ("F", "F600", 9.3), ("CAMI", "#320", 36),
                                                        ("diamond", "3 µm", 3), ("diamond", 0.25, 0.25)])  # fmt: skip
def test_grain_is_read_as_it_is_printed(system: str, number: float | str, size: float) -> None:
    assert abrasives.grain_um(system, number) == size


@pytest.mark.parametrize(
    ("system", "number"),
    [("P", 450), ("P", "x"), ("P", -400), ("JIS", 400), ("stone", 600), ("diamond", 0), ("diamond", 100), ("P", "nan")],
)
def test_grain_outside_its_table_is_refused(system: str, number: float | str) -> None:
    with pytest.raises(Refused):
        abrasives.grain_um(system, number)


@pytest.mark.parametrize(("system", "size"), [("P", 0), ("P", 3.0), ("P", 300), ("P", math.nan), ("JIS", 20)])
def test_size_without_a_number_is_refused(system: str, size: float) -> None:
    with pytest.raises(Refused):
        abrasives.nearest_number(system, size)


def test_grain_that_another_system_has_not_is_left_out() -> None:
    assert abrasives.in_other_systems("diamond", 3) == {"F": 1200}


@pytest.mark.parametrize(
    ("gloss_60", "angle"), [(70, 60), (70.1, 20), (100, 20), (10, 60), (9.9, 85), (0, 85), (40, 60)]
)
def test_gloss_advises_its_angle(gloss_60: float, angle: int) -> None:
    assert gloss.geometry_deg(gloss_60) == angle


@pytest.mark.parametrize("gloss_60", [-0.1, math.nan, math.inf])
def test_gloss_that_cannot_be_is_refused(gloss_60: float) -> None:
    with pytest.raises(Refused):
        gloss.geometry_deg(gloss_60)


@pytest.mark.parametrize(
    ("index", "angle"), [(1.0, 60), (0.9, 60), (math.nan, 60), (1.5, 90), (1.5, -1), (1.5, math.nan)]
)
def test_reflectance_without_sense_is_refused(index: float, angle: float) -> None:
    with pytest.raises(Refused):
        gloss.specular_reflectance(index, angle)


@given(st.floats(20, 65))
def test_hardness_there_and_back_is_the_same(hrc: float) -> None:
    for scale in ("HV", "HB"):
        assert hardness.convert(hardness.convert(hrc, "HRC", scale), scale, "HRC") == pytest.approx(hrc, abs=1e-9)


def test_hardness_between_points_lies_on_the_straight_line() -> None:
    assert hardness.convert(50.5, "HRC", "HV") == pytest.approx((513 + 528) / 2)


@pytest.mark.parametrize(("value", "there", "back"), [(19.9, "HRC", "HV"), (65.1, "HRC", "HV"), (math.nan, "HRC", "HV"),
                                                      (50, "HRA", "HV"), (50, "HRC", "MPa")])  # fmt: skip
def test_hardness_outside_the_table_is_refused(value: float, there: str, back: str) -> None:
    with pytest.raises(Refused):
        hardness.convert(value, there, back)


def test_brinell_with_a_carbide_ball_is_the_brinell_of_the_table() -> None:
    assert hardness.convert(286, "HBW", "HRC") == 30
    assert hardness.convert(30, "HRC", "HBW") == hardness.convert(30, "HRC", "HB")


def test_hardness_says_whether_its_point_was_seen_in_print() -> None:
    assert hardness.converted(48, "HRC", "HV").source.standing == Standing.SEVERAL
    assert hardness.converted(50, "HRC", "HV").source.from_memory


@pytest.mark.parametrize(("number", "shots", "outlived"), [(101, 9_000_000, False), (102, 1_000_000, False),
                                                           (102, 1_000_001, True), (105, 501, True)])  # fmt: skip
def test_mould_class_is_outlived(number: int, shots: int, outlived: bool) -> None:
    assert mould_classes.outlived(number, shots) is outlived


def test_mould_class_that_is_none_is_refused() -> None:
    with pytest.raises(Refused):
        mould_classes.mould_class(106)


@pytest.mark.parametrize(("rule", "degrees"), [("usual", 4.0), ("lean", 3.0), ("in total", 3.0)])
def test_textured_wall_needs_draft_by_its_depth(rule: str, degrees: float) -> None:
    assert draft.textured_draft_deg(50, rule) == pytest.approx(degrees)


@pytest.mark.parametrize(("depth", "rule"), [(-1, "usual"), (math.nan, "usual"), (50, "mine")])
def test_draft_without_sense_is_refused(depth: float, rule: str) -> None:
    with pytest.raises(Refused):
        draft.textured_draft_deg(depth, rule)


def test_every_standing_has_words() -> None:
    assert set(STANDING_LABELS) == set(Standing)
