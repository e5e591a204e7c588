"""Grain tables: what a number on a paper, a powder or a paste means in micrometres."""

from __future__ import annotations

import math
import re

from shop.standards.source import Source, Standing, need_number, not_in_table

GRAIN_SOURCES: dict[str, Source] = {
    "P": Source("ISO 6344 (FEPA P)", "", Standing.PUBLISHED, "Coated abrasives, median grain."),
    "F": Source("ISO 8486 (FEPA F)", "", Standing.COMMON, "Bonded and loose grain, median; not the scale of papers."),
    "CAMI": Source(
        "CAMI (American papers)", "", Standing.SEVERAL, "CAMI 600 is about P1200, 400 about P800, 320 about P400."
    ),
    "diamond": Source("Diamond paste by its own size", "", Standing.COMMON, "15 um for A-3, 6 for A-2, 3 for A-1."),
}

GRAINS_UM: dict[str, dict[int, float]] = {
    "P": {
        240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5, 400: 35.0, 500: 30.2, 600: 25.8,
        800: 21.8, 1000: 18.3, 1200: 15.3, 1500: 12.6, 2000: 10.3, 2500: 8.4,
    },
    "CAMI": {
        180: 82.0, 220: 66.0, 240: 53.0, 280: 44.0, 320: 36.0, 360: 28.0,
        400: 23.0, 500: 20.0, 600: 16.0, 800: 12.2, 1000: 9.2,
    },
    "F": {
        230: 53.0, 240: 44.5, 280: 36.5, 320: 29.2, 360: 22.8, 400: 17.3,
        500: 12.8, 600: 9.3, 800: 6.5, 1000: 4.5, 1200: 3.0,
    },
}  # fmt: skip
SYSTEMS = ("P", "F", "CAMI", "diamond")

_DIAMOND_MAX_UM = 60.0


def grain_um(system: str, number: float | str) -> float:
    """Return the median grain size behind a number.

    Parameters
    ----------
    system : str
        "P", "F", "CAMI" or "diamond".
    number : float or str
        The number as printed, with or without its letter; for diamond the size itself. [um]

    Returns
    -------
    float
        Median grain. [um]

    Raises
    ------
    Refused
        If the system or the number are not in the table; stones and beads are graded by their makers.

    References
    ----------
    .. [1] ISO 6344 (P); ISO 8486 (F), common practice; CAMI, several sources.
    """
    if system not in SYSTEMS:
        raise not_in_table("Grading system", system, ", ".join(SYSTEMS))
    digits = re.fullmatch(r"\s*(?:P|F|#|CAMI)?\s*(\d+(?:\.\d+)?)\s*(?:um|µm)?\s*", str(number), re.IGNORECASE)
    if digits is None:
        raise not_in_table("Grain", number, system)
    plain = float(digits.group(1))
    if system == "diamond":
        if not 0 < plain <= _DIAMOND_MAX_UM:
            raise not_in_table("Diamond", number, "0–60 µm")
        return plain
    table = GRAINS_UM[system]
    if plain not in table:
        raise not_in_table("Grain", number, f"{system} {', '.join(str(key) for key in table)}")
    return table[int(plain)]


def nearest_number(system: str, size_um: float) -> int:
    """Return the number of a grading system whose grain is nearest to a size, by ratio.

    Parameters
    ----------
    system : str
        "P", "F" or "CAMI".
    size_um : float
        Median grain. [um]

    Returns
    -------
    int
        The number.

    Raises
    ------
    Refused
        If the system is not known, or the size lies further outside its table than a step of it.

    References
    ----------
    .. [1] As `grain_um`.
    """
    need_number(size_um, "Grain", "um", above=0)
    if system not in GRAINS_UM:
        raise not_in_table("Grading system", system, ", ".join(GRAINS_UM))
    table = GRAINS_UM[system]
    number = min(table, key=lambda key: abs(math.log(table[key] / size_um)))
    if not 1 / 1.3 < table[number] / size_um < 1.3:
        raise not_in_table("Grain", size_um, f"{system}, {min(table.values()):g}–{max(table.values()):g} µm")
    return number


def in_other_systems(system: str, number: float | str) -> dict[str, int]:
    """Return the nearest number of the same grain in the other grading systems.

    Parameters
    ----------
    system : str
        "P", "F", "CAMI" or "diamond".
    number : float or str
        The number in that system. [um for diamond]

    Returns
    -------
    dict
        Number by system; systems without such a grain are left out.

    Raises
    ------
    Refused
        If the number is not in its system.

    References
    ----------
    .. [1] As `grain_um`.
    """
    size = grain_um(system, number)
    return {
        other: nearest_number(other, size)
        for other, table in GRAINS_UM.items()
        if other != system and min(abs(math.log(value / size)) for value in table.values()) < math.log(1.3)
    }
