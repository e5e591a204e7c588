"""The grain ladder over what the shop stocks."""

from __future__ import annotations

import itertools

import pytest

from shop.craft.media import BLAST, DIAMOND, PAPER, STOCKED, STONE, Medium, ladder


def test_ladder_goes_from_coarse_to_fine_in_steps_of_about_two() -> None:
    rungs = ladder(STOCKED, PAPER, 16.0, 70.0)
    sizes = [rung.size_um for rung in rungs]
    assert sizes == sorted(sizes, reverse=True)
    assert all(1.25 <= coarse / fine <= 2.6 for coarse, fine in itertools.pairwise(sizes))


def test_ladder_ends_on_the_grain_that_was_asked_for() -> None:
    assert ladder(STOCKED, DIAMOND, 3.0, 15.0)[-1].grain == "3"
    assert ladder(STOCKED, STONE, 17.3, 60.0)[-1].grain == "400"


def test_ladder_begins_no_coarser_than_allowed() -> None:
    assert max(rung.size_um for rung in ladder(STOCKED, PAPER, 16.0, 40.0)) <= 40.0


def test_ladder_uses_only_what_is_stocked() -> None:
    shelf = [medium for medium in STOCKED if medium.grain != "320"]
    assert "320" not in [rung.grain for rung in ladder(shelf, PAPER, 16.0, 70.0)]
    assert ladder([], PAPER, 16.0, 70.0) == ()


def test_ladder_takes_the_nearest_grain_where_the_wanted_one_is_missing() -> None:
    shelf = [Medium(PAPER, "paper", "FEPA P", "800", 21.8), Medium(PAPER, "paper", "FEPA P", "400", 35.0)]
    assert [rung.grain for rung in ladder(shelf, PAPER, 23.0, 70.0)] == ["400", "800"]


@pytest.mark.parametrize("medium", STOCKED, ids=lambda medium: f"{medium.kind} {medium.grain}")
def test_medium_names_who_graded_its_grain(medium: Medium) -> None:
    expected = {STONE: {"FEPA F"}, PAPER: {"CAMI"}, DIAMOND: {"um"}, BLAST: {"bead", "grit"}}
    assert medium.grading in expected[medium.kind]
