"""The lightest work that would do."""

from __future__ import annotations

import pytest

from shop.craft.lightest import lightest_work


@pytest.mark.parametrize(
    ("how_made", "parameter", "side", "micro_matt", "work"),
    [
        ("polished", "Ra", "upper", False, "kiss polish"),
        ("polished", "gloss", "lower", False, "kiss polish"),
        ("stoned", "Ra", "upper", False, "kiss polish"),
        ("blasted", "gloss", "upper", False, "gloss blast"),
        ("blasted", "Ra", "lower", False, "gloss blast"),
        ("etched", "gloss", "upper", True, "gloss blast"),
        ("etched", "look gloss", "upper", True, "gloss blast"),
        ("etched", "gloss", "upper", False, "full refinish"),
        ("etched", "Ra", "lower", True, "full refinish"),
        ("laser", "look roughness", "lower", True, "full refinish"),
        ("spark-eroded", "gloss", "upper", False, "full refinish"),
    ],
)
def test_worn_face_gets_the_lightest_work(
    how_made: str, parameter: str, side: str, micro_matt: bool, work: str
) -> None:
    found = lightest_work(
        how_made=how_made, parameter=parameter, side=side, cause="forecast", micro_matt=micro_matt
    )
    assert found == work


@pytest.mark.parametrize(("parameter", "side"), [("gloss", "lower"), ("Ra", "upper"), ("look gloss", "lower")])
@pytest.mark.parametrize("how_made", ["blasted", "etched", "spark-eroded"])
def test_grain_that_turns_dull_or_rough_is_cleaned_first(how_made: str, parameter: str, side: str) -> None:
    assert lightest_work(how_made=how_made, parameter=parameter, side=side, cause="off spec") == "clean"


@pytest.mark.parametrize(
    ("damage_kind", "how_made", "plated", "work"),
    [
        ("plate-out", "polished", False, "clean"),
        ("rust", "polished", False, "kiss polish"),
        ("rust", "etched", False, "clean"),
        ("rust", "polished", True, "full refinish"),
        ("scratch", "polished", False, "local touch-up"),
        ("dent", "etched", False, "local touch-up"),
        ("pitting", "polished", False, "local touch-up"),
    ],
)
def test_damage_decides_the_work(damage_kind: str, how_made: str, plated: bool, work: str) -> None:
    found = lightest_work(how_made=how_made, cause="damage", damage_kind=damage_kind, plated=plated)
    assert found == work


def test_face_without_a_spec_is_cleaned() -> None:
    assert lightest_work(how_made="") == "clean"
