"""What a trace must be before it is evaluated: numbers without gaps, evenly spaced, not endless."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.source import need_number

Floats = NDArray[np.float64]

MAX_POINTS = 5_000_000
LEAST_POINTS_PER_CUTOFF = 10

# Steps may differ from their mean by this part of it before the spacing counts as uneven; a rule of this software.
STEP_TOLERANCE = 0.1


@dataclass(frozen=True, eq=False)
class Trace:
    """A trace as it was read: heights and spacing in um, what was read in which unit, and the header's own words."""

    z_um: Floats
    spacing_um: float
    note: Saying
    header: tuple[tuple[str, str], ...] = ()


def checked_heights(z_um: ArrayLike) -> Floats:
    """Return heights as an array, after checking that each point has one.

    Parameters
    ----------
    z_um : ArrayLike
        Heights, one a point. [um]

    Returns
    -------
    NDArray[np.float64]
        The heights. [um]

    Raises
    ------
    Refused
        If there is text among them, more than one row, too many points or none, or a gap; points count from 1.

    References
    ----------
    .. [1] IEEE 754: comparisons with NaN are false, so a gap would pass unseen.
    """
    try:
        need_few(len(z_um))  # type: ignore[arg-type]
        heights = np.ma.filled(np.ma.asarray(z_um, dtype=np.float64), np.nan)
    except Refused:
        raise
    except (TypeError, ValueError) as error:
        raise Refused(
            "profile.not_numbers",
            gettext_noop("The heights of the trace are not all numbers."),
            next_step=gettext_noop("Give one height for each point."),
        ) from error
    if heights.ndim != 1:
        raise Refused(
            "profile.not_one_row",
            gettext_noop("The heights have {value} dimensions, and a profile has one."),
            next_step=gettext_noop("Take one trace out of the surface."),
            value=heights.ndim,
            limit=1,
        )
    bad = np.flatnonzero(~np.isfinite(heights))
    if bad.size:
        raise Refused(
            "profile.gap",
            gettext_noop("Point {index} of the trace has no height ({value}); {count} points have none."),
            next_step=gettext_noop("Measure the trace again, or export the part without the gap."),
            index=int(bad[0]) + 1,
            value=str(heights[bad[0]]),
            count=int(bad.size),
        )
    return heights


def need_few(points: int) -> None:
    """Refuse a trace of more points than are evaluated at once.

    Parameters
    ----------
    points : int
        Number of points. [1]

    Raises
    ------
    Refused
        If there are more than 5 million, or fewer than two.

    References
    ----------
    .. [1] The limit is this software's own; ISO 21920-3 asks for 8001 points at a cut-off of 0.8 mm.
    """
    if points > MAX_POINTS:
        raise Refused(
            "profile.too_many_points",
            gettext_noop("The trace has more than {limit} points, and no more are evaluated at once."),
            next_step=gettext_noop("Export it with a wider spacing, or cut it to the evaluation length."),
            value=points,
            limit=MAX_POINTS,
        )
    if points < 2:
        raise Refused(
            "profile.too_few_points",
            gettext_noop("The trace has {value} points, and at least {limit} are needed."),
            next_step=gettext_noop("Check that the file holds the heights."),
            value=points,
            limit=2,
        )


def checked_length(name: str, value: float, unit: str) -> float:
    """Return a length that is a single positive number.

    Parameters
    ----------
    name, unit : str
        What it is and its unit, for the refusal.
    value : float
        The length. [unit]

    Returns
    -------
    float
        The length. [unit]

    Raises
    ------
    Refused
        If it is text, a list, not finite or not above 0.

    References
    ----------
    .. [1] ISO 21920-3:2021: one spacing and one nesting index a trace.
    """
    try:
        number = float(value)
    except (TypeError, ValueError) as error:
        raise Refused(
            "profile.not_one_number",
            gettext_noop("{name} is not one number."),
            next_step=gettext_noop("Give one length; positions that are unevenly spaced cannot be filtered."),
            name=name,
        ) from error
    return need_number(number, name, unit, above=0.0)


def even_spacing(x_um: ArrayLike) -> float:
    """Return the spacing of positions that are evenly spaced.

    Parameters
    ----------
    x_um : ArrayLike
        Positions along the trace, rising or falling. [um]

    Returns
    -------
    float
        Mean spacing, negative where the positions fall. [um]

    Raises
    ------
    Refused
        If a position is missing, a step differs from the mean by more than a tenth and more than the last digit
        written, or the positions are written too coarsely to tell; points count from 1.

    References
    ----------
    .. [1] ISO 16610-21 weights points at equal distances; the tolerance of a tenth is this software's own.
    """
    x = checked_heights(x_um)
    spacing = float(x[-1] - x[0]) / (len(x) - 1)
    if spacing == 0:
        raise Refused(
            "trace.no_length",
            gettext_noop("The first and the last position of the trace are the same."),
            next_step=gettext_noop("Check which column holds the positions."),
            value=float(x[0]),
        )
    digit = _last_digit(x)
    if digit > 0.5 * abs(spacing):
        raise Refused(
            "trace.positions_too_coarse",
            gettext_noop("Positions are written to {value} µm, too coarse to show a spacing of {limit} µm."),
            next_step=gettext_noop("Export the positions with more decimals."),
            value=digit,
            limit=abs(spacing),
        )
    _refuse_uneven(x, spacing, STEP_TOLERANCE * abs(spacing) + 1.001 * digit)
    return spacing


def _last_digit(x: Floats) -> float:
    """Return the power of ten to which positions are written, 0 where no rounding shows. [um]"""
    for power in range(2, -7, -1):
        if _whole(x[:1000] * 10.0**-power) and _whole(x * 10.0**-power):
            steps = np.diff(np.round(x * 10.0**-power))
            # Nearly all steps alike are no rounding: 0, 1, 2, 4 is exact, with a gap.
            return 0.0 if np.mean(steps == np.median(steps)) > 0.9 else float(10.0**power)
    return 0.0


def _whole(scaled: Floats) -> bool:
    return bool(np.abs(scaled - np.round(scaled)).max() < 1e-6)


def _refuse_uneven(x: Floats, spacing: float, tolerance: float) -> None:
    steps = np.diff(x)
    # A trace with a gap shows a wider mean than its usual step, so the usual one is what a step is held against.
    usual = float(np.median(steps))
    off = np.abs(steps - usual) > tolerance
    drift = np.abs(x - x[0] - spacing * np.arange(len(x))) > tolerance
    if not off.any() and not drift.any():
        return
    at = int(np.argmax(off)) if off.any() else max(int(np.argmax(drift)) - 1, 0)
    value, index = float(steps[at]), at + 1
    if value * spacing > 0 and abs(value) > 1.5 * abs(usual):
        code = "trace.gap"
        template = gettext_noop(
            "Between points {index} and {following} is a gap: {value} µm where {usual} µm is usual."
        )
    else:
        code = "trace.uneven"
        template = gettext_noop(
            "The spacing is uneven: {value} µm from point {index} to {following}, {usual} µm usually."
        )
    raise Refused(
        code,
        template,
        next_step=gettext_noop("Export the trace with even spacing, or the part without the gap."),
        index=index,
        following=index + 1,
        value=round(value, 6),
        usual=round(usual, 6) if math.isfinite(usual) else usual,
        limit=round(tolerance, 6),
    )
