"""Hardness scales of hardened steel, between the points of the conversion table."""

from __future__ import annotations

from shop.standards.source import Source, Standing, need_number, not_in_table

HARDNESS_SOURCE = Source(
    "ASTM E140",
    "",
    Standing.SEVERAL,
    "Non-austenitic steels; straight lines between the points. Tensile strength is left out.",
)
SCALES = ("HRC", "HV", "HB")

# HRC, HV, HB of one and the same steel. [points of each scale]
POINTS: tuple[tuple[float, float, float], ...] = (
    (30, 302, 286),
    (34, 336, 319),
    (40, 392, 371),
    (44, 434, 409),
    (48, 484, 455),
    (52, 544, 512),
    (54, 577, 543),
    (60, 697, 654),
)


def convert(value: float, from_scale: str, to_scale: str) -> float:
    """Convert a hardness between scales, inside the table only.

    Parameters
    ----------
    value : float
        Hardness. [points of from_scale]
    from_scale, to_scale : str
        "HRC", "HV" or "HB".

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
    .. [1] ASTM E140, table 1, points from 30 to 60 HRC.
    """
    for scale in (from_scale, to_scale):
        if scale not in SCALES:
            raise not_in_table("Scale", scale, ", ".join(SCALES))
    need_number(value, from_scale, "")
    known, wanted = SCALES.index(from_scale), SCALES.index(to_scale)
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
