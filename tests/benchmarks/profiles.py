"""Profiles: a trace becomes parameters and a picture. Floor: the arithmetic alone, as numpy does it."""

from __future__ import annotations

from typing import Any

import numpy as np

from shop.boards.profiles import Ask, Drawn, evaluate
from shop.picture import draw
from shop.standards.profile import parameters, thinned
from tests.benchmarks.measuring import Case, Room

SPACING_UM = 0.5
CUTOFF_UM = 800.0
_WORDS = Drawn("measured", "filtered", "profile")


def _heights(points: int) -> Any:
    at = np.arange(points) * SPACING_UM
    noise = np.random.default_rng(1).standard_normal(points)
    return 0.8 * np.sin(2 * np.pi * at / 90.0) + 3.0 * np.sin(2 * np.pi * at / 4000.0) + 0.2 * noise


def _file(points: int) -> tuple[bytes, np.ndarray]:
    heights = _heights(points)
    rows = "\n".join(f"{at * SPACING_UM / 1000:.4f};{height:.5f}" for at, height in enumerate(heights))
    return f"x [mm];z [µm]\n{rows}\n".encode(), heights


def _evaluated(given: Any) -> int:
    found = evaluate(given[0], "trace.csv", Ask(), _WORDS)
    return len(draw(found.picture)) + len(draw(found.narrow))


def _read(given: Any) -> np.ndarray:
    text: str = given[0].decode()
    return np.loadtxt(text.splitlines(), delimiter=";", skiprows=1)


def _transformed(heights: Any) -> float:
    """Filter once by a Fourier transform to and fro: no form, no lambda_s, no care for the ends, only Ra."""
    waves = np.fft.rfftfreq(len(heights), SPACING_UM)
    mean_line = np.fft.irfft(np.fft.rfft(heights) * 2.0 ** -((waves * CUTOFF_UM) ** 2), len(heights))
    return float(np.abs(heights - mean_line).mean())


def _parameters(heights: Any) -> object:
    return parameters(heights, SPACING_UM, 0.8, 2.5)


def _thinned(given: Any) -> int:
    return len(thinned(given, 900).low)


def _least_thinned(given: Any) -> int:
    whole = given[: len(given) // 900 * 900].reshape(900, -1)
    return len(whole.min(axis=1)) + len(whole.max(axis=1))


ROOM = Room(
    "Profiles",
    (
        Case(
            "file of 100,000 points: read, parameters, both pictures",
            lambda: _file(100_000), _evaluated, "numpy reads the same file", _read, most_s=1.0,
        ),
        Case(
            "parameters of 100,000 points",
            lambda: _heights(100_000), _parameters, "one Fourier transform to and fro", _transformed, most_s=1.0,
        ),
        Case(
            "parameters of 1,000,000 points",
            lambda: _heights(1_000_000), _parameters, "one Fourier transform to and fro", _transformed,
            most_mb=100.0, rounds=3,
        ),
        Case(
            "file of 1,000,000 points: read, parameters, both pictures",
            lambda: _file(1_000_000), _evaluated, "numpy reads the same file", _read, most_mb=100.0, rounds=3,
        ),
        Case(
            "1,000,000 points reduced to pixel columns",
            lambda: _heights(1_000_000), _thinned, "lowest and highest of equal blocks", _least_thinned,
        ),
    ),
)  # fmt: skip
