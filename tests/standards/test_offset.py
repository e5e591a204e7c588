"""Offset between two gauges, and the check on the tile."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from shop.refusal import Refused
from shop.standards.offset import paired_offset, tile_check

readings = st.lists(st.tuples(st.integers(0, 1000), st.integers(0, 1000)), min_size=3, max_size=20)


@given(readings)
def test_offset_agrees_with_the_paired_t_test_and_the_straight_line(pairs: list[tuple[int, int]]) -> None:
    ours, theirs = (np.array(side, dtype=float) / 10 for side in zip(*pairs, strict=True))
    found = paired_offset(list(ours), list(theirs))
    difference, level = ours - theirs, (ours + theirs) / 2
    assert found.offset == pytest.approx(difference.mean(), abs=1e-9)
    if np.ptp(difference) > 0.05:
        own = stats.ttest_rel(ours, theirs)
        interval = own.confidence_interval(0.95)
        assert [found.lower, found.upper] == pytest.approx([interval.low, interval.high])
        assert found.differs == (own.pvalue < 0.05)
        if np.ptp(level) > 0.04 and len(pairs) > 3:
            line = stats.linregress(level, difference)
            assert found.slope == pytest.approx(line.slope, abs=1e-9)
            if line.stderr > 1e-6:
                assert found.slope_standard_error == pytest.approx(line.stderr)
                assert found.slope_p == pytest.approx(line.pvalue)


@given(readings)
def test_offset_seen_from_the_other_side_is_its_opposite(pairs: list[tuple[int, int]]) -> None:
    ours, theirs = ([float(value) for value in side] for side in zip(*pairs, strict=True))
    here, there = paired_offset(ours, theirs), paired_offset(theirs, ours)
    assert here.offset == pytest.approx(-there.offset, abs=1e-9)
    assert here.sd == pytest.approx(there.sd)
    assert here.depends_on_level == there.depends_on_level


def test_constant_offset_does_not_depend_on_the_level() -> None:
    found = paired_offset([10.5, 20.5, 60.5, 90.5], [10.0, 20.0, 60.0, 90.0])
    assert (found.offset, found.sd, found.slope) == (0.5, 0.0, 0.0)
    assert found.differs
    assert not found.depends_on_level


def test_offset_that_grows_with_the_level_is_told() -> None:
    theirs = [10.0, 20.0, 40.0, 60.0, 90.0]
    found = paired_offset(
        [1.02 * value + wobble for value, wobble in zip(theirs, (0.0, 0.01, -0.01, 0.01, 0.0), strict=True)], theirs
    )
    assert found.depends_on_level
    assert found.slope == pytest.approx(0.02 / 1.01, rel=0.02)


def test_one_level_only_gives_no_slope() -> None:
    found = paired_offset([10.0, 11.0, 12.0], [12.0, 11.0, 10.0])
    assert (found.slope, found.slope_p, found.depends_on_level) == (None, None, False)


@pytest.mark.parametrize(
    ("ours", "theirs", "code"),
    [
        ([1.0, 2.0, 3.0], [1.0, 2.0], "offset.not_paired"),
        ([1.0, 2.0], [1.0, 2.0], "offset.too_few"),
        ([1.0, 2.0, math.nan], [1.0, 2.0, 3.0], "value.impossible"),
    ],
)
def test_readings_that_are_no_comparison_are_refused(ours: list[float], theirs: list[float], code: str) -> None:
    with pytest.raises(Refused) as refused:
        paired_offset(ours, theirs)
    assert refused.value.code == code


# En by hand: 0.5 / sqrt(0.3^2 + 0.4^2) = 1.
@pytest.mark.parametrize(
    ("value", "limit", "verdict", "en"),
    [
        (95.0, 1.0, "good", 0.0),
        (95.5, 1.0, "good", 1.0),
        (95.6, 1.0, "look again", 1.2),
        (94.0, 1.0, "look again", -2.0),
        (96.1, 1.0, "unfit", 2.2),
        (95.4, 0.3, "unfit", 0.8),
    ],
)
def test_tile_is_judged_by_the_limit_and_by_en(value: float, limit: float, verdict: str, en: float) -> None:
    found = tile_check(value, 95.0, 0.3, 0.4, limit)
    assert found.verdict == verdict
    assert found.en == pytest.approx(en)


def test_decimal_reading_at_the_limit_holds() -> None:
    assert tile_check(95.3, 95.2, 0.0, 0.0, 0.1).verdict == "good"
    assert tile_check(95.3, 95.2, 0.0, 0.0, 0.1).en is None


@pytest.mark.parametrize("wrong", [{"value": math.nan}, {"tile_expanded": -0.1}, {"limit": 0.0}])
def test_impossible_tile_is_refused(wrong: dict[str, Any]) -> None:
    with pytest.raises(Refused):
        tile_check(
            **{"value": 95.0, "tile_value": 95.0, "tile_expanded": 0.3, "gauge_expanded": 0.4, "limit": 1.0, **wrong}
        )
