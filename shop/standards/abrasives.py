"""Grain tables: what a number on a paper, a powder or a paste means in micrometres."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

GRAIN_SOURCES: dict[str, Source] = {
    "P": Source("ISO 6344 (FEPA P)", "1998", Standing.PUBLISHED, gettext_noop("Coated abrasives, median grain.")),
    "F": Source(
        "ISO 8486 (FEPA F)",
        "2007",
        Standing.COMMON,
        gettext_noop("Bonded and loose grain, median; not the scale of papers."),
    ),
    "CAMI": Source(
        gettext_noop("ANSI B74.18, CAMI (American papers)"),
        "2006",
        Standing.SEVERAL,
        gettext_noop("CAMI 600 is about P1200, 400 about P800, 320 about P400."),
    ),
    "diamond": Source(
        gettext_noop("Diamond paste by its own size"),
        NO_EDITION,
        Standing.COMMON,
        gettext_noop("15 um for A-3, 6 for A-2, 3 for A-1."),
    ),
}
_FROM_MEMORY = gettext_noop("Set down from memory of the standard, and not seen beside it.")
MEMORY_SOURCES: dict[str, Source] = {
    "P": Source(
        gettext_noop("ISO 6344 (FEPA P), coarse papers"), "1998", Standing.COMMON, _FROM_MEMORY, from_memory=True
    ),
    "CAMI": Source(
        gettext_noop("ANSI B74.18, CAMI, other papers"), "2006", Standing.COMMON, _FROM_MEMORY, from_memory=True
    ),
    "diamond": Source(
        gettext_noop("Usual sizes of diamond paste"), NO_EDITION, Standing.COMMON, _FROM_MEMORY, from_memory=True
    ),
}

# Median grain by number. [um]
GRAINS_UM: dict[str, dict[int, float]] = {
    "P": {
        80: 201.0, 100: 162.0, 120: 125.0, 150: 100.0, 180: 82.0, 220: 68.0,
        240: 58.5, 280: 52.2, 320: 46.2, 360: 40.5, 400: 35.0, 500: 30.2, 600: 25.8,
        800: 21.8, 1000: 18.3, 1200: 15.3, 1500: 12.6, 2000: 10.3, 2500: 8.4,
    },
    "CAMI": {
        80: 192.0, 100: 141.0, 120: 116.0, 150: 93.0,
        180: 82.0, 220: 66.0, 240: 53.0, 280: 44.0, 320: 36.0, 360: 28.0,
        400: 23.0, 500: 20.0, 600: 16.0, 800: 12.2, 1000: 9.2, 1200: 6.5,
    },
    "F": {
        230: 53.0, 240: 44.5, 280: 36.5, 320: 29.2, 360: 22.8, 400: 17.3,
        500: 12.8, 600: 9.3, 800: 6.5, 1000: 4.5, 1200: 3.0,
    },
}  # fmt: skip
GRAINS_FROM_MEMORY: dict[str, tuple[int, ...]] = {
    "P": (80, 100, 120, 150, 180, 220),
    "CAMI": (80, 100, 120, 150, 1200),
}
PASTES_UM = (1.0, 3.0, 6.0, 9.0, 15.0, 30.0, 45.0)
PASTES_OF_GRADES_UM = (3.0, 6.0, 15.0)
SYSTEMS = ("P", "F", "CAMI", "diamond")

_DIAMOND_MAX_UM = 60.0
# Two grains are the same for the bench while neither is this much coarser than the other.
SAME_WITHIN = 1.3


@dataclass(frozen=True)
class SameGrain:
    """The nearest grain of another system: its number, its own median grain in um, and how much coarser that is."""

    system: str
    number: float
    grain_um: float
    ratio: float
    source: Source


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
    if not 1 / SAME_WITHIN < table[number] / size_um < SAME_WITHIN:
        raise not_in_table("Grain", size_um, f"{system}, {min(table.values()):g}–{max(table.values()):g} µm")
    return number


def same_grain(system: str, number: float | str) -> tuple[SameGrain, ...]:
    """Return the same grain in the other grading systems: the nearest number of each that has one.

    Parameters
    ----------
    system : str
        "P", "F", "CAMI" or "diamond".
    number : float or str
        The number in that system. [um for diamond]

    Returns
    -------
    tuple of SameGrain
        One a system, with its own grain [um] and the ratio to the grain asked for [1]; systems without such a
        grain are left out.

    Raises
    ------
    Refused
        If the number is not in its system.

    References
    ----------
    .. [1] As `grain_um`; usual paste sizes from memory.
    """
    size = grain_um(system, number)
    found = []
    tables = {name: {float(key): um for key, um in table.items()} for name, table in GRAINS_UM.items()}
    tables["diamond"] = {paste: paste for paste in PASTES_UM}
    for other, table in tables.items():
        nearest = min(table, key=lambda key: abs(math.log(table[key] / size)))
        ratio = table[nearest] / size
        if other != system and 1 / SAME_WITHIN < ratio < SAME_WITHIN:
            found.append(SameGrain(other, nearest, table[nearest], ratio, grain_source(other, nearest)))
    return tuple(found)


def in_other_systems(system: str, number: float | str) -> dict[str, int]:
    """Return the nearest number of the same grain in the other numbered grading systems.

    Parameters
    ----------
    system : str
        "P", "F", "CAMI" or "diamond".
    number : float or str
        The number in that system. [um for diamond]

    Returns
    -------
    dict
        Number by system; systems without such a grain, and diamond, are left out.

    Raises
    ------
    Refused
        If the number is not in its system.

    References
    ----------
    .. [1] As `grain_um`.
    """
    return {same.system: int(same.number) for same in same_grain(system, number) if same.system != "diamond"}


def grain_source(system: str, number: float) -> Source:
    """Return where the grain of a number is from.

    Parameters
    ----------
    system : str
        "P", "F", "CAMI" or "diamond".
    number : float
        The number, or the size of a paste. [um for diamond]

    Returns
    -------
    Source
        Title, edition and standing.

    Raises
    ------
    Refused
        If there is no such system.

    References
    ----------
    .. [1] As `grain_um`.
    """
    if system not in SYSTEMS:
        raise not_in_table("Grading system", system, ", ".join(SYSTEMS))
    by_heart = number in GRAINS_FROM_MEMORY.get(system, ())
    if system == "diamond":
        by_heart = number not in PASTES_OF_GRADES_UM
    return (MEMORY_SOURCES if by_heart else GRAIN_SOURCES)[system]


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Grains [um] by system and number.

    References
    ----------
    .. [1] As `grain_um`.
    """
    grains = [
        Stated("grain", f"{system} {number}", size, "um", grain_source(system, number))
        for system, table in GRAINS_UM.items()
        for number, size in table.items()
    ]
    pastes = [Stated("grain", f"diamond {size:g}", size, "um", grain_source("diamond", size)) for size in PASTES_UM]
    return (*grains, *pastes)
