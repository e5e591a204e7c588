"""Many faces at once are forecast as each is alone."""

from __future__ import annotations

import numpy as np
import pytest

from shop.drift import batch
from shop.drift.courses import Course, forecast_by, learn
from tests.drift.test_courses import LIMIT, Faces, group

CHANCES = (0.1, 0.5, 0.9)


def together(
    known: list[Course], faces: Faces, now: np.ndarray, limit: float = LIMIT, direction: str = "up",
    weights: np.ndarray | None = None,
) -> batch.Ahead:  # fmt: skip
    offsets = np.concatenate([[0], np.cumsum([len(shots) for shots, _ in faces])])
    shots, values = (np.concatenate([face[n] for face in faces]) for n in (0, 1))
    return batch.ahead(known, shots, values, offsets, limit, direction, now=now, chances=CHANCES, weights=weights)  # type: ignore[arg-type]


def agrees(found: batch.Ahead, alone: list, now: np.ndarray) -> None:
    for number, one in enumerate(alone):
        assert found.now[number] == pytest.approx(one.probability_by(now[number]), abs=2e-3)
        for column, chance in enumerate(CHANCES):
            at = one.shots_at(chance)
            left = np.inf if at is None else max(at - now[number], 0.0)
            assert found.left[number, column] == pytest.approx(left, rel=0.01, abs=20), (number, chance)


@pytest.mark.parametrize("count", [12, 200])
@pytest.mark.parametrize("power", [1.0, 0.6])
def test_faces_together_are_forecast_as_alone(count: int, power: float) -> None:
    faces = group(count, count=count, power=power)
    known = learn(faces, LIMIT, "up")
    now = np.array([shots[-1] + 1_000 for shots, _ in faces])
    agrees(together(known, faces, now), forecast_by(known, faces, LIMIT, "up"), now)


def test_falling_faces_and_weighted_readings_are_forecast_as_alone() -> None:
    faces = [(shots, -values) for shots, values in group(8, count=20)]
    rng = np.random.default_rng(8)
    weights = [rng.uniform(0.3, 2.0, len(shots)) for shots, _ in faces]
    known = learn(faces, -LIMIT, "down", weights)
    now = np.array([shots[-1] for shots, _ in faces])
    found = together(known, faces, now, -LIMIT, "down", np.concatenate(weights))
    agrees(found, forecast_by(known, faces, -LIMIT, "down", weights), now)


def test_face_that_is_over_and_face_without_readings_are_forecast_as_alone() -> None:
    faces = group(9, count=20)
    faces[0] = (np.array([10_000.0, 20_000.0]), np.array([12.0, 13.0]))
    faces[1] = (np.array([]), np.array([]))
    known = learn(faces, LIMIT, "up")
    now = np.full(20, 90_000.0)
    found = together(known, faces, now)
    assert found.left[0].tolist() == [0, 0, 0]
    agrees(found, forecast_by(known, faces, LIMIT, "up"), now)


def test_chunks_make_no_difference(monkeypatch: pytest.MonkeyPatch) -> None:
    faces = group(10, count=50)
    known, now = learn(faces, LIMIT, "up"), np.full(50, 50_000.0)
    whole = together(known, faces, now)
    monkeypatch.setattr(batch, "CHUNK", 7)
    parts = together(known, faces, now)
    assert parts.left == pytest.approx(whole.left, rel=0.01, abs=20)
