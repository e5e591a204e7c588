"""Telling what all faces read together from what each does alone."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize

from shop.drift.steps import Steps, common_steps
from shop.refusal import Refused

Tool = tuple[list[tuple[list[float], list[float]]], list[list[int]]]


def tool(seed: int, faces: int = 16, occasions: int = 10, steps: dict[int, float] | None = None) -> Tool:
    """Faces of one tool with wear of their own, all measured on every occasion."""
    rng = np.random.default_rng(seed)
    shots = np.linspace(0, 90_000, occasions)
    shared = np.array([(steps or {}).get(one, 0.0) for one in range(occasions)])
    made = []
    for _ in range(faces):
        mean = rng.normal(2.0, 0.3) + 5e-5 * np.exp(rng.normal(0, 0.5)) * shots
        made.append((shots.tolist(), (mean + shared + rng.normal(0, 0.2, occasions)).tolist()))
    return made, [list(range(occasions))] * faces


def test_step_of_all_faces_is_found_and_named() -> None:
    found = common_steps(*tool(1, steps={4: 1.0, 7: -0.8}))
    by_occasion = dict(zip(found.occasion.tolist(), found.offset.tolist(), strict=True))
    assert found.named() == [4, 7]
    assert by_occasion[4] == pytest.approx(1.0, abs=0.25)
    assert by_occasion[7] == pytest.approx(-0.8, abs=0.25)
    assert found.residual_sd == pytest.approx(0.2, rel=0.2)


def test_faces_without_a_step_name_none() -> None:
    named = [common_steps(*tool(seed)).named() for seed in range(30)]
    assert sum(len(one) for one in named) <= 2


def test_one_face_alone_is_that_face() -> None:
    faces, occasions = tool(3)
    shots, values = faces[5]
    faces[5] = (shots, [value + (2.0 if at == 6 else 0.0) for at, value in enumerate(values)])
    found = common_steps(faces, occasions)
    assert abs(found.offset[6]) < 0.2
    assert found.without(faces, occasions)[5][1][6] > values[6] + 1.7


def test_even_drift_and_even_bend_of_all_faces_are_wear_and_no_step() -> None:
    plain, occasions = tool(4)
    drifting = [
        (shots, [value + at * 1e-5 - (at / 8e4) ** 2 for at, value in zip(shots, values, strict=True)])
        for shots, values in plain
    ]
    assert common_steps(drifting, occasions).offset == pytest.approx(common_steps(plain, occasions).offset, abs=1e-7)


def test_taking_the_steps_off_brings_the_readings_nearer_their_lines() -> None:
    faces, occasions = tool(5, steps={2: 0.9, 5: 0.7, 8: -1.0})

    def scatter(of: list[tuple[list[float], list[float]]]) -> float:
        left = [values - np.polyval(np.polyfit(shots, values, 1), shots) for shots, values in of]
        return float(np.sqrt((np.concatenate(left) ** 2).sum() / sum(len(one) - 2 for one in left)))

    found = common_steps(faces, occasions)
    # What bends evenly stays in: it could be the wear of all faces.
    assert 0.18 < scatter(found.without(faces, occasions)) < 0.26
    assert scatter(faces) > 0.4


def test_spreads_are_those_of_the_restricted_likelihood() -> None:
    # Reference: the restricted likelihood written out with dense matrices and searched by scipy.
    faces, occasions = tool(6, faces=5, occasions=6, steps={1: 0.5, 3: -0.6})
    y = np.concatenate([values for _, values in faces])
    z = np.concatenate([np.eye(6)[when] for when in occasions])
    x = np.zeros((30, 11))
    for face, (shots, _) in enumerate(faces):
        x[face * 6 : face * 6 + 6, 10] = (np.asarray(shots) / 9e4) ** 2
        x[face * 6 : face * 6 + 6, 2 * face] = 1.0
        x[face * 6 : face * 6 + 6, 2 * face + 1] = np.asarray(shots) / 9e4

    def deviance(logs: np.ndarray) -> float:
        v = np.exp(2 * logs[1]) * np.eye(30) + np.exp(2 * logs[0]) * z @ z.T
        inverse = np.linalg.inv(v)
        a = x.T @ inverse @ x
        p = inverse - inverse @ x @ np.linalg.solve(a, x.T @ inverse)
        return float(np.linalg.slogdet(v)[1] + np.linalg.slogdet(a)[1] + y @ p @ y)

    best = np.exp(optimize.minimize(deviance, [-1.0, -1.0], method="Nelder-Mead", options={"xatol": 1e-8}).x)
    found = common_steps(faces, occasions)
    assert (found.step_sd, found.residual_sd) == pytest.approx(tuple(best), rel=2e-3)


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 9999), lift=st.floats(-50, 50), times=st.floats(0.01, 100))
def test_other_zero_and_other_unit_change_only_the_unit(seed: int, lift: float, times: float) -> None:
    faces, occasions = tool(seed, faces=5, occasions=6, steps={2: 0.5})
    plain = common_steps(faces, occasions)
    moved = common_steps([(shots, [lift + times * one for one in values]) for shots, values in faces], occasions)
    assert moved.offset == pytest.approx(times * plain.offset, rel=1e-4, abs=1e-5 * times)


def test_face_of_two_readings_is_mended_by_its_sisters() -> None:
    faces, occasions = tool(7, steps={4: 1.5})
    faces.append(([40_000.0, 80_000.0], [5.5, 6.0]))
    occasions.append([4, 8])
    mended = common_steps(faces, occasions).without(faces, occasions)[-1][1]
    assert mended[0] == pytest.approx(4.0, abs=0.5)


def test_line_of_steps_is_known_as_well_as_a_line_through_them() -> None:
    found = common_steps(*tool(8, steps={2: 0.9, 5: 0.7, 8: -1.0}))
    _, expected = np.polyfit(found.shots, np.zeros(10), 1, cov="unscaled")
    covariance = found.step_sd**2 * expected[::-1, ::-1]
    assert found.shared_line() == pytest.approx(covariance, rel=1e-6)


@pytest.mark.parametrize(
    ("faces", "occasions", "code"),
    [
        ([([1, 2, 3], [1, 2, 3])], [[1, 2]], "steps.lengths"),
        ([([1, 2, 3], [1, 2, 3.5])], [[1, 2, 3]], "steps.none_shared"),
        ([([1, 2], [1, 2]), ([1, 2], [1, 2])], [[1, 2], [1, 2]], "steps.none_shared"),
        ([([1, 2, 3], [1, 2, float("nan")])], [[1, 2, 3]], "pool.not_finite"),
    ],
)
def test_what_shares_nothing_is_refused(faces: list, occasions: list[list[int]], code: str) -> None:
    with pytest.raises(Refused) as refused:
        common_steps(faces, occasions)
    assert refused.value.code == code


def test_occasion_that_is_not_known_is_left_as_it_is() -> None:
    steps = Steps(np.array([3]), np.array([9e3]), np.array([0.5]), np.array([0.1]), 0.5, 0.2)
    assert steps.without([([1, 2], [1.0, 2.0])], [[3, 9]]) == [([1, 2], [0.5, 2.0])]
