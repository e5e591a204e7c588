"""A group that was learned is kept, and says of a face what it would have said with the face in it."""

from __future__ import annotations

import json

import numpy as np
import pytest

from shop.drift.courses import forecast_by, learn, read, shape_of
from shop.drift.forecast import forecast_group
from shop.refusal import Refused

LIMIT = 10.0
Faces = list[tuple[np.ndarray, np.ndarray]]


def group(seed: int, count: int = 30, power: float = 1.0, scatter: float = 0.2) -> Faces:
    """Faces that begin at 5 and rise at rates that spread by factors; each with two to twelve readings."""
    rng = np.random.default_rng(seed)
    faces = []
    for _ in range(count):
        shots = np.sort(rng.uniform(0, 80_000, rng.integers(2, 13)))
        rate = rng.lognormal(np.log(4.0), 0.4)
        faces.append((shots, 5.0 + rate * (shots / 80_000) ** power + rng.normal(0, scatter, len(shots))))
    return faces


def test_group_asked_again_says_what_it_said_when_it_was_learned() -> None:
    faces = group(1)
    first = forecast_group(faces, LIMIT, "up")
    kept = [json.loads(json.dumps(one.kept())) for one in learn(faces, LIMIT, "up")]
    again = forecast_by([read(one) for one in kept], faces, LIMIT, "up")
    for one, other in zip(first, again, strict=True):
        for chance in (0.1, 0.5, 0.9):
            assert other.shots_at(chance) == pytest.approx(one.shots_at(chance), rel=1e-6)


def test_face_without_a_reading_is_as_its_group_is() -> None:
    faces = group(2)
    new = forecast_by(learn(faces, LIMIT, "up"), [([], [])], LIMIT, "up")[0]
    middle = new.shots_at(0.5)
    assert middle is not None
    # From 5 to 10 at about 4 in 80,000 shots.
    assert middle == pytest.approx(100_000, rel=0.25)
    known = forecast_by(learn(faces, LIMIT, "up"), [faces[0]], LIMIT, "up")[0]
    assert _width(known) < _width(new)


def test_reading_of_a_poor_gauge_counts_for_less() -> None:
    known = learn(group(3), LIMIT, "up")
    shots, values = np.array([0.0, 20_000.0]), np.array([5.0, 8.0])
    plain, poor = (
        forecast_by(known, [(shots, values)], LIMIT, "up", weights=[np.array([1.0, weight])])[0].shots_at(0.5)
        for weight in (1.0, 0.05)
    )
    assert plain is not None
    assert poor is not None
    # Three in 20,000 shots is three times the group's rate; what is hardly believed leaves the group's word.
    assert plain < poor


def test_weights_in_learning_leave_out_what_a_poor_gauge_read() -> None:
    rng = np.random.default_rng(4)
    faces = group(4, scatter=0.1)
    weights = [np.where(rng.random(len(shots)) < 0.3, 1e-4, 1.0) for shots, _ in faces]
    noisy = [
        (shots, values + np.where(weight < 1, rng.normal(0, 10.0, len(shots)), 0.0))
        for (shots, values), weight in zip(faces, weights, strict=True)
    ]
    told, mixed = learn(noisy, LIMIT, "up", weights)[0].hyper, learn(noisy, LIMIT, "up")[0].hyper
    assert told.residual_sd == pytest.approx(0.1, rel=0.3)
    assert mixed.residual_sd > 1.0


@pytest.mark.parametrize(("power", "shape"), [(0.6, "run-in"), (1.0, "line"), (1.6, "power")])
def test_way_of_wearing_is_told_from_the_readings(power: float, shape: str) -> None:
    assert shape_of(learn(group(5, count=60, power=power, scatter=0.05), LIMIT, "up")) == shape


def test_level_to_come_is_in_the_values_own_sign() -> None:
    faces = group(6)
    turned = [(shots, -values) for shots, values in faces]
    up = forecast_by(learn(faces, LIMIT, "up"), faces, LIMIT, "up")[0].level_at(90_000)
    down = forecast_by(learn(turned, -LIMIT, "down"), turned, -LIMIT, "down")[0].level_at(90_000)
    assert up[0] < up[1] < up[2]
    assert down == pytest.approx((-up[2], -up[1], -up[0]), rel=1e-3)


def test_level_at_the_shots_of_the_even_chance_is_the_limit() -> None:
    faces = group(7)
    for one in forecast_by(learn(faces, LIMIT, "up"), faces, LIMIT, "up"):
        shots = one.shots_at(0.5)
        assert shots is not None
        assert one.level_at(shots)[1] == pytest.approx(LIMIT, abs=1e-3)


def test_group_without_scatter_to_show_is_refused() -> None:
    with pytest.raises(Refused):
        learn([([0.0], [5.0]), ([0.0], [5.1])], LIMIT, "up")


def _width(forecast: object) -> float:
    low, high = (forecast.shots_at(chance) for chance in (0.1, 0.9))  # type: ignore[attr-defined]
    return float(high / low)


def test_readings_at_the_gauges_floor_make_nobody_certain() -> None:
    # Ra of a mirror at the gauge's floor: 0.02 um to a step of 0.01, never anything else; the limit is 0.05.
    faces = [(np.linspace(0, 50_000, 6), np.full(6, 0.02)) for _ in range(8)]
    known = learn(faces, 0.05, "up", least_sd=0.01 / 12**0.5)
    assert known[0].hyper.residual_sd == pytest.approx(0.01 / 12**0.5, rel=0.01)
    flat = forecast_by(known, [faces[0]], 0.05, "up")[0]
    low, _middle, high = flat.level_at(60_000)
    assert 0.015 < low < high < 0.03
    assert flat.probability_by(60_000) < 0.01
    # One reading two steps up moves the face, and does not condemn it.
    up = (np.linspace(0, 60_000, 7), np.array([0.02] * 6 + [0.04]))
    assert flat.probability_by(60_000) <= forecast_by(known, [up], 0.05, "up")[0].probability_by(60_000) < 0.2
