"""Reduce a profile to what the pixel columns of a picture can show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shop.standards.profile.checking import Floats, checked_heights
from shop.standards.source import need_number


@dataclass(frozen=True, eq=False)
class Columns:
    """Lowest and highest height of each pixel column, and the point in its middle, from 0 and between points."""

    at: Floats
    low: Floats
    high: Floats


def thinned(z_um: ArrayLike, width: int) -> Columns:
    """Return the lowest and the highest height in each pixel column of a picture.

    Parameters
    ----------
    z_um : ArrayLike
        Heights. [um]
    width : int
        Columns of the picture; a trace of fewer points gives a column for each. [px]

    Returns
    -------
    Columns
        Middles [points] and heights [um]; no peak and no pit is lost.

    Raises
    ------
    Refused
        If the trace has a gap or the width is not above 0.

    References
    ----------
    .. [1] Lowest and highest a column: what a line through all points would cover there.
    """
    heights = checked_heights(z_um)
    need_number(width, "Width", "px", above=0)
    columns = min(int(width), len(heights))
    bounds = np.arange(columns + 1, dtype=np.int64) * len(heights) // columns
    starts = bounds[:-1]
    middle = (starts + bounds[1:] - 1) / 2
    return Columns(middle, np.minimum.reduceat(heights, starts), np.maximum.reduceat(heights, starts))
