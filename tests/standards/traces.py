"""Traces that tests measure: regular ones, rough ones, and the printed one."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from shop.standards import profile
from shop.standards.profile.checking import Floats
from tests.reference.printed import printed

SPACING_UM, CUTOFF_MM = 0.5, 0.8
GROUND = printed("profile_ground")
GROUND_SPACING_UM = 0.49995536112846996
EDITIONS = [profile.ISO_4287, profile.ISO_21920_2]


def along(length_mm: float, spacing_um: float = SPACING_UM) -> Floats:
    return np.arange(round(length_mm * 1000 / spacing_um)) * spacing_um / 1000


def sine(wavelength_mm: float, length_mm: float = 4.8, phase: float = 0.0) -> Floats:
    return np.sin(2 * np.pi * along(length_mm) / wavelength_mm + phase)


def triangle(wavelength_mm: float, length_mm: float = 4.8, phase: float = 0.0) -> Floats:
    return 2 / np.pi * np.arcsin(sine(wavelength_mm, length_mm, phase))


def surface(seed: int, points: int = 9600) -> Floats:
    """Return a rough trace with waviness, without any pattern to hide behind."""
    chance = np.random.default_rng(seed)
    rough = ndimage.gaussian_filter1d(chance.normal(size=points), 12)
    wavy = ndimage.gaussian_filter1d(chance.normal(size=points), 900)
    return rough / rough.std() + 3 * wavy / wavy.std()


def ground() -> Floats:
    return np.array(GROUND.column("z_um"))
