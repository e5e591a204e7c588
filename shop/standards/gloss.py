"""Specular gloss: what an ideal surface reflects, and the angle to measure at."""

from __future__ import annotations

import math

from shop.standards.source import Source, Standing, need_number, not_in_table

GLOSS_SOURCE = Source(
    "ISO 2813 / ASTM D523 (plastics: ASTM D2457)",
    "",
    Standing.PUBLISHED,
    "The specified angle governs; angles do not convert. A primary standard is checked again every 2 years.",
)
INTERIOR_TOLERANCE_SOURCE = Source("Interior gloss tolerance at 60 degrees", "", Standing.SEVERAL, "Weakly founded.")

BLACK_GLASS_INDEX = 1.567
GEOMETRIES_DEG = (20, 60, 85)
INTERIOR_TOLERANCE_GU = (0.3, 0.5)


def specular_reflectance(index: float, angle_deg: float) -> float:
    """Return the share of unpolarised light that a smooth dielectric reflects.

    Parameters
    ----------
    index : float
        Refractive index, above 1. [1]
    angle_deg : float
        Angle of incidence, 0 to below 90. [deg]

    Returns
    -------
    float
        Reflectance. [1]

    Raises
    ------
    Refused
        If the index is not above 1 or the angle lies outside 0 to 90.

    References
    ----------
    .. [1] Fresnel's equations, as used by ISO 2813 for the primary standard.
    """
    need_number(index, "Index", "", above=1)
    need_number(angle_deg, "Angle", "deg")
    if not 0 <= angle_deg < 90:
        raise not_in_table("Angle", angle_deg, "0–90°")
    cosine = math.cos(math.radians(angle_deg))
    inside = math.sqrt(index**2 - math.sin(math.radians(angle_deg)) ** 2)
    across = (cosine - inside) / (cosine + inside)
    along = (index**2 * cosine - inside) / (index**2 * cosine + inside)
    return (across**2 + along**2) / 2


def ideal_gloss_gu(index: float, angle_deg: float) -> float:
    """Return the gloss of an ideal, opaque, unplated surface: the most a part of that index can show.

    Parameters
    ----------
    index : float
        Refractive index, above 1. [1]
    angle_deg : float
        Angle of the gloss meter, usually 20, 60 or 85. [deg]

    Returns
    -------
    float
        Gloss, where black glass of index 1.567 is 100. [GU]

    Raises
    ------
    Refused
        As `specular_reflectance`.

    References
    ----------
    .. [1] ISO 2813; a clear part adds the light from its back face and may read more.
    """
    return 100 * specular_reflectance(index, angle_deg) / specular_reflectance(BLACK_GLASS_INDEX, angle_deg)


def geometry_deg(gloss_60: float) -> int:
    """Return the angle that the standard advises for a surface; the angle of a spec goes before it.

    Parameters
    ----------
    gloss_60 : float
        Gloss read at 60 degrees. [GU]

    Returns
    -------
    int
        20 above 70 GU, 85 below 10 GU, else 60. [deg]

    Raises
    ------
    Refused
        If the gloss is negative or not a number.

    References
    ----------
    .. [1] ISO 2813 / ASTM D523: 60 degrees decides, 20 above 70 GU, 85 under 10 GU.
    """
    need_number(gloss_60, "Gloss", "GU")
    if gloss_60 < 0:
        raise not_in_table("Gloss", gloss_60, "≥ 0 GU")
    if gloss_60 > 70:
        return 20
    return 85 if gloss_60 < 10 else 60
