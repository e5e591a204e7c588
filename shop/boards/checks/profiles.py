"""Roughness profiles: closed forms, the filter, a measured profile."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache, partial

import numpy as np
from numpy.typing import NDArray

from shop.boards.checks.check import Check, Table, of
from shop.boards.printed import Printed
from shop.standards import profile

AREA = "profile"
SPACING_UM, CUTOFF_MM, WAVELENGTH_MM, LENGTH_MM = 0.5, 0.8, 0.1, 4.8
GROUND_SPACING_UM = 0.49995536112846996
# Two points half a micrometre apart miss a summit by a little.
CLOSED_FORM_TO = 1e-3
# Another library ends its filter otherwise; unfiltered, both compute the same sums.
OTHER_LIBRARY_TO = {"no": 1e-12, "yes": 0.01}


def checks(tables: Mapping[str, Printed]) -> Iterator[Check]:
    """Return the checks of this area."""
    yield from _closed_forms(Table(AREA, tables["profile_closed_forms"]))
    yield from _transmission(Table(AREA, tables["gaussian_transmission"]))
    yield from _ground(Table(AREA, tables["profile_ground_answers"]), tables["profile_ground"])
    yield from _library(Table(AREA, tables["profile_ground_library"]), tables["profile_ground"])


def _wave(shape: str) -> NDArray[np.float64]:
    x = np.arange(round(LENGTH_MM * 1000 / SPACING_UM)) * SPACING_UM / 1000 / WAVELENGTH_MM
    return np.sin(2 * np.pi * x) if shape == "sine" else 4 * np.abs((x - 0.25) % 1 - 0.5) - 1


def _closed_forms(table: Table) -> Iterator[Check]:
    for shape in ("sine", "triangle"):
        found = cache(partial(_of_wave, shape))
        for row in (each for each in table.printed.rows if each["shape"] == shape):
            near = CLOSED_FORM_TO * max(abs(float(row["value"])), 1.0)
            yield table.check(shape, row["parameter"], row["value"], of(found, at=row["parameter"]), tolerance=near)


def _of_wave(shape: str) -> profile.ProfileParameters:
    return profile.parameters(_wave(shape), SPACING_UM, CUTOFF_MM)


def _of_ground(data: Printed) -> profile.ProfileParameters:
    heights = np.array(data.column("z_um"))
    return profile.parameters_of(profile.as_filtered(heights, GROUND_SPACING_UM, CUTOFF_MM))


def _of_ground_again(data: Printed) -> profile.ProfileParameters:
    return profile.parameters(np.array(data.column("z_um")), GROUND_SPACING_UM, CUTOFF_MM)


def _transmission(table: Table) -> Iterator[Check]:
    for row in table.printed.rows:
        wavelength = float(row["wavelength_per_cutoff"]) * CUTOFF_MM
        yield table.check(
            f"wavelength {row['wavelength_per_cutoff']} cut-offs",
            "kept by the mean line",
            row["transmission"],
            of(profile.gaussian_transmission, wavelength, CUTOFF_MM),
            tolerance=5e-7,
        )


def _ground(table: Table, data: Printed) -> Iterator[Check]:
    found = cache(partial(_of_ground, data))
    for row in table.printed.rows:
        near = 0.5 * 10.0 ** -int(row["decimals"])
        yield table.check(
            "measured ground profile", row["parameter"], row["printed"], of(found, at=row["parameter"]), tolerance=near
        )


def _library(table: Table, data: Printed) -> Iterator[Check]:
    found = {"no": cache(partial(_of_ground, data)), "yes": cache(partial(_of_ground_again, data))}
    words = {"no": "by an open library", "yes": "by an open library, filtered again"}
    for row in table.printed.rows:
        how, value = row["filtered"], row["value"]
        near = OTHER_LIBRARY_TO[how] * abs(float(value))
        yield table.check(
            "measured ground profile", f"{row['parameter']} {words[how]}", value, of(found[how], at=row["parameter"]),
            tolerance=near,
        )  # fmt: skip
