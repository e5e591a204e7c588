"""Specular gloss: what an ideal surface reflects, and the angle to measure at."""

from __future__ import annotations

import math

from shop.refusal import Saying, gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

GLOSS_SOURCE = Source(
    gettext_noop("ISO 2813 / ASTM D523 (plastics: ASTM D2457)"),
    "2014 / 2014 (2021)",
    Standing.PUBLISHED,
    gettext_noop(
        "The specified angle governs; angles do not convert. A primary standard is checked again every 2 years."
    ),
)
INTERIOR_TOLERANCE_SOURCE = Source(
    gettext_noop("Interior gloss tolerance at 60 degrees"),
    NO_EDITION,
    Standing.SEVERAL,
    gettext_noop("Weakly founded."),
)
APERTURE_SOURCE = Source(
    gettext_noop("Measured area of usual gloss meters"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("Set down from memory; the instrument's own sheet goes before."),
    from_memory=True,
)

BLACK_GLASS_INDEX = 1.567
GEOMETRIES_DEG = (20, 60, 85)
INTERIOR_TOLERANCE_GU = (0.3, 0.5)
ADVISE_20_ABOVE_GU = 70.0
ADVISE_85_BELOW_GU = 10.0
PRIMARY_STANDARD_YEARS = 2

# Width and length of the spot that usual instruments measure at an angle. [mm]
USUAL_APERTURE_MM: dict[int, tuple[float, float]] = {20: (10.0, 10.0), 60: (9.0, 15.0), 85: (5.0, 38.0)}


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
    if gloss_60 > ADVISE_20_ABOVE_GU:
        return 20
    return 85 if gloss_60 < ADVISE_85_BELOW_GU else 60


def angle_advice(gloss_60: float, spec_deg: int) -> Saying | None:
    """Return what to say where the standard would advise another angle than the spec names.

    Parameters
    ----------
    gloss_60 : float
        Gloss read at 60 degrees. [GU]
    spec_deg : int
        The angle of the spec, which governs. [deg]

    Returns
    -------
    Saying or None
        The advice; None where spec and advice agree.

    Raises
    ------
    Refused
        If the gloss is negative, or the angle is none of 20, 60 and 85.

    References
    ----------
    .. [1] ISO 2813 / ASTM D523.
    """
    if spec_deg not in GEOMETRIES_DEG:
        raise not_in_table("Angle", spec_deg, ", ".join(f"{angle}°" for angle in GEOMETRIES_DEG))
    advised = geometry_deg(gloss_60)
    if advised == spec_deg:
        return None
    return Saying(
        "gloss.angle",
        gettext_noop(
            "At {gloss} GU the standard advises {advised}° to tell surfaces apart; the spec says {spec}°, and the spec "
            "governs. Values of two angles do not convert."
        ),
        {"gloss": gloss_60, "advised": advised, "spec": spec_deg},
    )


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Index [1], angles [deg], bounds and tolerances [GU], years, apertures [mm].

    References
    ----------
    .. [1] ISO 2813 / ASTM D523; apertures from memory.
    """
    apertures = [
        Stated("aperture", f"{angle}° {side}", size, "mm", APERTURE_SOURCE)
        for angle, sizes in USUAL_APERTURE_MM.items()
        for side, size in zip(("width", "length"), sizes, strict=True)
    ]
    return (
        Stated("gloss", "index of black glass", BLACK_GLASS_INDEX, "1", GLOSS_SOURCE),
        *(Stated("gloss", "angle", angle, "deg", GLOSS_SOURCE) for angle in GEOMETRIES_DEG),
        Stated("gloss", "20° advised above", ADVISE_20_ABOVE_GU, "GU", GLOSS_SOURCE),
        Stated("gloss", "85° advised below", ADVISE_85_BELOW_GU, "GU", GLOSS_SOURCE),
        Stated("gloss", "primary standard again after", PRIMARY_STANDARD_YEARS, "years", GLOSS_SOURCE),
        *(Stated("gloss", "interior tolerance", gu, "GU", INTERIOR_TOLERANCE_SOURCE) for gu in INTERIOR_TOLERANCE_GU),
        *apertures,
    )
