"""Layers on the steel, and resins."""

from __future__ import annotations

import math

import pytest

from shop.refusal import Refused
from shop.standards import coatings, eroded, grades, resins, roughness, steels
from shop.standards.draft import DraftRule, deepest_pattern_um, textured_draft_deg
from shop.standards.gloss import angle_advice
from shop.standards.mould_classes import hard_enough, may_rub
from shop.standards.source import Source, Standing

OURS = Source("Plant's own", "2026", Standing.COMMON)


@pytest.mark.parametrize(
    ("name", "um", "usual"),
    [("hard chrome", 8, True), ("hard chrome", 13, True), ("hard chrome", 2, False), ("Electroless Nickel", 25, True),
     ("PVD", 6.1, False), ("DLC", 1, True)],
)  # fmt: skip
def test_layer_has_a_usual_thickness(name: str, um: float, usual: bool) -> None:
    assert coatings.usual_thickness(name, um) is usual


@pytest.mark.parametrize(("name", "um"), [("nitrided", 5), ("paint", 5), ("PVD", -1), ("PVD", math.nan)])
def test_thickness_without_sense_is_refused(name: str, um: float) -> None:
    with pytest.raises(Refused):
        coatings.usual_thickness(name, um)


def test_layer_is_stripped_before_the_weld_and_comes_back_last() -> None:
    steps = coatings.order_of_work("electroless nickel", coatings.WELD)
    assert steps == (coatings.STRIP, coatings.WELD_STEP, coatings.FINISH_AGAIN, coatings.RECOAT)


def test_hard_chrome_alone_is_kiss_polished_without_stripping() -> None:
    assert coatings.order_of_work("hard chrome", coatings.KISS) == (coatings.KISS_STEP,)
    assert coatings.order_of_work("PVD", coatings.KISS) == (coatings.STRIP, coatings.FINISH_AGAIN, coatings.RECOAT)


def test_nitrided_steel_has_nothing_to_strip_and_is_textured_before() -> None:
    assert coatings.STRIP not in coatings.order_of_work("nitrided", coatings.WELD)
    assert coatings.order_of_work("nitrided", coatings.TEXTURE) == (coatings.TEXTURE_STEP, coatings.NITRIDE_STEP)


def test_work_on_a_layer_that_is_none_is_refused() -> None:
    with pytest.raises(Refused):
        coatings.order_of_work("PVD", "paint")


def test_resin_says_how_far_its_answer_can_be_relied_on() -> None:
    assert resins.suits("abs", "A-2").source.standing == Standing.SEVERAL
    assert resins.suits("abs", "C-2").source.standing == Standing.COMMON


def test_index_of_pmma_is_published_and_the_others_are_from_memory() -> None:
    assert resins.refractive_index("PMMA") == (1.49, resins.INDEX_SOURCE)
    assert resins.refractive_index("PC")[1].from_memory
    with pytest.raises(Refused):
        resins.refractive_index("PEEK")


def test_plant_may_hand_in_its_own_roughness_bands() -> None:
    table = grades.plant_ra_table({"SPI A-2": (0.02, 0.05), "B-1": (0.05, 0.1)}, "2026", OURS)
    assert [grade.name for grade in grades.candidates(0.05, table)] == ["A-2", "B-1"]
    assert grades.cannot_tell_apart("A-2", table) == ()
    assert grades.ra_source(table) is OURS
    assert grades.ra_source(2).standing == Standing.CONFLICTING
    with pytest.raises(Refused):
        grades.grade_named("A-1").ra_um(table)


@pytest.mark.parametrize(("angle", "gu"), [(20, 79.4), (60, 87.5), (85, 98.8)])
def test_opaque_part_shows_no_more_gloss_than_its_index_allows(angle: int, gu: float) -> None:
    found, source = resins.most_gloss_gu("PMMA", angle)
    assert round(found, 1) == gu
    assert source.standing == Standing.PUBLISHED
    with pytest.raises(Refused):
        resins.most_gloss_gu("PMMA", 45)


@pytest.mark.parametrize(
    ("ra", "layer"), [(0.4, (2, 5)), (1.0, (2, 5)), (1.1, (5, 15)), (6.0, (10, 25)), (9.0, (20, 50))]
)
def test_rougher_erosion_leaves_a_thicker_white_layer(ra: float, layer: tuple[float, float]) -> None:
    assert eroded.white_layer_um(ra) == layer


@pytest.mark.parametrize("ra", [0, -1, 6.5, 8.0, math.nan, math.inf])
def test_white_layer_outside_its_table_is_refused(ra: float) -> None:
    with pytest.raises(Refused):
        eroded.white_layer_um(ra)


@pytest.mark.parametrize(
    ("bands", "name"),
    [({}, "2026"), ({"A-2": (0.05, 0.02)}, "2026"), ({"A-2": (-0.1, 0.02)}, "2026"), ({"Z-9": (0.1, 0.2)}, "2026"),
     ({"A-2": (0.02, 0.05)}, " "), ({"A-2": (0.02, math.nan)}, "2026")],
)  # fmt: skip
def test_roughness_bands_without_sense_are_refused(bands: dict[str, tuple[float, float]], name: str) -> None:
    with pytest.raises(Refused):
        grades.plant_ra_table(bands, name, OURS)


@pytest.mark.parametrize(("written", "number"), [("H11", "1.2343"), ("AISI D2", "1.2379"), ("P20 + S", "1.2312")])
def test_steel_is_found_by_its_american_name(written: str, number: str) -> None:
    assert steels.steel_named(written).number == number


@pytest.mark.parametrize(("ref", "resin", "deg"), [(27, "PA", 1.0), (28, "PA", 1.5), (45, "pc", 7.0), (12, "ABS", 0.5)])
def test_card_names_the_draft_of_an_eroded_wall(ref: float, resin: str, deg: float) -> None:
    assert roughness.vdi_card_draft_deg(ref, resin) == deg


@pytest.mark.parametrize(("ref", "resin"), [(11, "PA"), (46, "PA"), (27, "PMMA"), (math.nan, "PA")])
def test_draft_off_the_card_is_refused(ref: float, resin: str) -> None:
    with pytest.raises(Refused):
        roughness.vdi_card_draft_deg(ref, resin)


def test_plant_may_hand_in_its_own_draft_rule() -> None:
    own = DraftRule("ours", 0.5, 1.2)
    assert textured_draft_deg(50, own) == pytest.approx(2.9)
    assert deepest_pattern_um(2.9, own) == pytest.approx(50)
    assert deepest_pattern_um(0.5) == 0.0
    for draft in (-1, math.nan):
        with pytest.raises(Refused):
            deepest_pattern_um(draft)


def test_angle_of_the_spec_governs_and_the_advice_is_said_beside_it() -> None:
    assert angle_advice(40, 60) is None
    advice = angle_advice(3, 60)
    assert advice is not None
    assert (advice.values["advised"], advice.values["spec"]) == (85, 60)
    with pytest.raises(Refused):
        angle_advice(40, 45)


def test_mould_class_asks_for_hardness() -> None:
    assert [hard_enough(101, 48), hard_enough(102, 47.9), hard_enough(103, 28), hard_enough(104, 10)] == [
        True, False, True, None,
    ]  # fmt: skip
    assert may_rub(50, 54)
    assert not may_rub(50, 53)
