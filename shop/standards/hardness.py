"""Hardness scales of hardened steel, between the points of the conversion table."""

from __future__ import annotations

from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.source import Source, Standing, Stated, need_number, not_in_table

HARDNESS_SOURCE = Source(
    "ASTM E140",
    "2012",
    Standing.SEVERAL,
    gettext_noop("Non-austenitic steels; straight lines between the points. Tensile strength is left out."),
)
MEMORY_SOURCE = Source(
    gettext_noop("ASTM E140, points between and around the printed ones"),
    "2012",
    Standing.COMMON,
    gettext_noop("Set down from memory of the table, and not seen beside it."),
    from_memory=True,
)
SCALES = ("HRC", "HV", "HB")
_SPELLINGS = {"HRC": "HRC", "HV": "HV", "HB": "HB", "HBW": "HB"}

# HRC, HV and HB (tungsten carbide ball, 3000 kgf: HBW) of one and the same steel. [points of each scale]
POINTS: tuple[tuple[float, float, float], ...] = (
    (20, 238, 226), (21, 243, 231), (22, 248, 237), (23, 254, 243), (24, 260, 247), (25, 266, 253), (26, 272, 258),
    (27, 279, 264), (28, 286, 271), (29, 294, 279), (30, 302, 286), (31, 310, 294), (32, 318, 301), (33, 327, 311),
    (34, 336, 319), (35, 345, 327), (36, 354, 336), (37, 363, 344), (38, 372, 353), (39, 382, 362), (40, 392, 371),
    (41, 402, 381), (42, 412, 390), (43, 423, 400), (44, 434, 409), (45, 446, 421), (46, 458, 432), (47, 471, 443),
    (48, 484, 455), (49, 498, 469), (50, 513, 481), (51, 528, 496), (52, 544, 512), (53, 560, 525), (54, 577, 543),
    (55, 595, 560), (56, 613, 577), (57, 633, 595), (58, 653, 615), (59, 674, 634), (60, 697, 654), (61, 720, 670),
    (62, 746, 688), (63, 772, 706), (64, 800, 722), (65, 832, 739),
)  # fmt: skip
# The points that several sources print alike; the others are from memory.
PRINTED_HRC = (30, 34, 40, 44, 48, 52, 54, 60)


@dataclass(frozen=True)
class Hardness:
    """A converted hardness, in points of its scale, with where it is from."""

    value: float
    scale: str
    source: Source


def convert(value: float, from_scale: str, to_scale: str) -> float:
    """Convert a hardness between scales, inside the table only.

    Parameters
    ----------
    value : float
        Hardness. [points of from_scale]
    from_scale, to_scale : str
        "HRC", "HV", "HBW" or "HB", which is taken as HBW.

    Returns
    -------
    float
        Hardness. [points of to_scale]

    Raises
    ------
    Refused
        If a scale is not known, or the value lies outside the table.

    References
    ----------
    .. [1] ASTM E140, table 1, 20 to 65 HRC.
    """
    need_number(value, from_scale, "")
    known, wanted = SCALES.index(_scale(from_scale)), SCALES.index(_scale(to_scale))
    if not POINTS[0][known] <= value <= POINTS[-1][known]:
        raise not_in_table(from_scale, value, f"{POINTS[0][known]:g}–{POINTS[-1][known]:g}")
    if known == wanted:
        return float(value)
    above = next(i for i, point in enumerate(POINTS) if value <= point[known])
    if value == POINTS[above][known]:
        return float(POINTS[above][wanted])
    low, high = POINTS[above - 1], POINTS[above]
    share = (value - low[known]) / (high[known] - low[known])
    return low[wanted] + share * (high[wanted] - low[wanted])


def converted(value: float, from_scale: str, to_scale: str) -> Hardness:
    """Convert a hardness, with the standing of the points it lies on or between.

    Parameters
    ----------
    value : float
        Hardness. [points of from_scale]
    from_scale, to_scale : str
        As `convert`.

    Returns
    -------
    Hardness
        Value [points of to_scale] and source.

    Raises
    ------
    Refused
        As `convert`.

    References
    ----------
    .. [1] ASTM E140, table 1.
    """
    found = convert(value, from_scale, to_scale)
    on_printed_point = convert(value, from_scale, "HRC") in PRINTED_HRC
    return Hardness(found, to_scale, HARDNESS_SOURCE if on_printed_point else MEMORY_SOURCE)


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's table with where it is from.

    Returns
    -------
    tuple of Stated
        Hardness. [points of each scale]

    References
    ----------
    .. [1] ASTM E140, table 1.
    """
    return tuple(
        Stated("hardness", f"{point[0]:g} HRC", value, scale, HARDNESS_SOURCE if printed else MEMORY_SOURCE)
        for point in POINTS
        for printed in [point[0] in PRINTED_HRC]
        for scale, value in zip(SCALES, point, strict=True)
    )


def _scale(written: str) -> str:
    scale = _SPELLINGS.get(written.strip().upper())
    if scale is None:
        raise not_in_table("Scale", written, ", ".join(_SPELLINGS))
    return scale
