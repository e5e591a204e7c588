"""The mean width of profile elements, RSm, by where the profile crosses its line."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from shop.standards.profile.checking import Floats, checked_length

HEIGHT_PART = 0.1
SPACING_PART = 0.01


def counted_crossings(z_um: ArrayLike, above_um: float, below_um: float, least_points: float = 0.0) -> Floats:
    """Return where a profile crosses its line between a hill and a dale that are high and deep enough to count.

    Parameters
    ----------
    z_um : ArrayLike
        Heights above the line. [um]
    above_um, below_um : float
        A hill counts if it rises above the first, a dale if it falls below the second, both from the line. [um]
    least_points : float
        A hill or dale narrower than this belongs to what is round it. [points]

    Returns
    -------
    NDArray[np.float64]
        Places of the crossings, between points by interpolation; where a profile wavers about the line between hill
        and dale, the middle of it, so that the direction of the trace makes no difference. [points]

    References
    ----------
    .. [1] ISO 4287:1997, 3.2.7 and 4.3.1; ISO 21920-2:2021, crossing-the-line segmentation.
    """
    z = np.asarray(z_um, dtype=np.float64)
    counted = np.flatnonzero((z > above_um) | (z < -below_um))
    high = z[counted] > 0
    change = np.flatnonzero(high[1:] != high[:-1])
    if not change.size:
        return np.empty(0)
    before, after = counted[change], counted[change + 1]
    up = z > 0
    crossing = np.flatnonzero(up[1:] != up[:-1])
    first = crossing[np.searchsorted(crossing, before)]
    last = crossing[np.searchsorted(crossing, after) - 1]
    places = (_place(z, first) + _place(z, last)) / 2
    return _without_narrow(places, least_points) if least_points > 0 else places


def _place(z: Floats, left: np.ndarray) -> Floats:
    rise = z[left + 1] - z[left]
    return np.asarray(left - z[left] / rise, dtype=np.float64)


def _without_narrow(places: Floats, least: float) -> Floats:
    if places.size < 2 or np.diff(places).min() >= least:
        return places
    kept: list[float] = []
    for place in places.tolist():
        # Two crossings too close enclose a part that does not count: both go, and hill and dale still alternate.
        if kept and place - kept[-1] < least:
            kept.pop()
        else:
            kept.append(place)
    return np.array(kept)


def mean_width_iso4287_um(z_um: ArrayLike, spacing_um: float, rz_um: float) -> float | None:
    """Return the mean width of the profile elements of one sampling length.

    Parameters
    ----------
    z_um : ArrayLike
        Roughness profile of one sampling length. [um]
    spacing_um : float
        Spacing of the points. [um]
    rz_um : float
        Rz: hills and dales below 10 % of it do not count. [um]

    Returns
    -------
    float or None
        Mean width of the whole elements from the first crossing on, None where there is no whole element. [um]

    References
    ----------
    .. [1] ISO 4287:1997, 4.3.1: height discrimination 10 % of Rz, spacing discrimination 1 % of the sampling length.
    """
    spacing = checked_length("Spacing", spacing_um, "um")
    z = np.asarray(z_um, dtype=np.float64)
    threshold = HEIGHT_PART * rz_um
    places = counted_crossings(z, threshold, threshold, SPACING_PART * len(z))
    whole = (len(places) - 1) // 2
    return float(places[2 * whole] - places[0]) / whole * spacing if whole > 0 else None


def mean_width_iso21920_um(z_um: ArrayLike, spacing_um: float, rp_um: float, rv_um: float) -> float | None:
    """Return the mean width of the profile elements of the evaluation length.

    Parameters
    ----------
    z_um : ArrayLike
        Roughness profile of the evaluation length. [um]
    spacing_um : float
        Spacing of the points. [um]
    rp_um, rv_um : float
        Rp and Rv: a hill counts above 10 % of the first, a dale below 10 % of the second. [um]

    Returns
    -------
    float or None
        Mean width of hills followed by a dale and dales followed by a hill, None where there is neither. [um]

    References
    ----------
    .. [1] ISO 21920-2:2021, RSm; thresholds and both directions as a maker of stylus instruments describes them, the
       standard's own text not seen.
    """
    spacing = checked_length("Spacing", spacing_um, "um")
    places = counted_crossings(z_um, HEIGHT_PART * rp_um, HEIGHT_PART * rv_um)
    return float(np.mean(places[2:] - places[:-2])) * spacing if len(places) > 2 else None
