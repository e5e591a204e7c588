"""When a face reaches a limit: chance by shots, shots by chance."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from scipy.special import stdtr

from shop.drift.crossing import Crossing, crossing
from shop.drift.trend import Line, fit_line
from shop.refusal import Refused

SHOTS = [0.0, 10_000.0, 20_000.0, 30_000.0, 45_000.0]
WEARING = fit_line(SHOTS, [0.40, 0.46, 0.49, 0.57, 0.66])
CHANCES = [0.001, 0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99, 0.999]


def by_hand(line: Line, limit: float, up: bool, shots: np.ndarray) -> np.ndarray:
    """Return the pointwise chance as its definition says, without the closed form."""
    assert line.residual_sd is not None
    own = 0.0 if line.through_origin else 1 / line.n
    error = line.residual_sd * np.sqrt(own + (shots - line.mean_x) ** 2 / line.sxx)
    mean = line.intercept + line.slope * shots
    with np.errstate(divide="ignore", invalid="ignore"):
        z = (mean - limit) / error
    return stdtr(line.df, z if up else -z)


@st.composite
def crossings(draw: st.DrawFn) -> Crossing:
    shots = sorted(draw(st.lists(st.integers(0, 400), min_size=3, max_size=12, unique=True)))
    values = draw(st.lists(st.integers(0, 1000), min_size=len(shots), max_size=len(shots)))
    origin = draw(st.booleans())
    assume(not origin or shots[-1] > 0)
    line = fit_line([x * 1000.0 for x in shots], [v / 100 for v in values], through_origin=origin)
    assume(line.residual_sd is not None and line.residual_sd > 1e-6)
    return crossing(line, draw(st.integers(1, 1200)) / 100, draw(st.sampled_from(["up", "down"])))


@given(crossings())
@settings(max_examples=300)
def test_chance_never_falls(face: Crossing) -> None:
    chances = [face.probability_by(x) for x in np.linspace(0, 2_000_000, 200)]
    assert all(0 <= chance <= 1 for chance in chances)
    assert all(after >= before for before, after in itertools.pairwise(chances))


@given(crossings(), st.floats(0.0005, 0.9995))
@settings(max_examples=500)
def test_shots_and_chance_are_each_others_inverse(face: Crossing, chance: float) -> None:
    at = face.shots_at(chance)
    if at is None:
        assert face.probability_by(1e15) <= chance + 1e-9
    elif at == 0:
        assert face.probability_by(0) >= chance - 1e-9
    else:
        assert face.probability_by(at) == pytest.approx(chance, abs=1e-9)
        assert face.probability_by(at * (1 - 1e-3)) < chance


@given(crossings())
@settings(max_examples=200)
def test_chance_is_the_running_maximum_of_the_pointwise_chance(face: Crossing) -> None:
    up = face.direction == "up"
    # The grid is fine, and holds the one stationary point so that the maximum is met and not straddled.
    line = face.line
    grid = np.linspace(0, 1_200_000, 4001)
    alpha = line.predict(line.mean_x)[0] - face.limit
    if alpha and not line.through_origin:
        summit = line.mean_x + line.slope / line.n * line.sxx / alpha
        grid = np.sort(np.append(grid, summit)) if 0 < summit < grid[-1] else grid
    pointwise = by_hand(line, face.limit, up, grid)
    if line.through_origin:
        pointwise[0] = float(face.limit <= 0 if up else face.limit >= 0)
    running = np.maximum.accumulate(pointwise)
    closed = np.array([face.probability_by(x) for x in grid[::40]])
    np.testing.assert_allclose(closed, running[::40], rtol=0, atol=1e-9)


@pytest.mark.parametrize("chance", CHANCES)
def test_wearing_face_reaches_its_limit_later_with_more_certainty(chance: float) -> None:
    face = crossing(WEARING, 0.8, "up")
    at = face.shots_at(chance)
    assert at is not None
    assert face.probability_by(at) == pytest.approx(chance, abs=1e-12)


def test_even_chance_is_where_the_line_meets_the_limit() -> None:
    at = crossing(WEARING, 0.8, "up").shots_at(0.5)
    assert at == pytest.approx((0.8 - WEARING.intercept) / WEARING.slope, rel=1e-12)


def test_fall_to_a_lower_limit_mirrors_a_rise_to_an_upper_one() -> None:
    falling = fit_line(SHOTS, [-v for v in (0.40, 0.46, 0.49, 0.57, 0.66)])
    up, down = crossing(WEARING, 0.8, "up"), crossing(falling, -0.8, "down")
    assert [down.shots_at(p) for p in CHANCES] == pytest.approx([up.shots_at(p) for p in CHANCES], rel=1e-12)


def test_face_that_is_over_from_the_start_has_reached_its_limit_at_no_shots() -> None:
    face = crossing(WEARING, 0.2, "up")
    assert face.shots_at(0.5) == 0
    assert face.probability_by(0) > 0.99


def test_face_that_recovers_keeps_the_chance_it_had() -> None:
    better = fit_line([0, 1, 2, 3, 4], [1.0, 0.8, 0.62, 0.41, 0.2])
    face = crossing(better, 0.9, "up")
    assert face.probability_by(0) == face.probability_by(4) == face.probability_by(1e9)
    assert by_hand(better, 0.9, True, np.array([4.0]))[0] < 0.01


def test_flat_line_never_reaches_a_high_chance() -> None:
    flat = fit_line([0, 1, 2, 3], [1.0, 1.1, 1.1, 1.0])
    assert flat.slope == pytest.approx(0, abs=1e-15)
    face = crossing(flat, 2.0, "up")
    assert face.shots_at(0.9) is None
    assert face.probability_by(1e12) <= 0.5 + 1e-9


def test_unsure_slope_gives_no_shots_for_a_chance_it_never_reaches() -> None:
    unsure = fit_line([0, 1, 2, 3], [1.0, 1.4, 0.9, 1.3])
    face = crossing(unsure, 3.0, "up")
    ceiling = face.probability_by(1e12)
    assert face.shots_at(ceiling + 1e-6) is None
    assert face.shots_at(ceiling - 1e-6) is not None


@pytest.mark.parametrize("chance", CHANCES)
def test_exact_line_reaches_its_limit_at_one_count(chance: float) -> None:
    exact = fit_line([0, 1, 2, 3], [1.0, 2.0, 3.0, 4.0])
    face = crossing(exact, 10.0, "up")
    assert face.shots_at(chance) == pytest.approx(9.0, rel=1e-12)
    assert (face.probability_by(8.99), face.probability_by(9.01)) == (0.0, 1.0)
    assert crossing(exact, 0.5, "up").shots_at(chance) == 0
    assert crossing(exact, 0.5, "down").shots_at(chance) is None
    assert crossing(exact, 0.5, "down").probability_by(1e9) == 0


def test_exact_flat_line_below_its_limit_never_reaches_it() -> None:
    face = crossing(fit_line([0, 1, 2], [1.0, 1.0, 1.0]), 2.0, "up")
    assert face.shots_at(0.5) is None
    assert face.probability_by(1e9) == 0


def test_flat_line_on_its_limit_has_an_even_chance() -> None:
    line = Line(1.0, 0.0, 0.1, 0.1, 0.1, 5, 3, 2.0, 10.0)
    face = crossing(line, 1.0, "up")
    assert face.probability_by(1e6) == 0.5
    assert face.shots_at(0.5) == 0
    assert face.shots_at(0.6) is None


def test_origin_line_begins_with_no_chance() -> None:
    face = crossing(fit_line([1, 2, 3, 4], [1.1, 1.9, 3.2, 3.9], through_origin=True), 8.0, "up")
    assert face.probability_by(0) == 0
    assert face.shots_at(0.5) == pytest.approx(8.0 / face.line.slope)


def test_origin_line_whose_limit_is_passed_at_nothing_has_reached_it() -> None:
    face = crossing(fit_line([1, 2, 3, 4], [1.1, 1.9, 3.2, 3.9], through_origin=True), 1.0, "down")
    assert (face.probability_by(0), face.shots_at(0.99)) == (1.0, 0.0)


def test_two_readings_refuse_a_chance_and_shots() -> None:
    face = crossing(fit_line([0, 1000], [1.0, 1.5]), 2.0, "up")
    with pytest.raises(Refused) as by_shots:
        face.probability_by(1000)
    with pytest.raises(Refused) as by_chance:
        face.shots_at(0.5)
    assert by_shots.value.code == by_chance.value.code == "crossing.no_spread"


@pytest.mark.parametrize("chance", [0, 1, -0.1, 1.1, math.nan])
def test_chance_outside_zero_to_one_is_refused(chance: float) -> None:
    with pytest.raises(Refused) as refused:
        crossing(WEARING, 0.8, "up").shots_at(chance)
    assert refused.value.code == "crossing.probability"


@pytest.mark.parametrize("shots", [-1, math.nan, math.inf])
def test_shots_that_cannot_be_run_are_refused(shots: float) -> None:
    with pytest.raises(Refused) as refused:
        crossing(WEARING, 0.8, "up").probability_by(shots)
    assert refused.value.code == "crossing.shots"


@pytest.mark.parametrize(
    ("limit", "direction", "code"),
    [(math.nan, "up", "crossing.limit"), (math.inf, "up", "crossing.limit"), (1.0, "sideways", "crossing.direction")],
)
def test_limit_or_direction_without_sense_is_refused(limit: float, direction: str, code: str) -> None:
    with pytest.raises(Refused) as refused:
        crossing(WEARING, limit, direction)
    assert refused.value.code == code


@given(st.floats(0.02, 0.98), st.floats(1.01, 100))
@example(0.1, 3.0)
def test_higher_limit_is_reached_later(chance: float, farther: float) -> None:
    near, far = crossing(WEARING, 0.7, "up").shots_at(chance), crossing(WEARING, 0.7 * farther, "up").shots_at(chance)
    assert near is not None
    assert far is not None
    assert far > near
