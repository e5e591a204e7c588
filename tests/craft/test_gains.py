"""Which works would do, and how long a finish lasts after them."""

from __future__ import annotations

import numpy as np
import pytest

from shop.craft.gains import (
    LEAST_SHAPE,
    MOST_SHAPE,
    SEED_SHAPE,
    SHARE_OF_FULL,
    seed_life,
    shape_of,
    work_of,
    works_that_do,
)
from shop.craft.pulling import Law
from shop.craft.works import CLEAN, FULL, GLOSS_BLAST, KISS, LIGHTEST_FIRST, LOCAL


@pytest.mark.parametrize(
    ("how_made", "lightest", "works"),
    [
        ("polished", KISS, (KISS, FULL)),
        ("stoned", CLEAN, (CLEAN, KISS, FULL)),
        ("blasted", GLOSS_BLAST, (GLOSS_BLAST, FULL)),
        ("spark-eroded", FULL, (FULL,)),
        ("etched", CLEAN, (CLEAN, FULL)),
    ],
)
def test_works_begin_with_the_lightest_and_hold_what_the_finish_allows(
    how_made: str, lightest: str, works: tuple[str, ...]
) -> None:
    assert works_that_do(how_made, lightest) == works


def test_micro_matt_is_put_back_by_a_blast_before_the_pattern_is_stripped() -> None:
    assert works_that_do("etched", CLEAN, micro_matt=True) == (CLEAN, GLOSS_BLAST, FULL)


def test_one_place_may_be_touched_up_alone() -> None:
    assert works_that_do("polished", KISS, one_place=True) == (KISS, LOCAL, FULL)
    assert works_that_do("polished", LOCAL) == (LOCAL, FULL)


def test_filled_resin_leaves_a_finish_shorter() -> None:
    for how_made in ("polished", "blasted", "etched"):
        assert seed_life(how_made, FULL, filled=True).middle < seed_life(how_made, FULL, filled=False).middle


def test_seed_is_what_practice_says() -> None:
    assert (seed_life("polished", FULL, filled=False).low, seed_life("polished", FULL, filled=False).high) == (
        100_000.0,
        300_000.0,
    )
    assert seed_life("polished", FULL, filled=False).middle == pytest.approx(173_205, abs=1)
    assert seed_life("polished", KISS, filled=False).middle == pytest.approx(0.6 * 173_205, abs=1)
    assert seed_life("etched", GLOSS_BLAST, filled=True).low == 50_000.0


def test_no_lighter_work_gives_more_than_a_full_refinish() -> None:
    assert all(SHARE_OF_FULL[work] <= SHARE_OF_FULL[FULL] for work in LIGHTEST_FIRST)


@pytest.mark.parametrize("shape", [2.0, 4.0, 9.0])
def test_shape_is_found_again_from_the_ten_and_ninety_per_cent_points(shape: float) -> None:
    law = Law(80_000.0, shape)
    low, high = law.shots_at(0.1), law.shots_at(0.9)
    assert law.chance_by(np.array([low, high])) == pytest.approx([0.1, 0.9])
    assert shape_of(low, high) == pytest.approx(shape)


def test_shape_is_held_between_chance_and_a_clock() -> None:
    assert shape_of(100.0, 1e9) == LEAST_SHAPE
    assert shape_of(100_000.0, 100_100.0) == MOST_SHAPE
    assert shape_of(5.0, 5.0) == MOST_SHAPE
    assert shape_of(0.0, 5.0) == SEED_SHAPE


@pytest.mark.parametrize(
    ("words", "work"),
    [("new tool", FULL), ("WO-0042 kiss polish", KISS), ("WO-0042 clean", CLEAN), ("by hand", FULL), ("", FULL)],
)
def test_work_is_read_from_what_began_a_life(words: str, work: str) -> None:
    assert work_of(words) == work
