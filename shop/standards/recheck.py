"""After measuring: whether a value belongs to the conditions it was taken under, and under which to measure next."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass

from shop.refusal import Saying, gettext_noop
from shop.standards.conditions import (
    CUTOFFS_MM,
    ISO_1996,
    ISO_2021,
    SAMPLING_LENGTHS,
    MeasuringConditions,
    conditions_for_cutoff,
    measuring_conditions,
)
from shop.standards.source import Source, Standing, need_number, not_in_table

SHORT_LENGTH_SOURCE = Source(
    "ISO 4288",
    "1996",
    Standing.COMMON,
    gettext_noop("Standard deviation of five sampling lengths from that of n, set down from memory of clause 4.3."),
    from_memory=True,
)


@dataclass(frozen=True)
class Recheck:
    """Whether a value stands, under which conditions to measure next (None: none), and why.

    `settled` is false where the rows send the measurement to and fro between two cut-offs.
    """

    stands: bool
    next: MeasuringConditions | None
    saying: Saying
    settled: bool = True


@dataclass(frozen=True)
class FittingLength:
    """How many sampling lengths fit on a face, and the evaluation length they make. [1, mm]"""

    sampling_lengths: int
    evaluation_length_mm: float
    short: bool


_SAYINGS = {
    "stands": gettext_noop("The value lies in the row of the cut-off it was measured with ({cutoff} mm): it stands."),
    "try_shorter": gettext_noop(
        "The value lies in the row of its cut-off, {cutoff} mm. Measure once with {next} mm too: if that value lies in "
        "its own row, it is the one that counts."
    ),
    "again": gettext_noop("The value belongs to a cut-off of {next} mm, not to {cutoff} mm: measure again."),
    "unsettled": gettext_noop(
        "With {cutoff} mm the value belongs to {next} mm, which sent it here: the rows do not settle it. Name the "
        "cut-off on the drawing, or judge by the longer one."
    ),
    "by_limit": gettext_noop("The limit asks for a cut-off of {cutoff} mm, whatever is measured: it stands."),
    "not_by_limit": gettext_noop("The limit asks for a cut-off of {next} mm, not {cutoff} mm: measure again."),
}


def recheck(
    parameter: str,
    measured_um: float,
    cutoff_mm: float,
    edition: str = ISO_1996,
    *,
    limit_um: float | None = None,
    tried_mm: Collection[float] = (),
) -> Recheck:
    """Say whether a measured value belongs to the cut-off used, and which to use next.

    Parameters
    ----------
    parameter : str
        "Ra" or "Rz".
    measured_um : float
        The value. [um]
    cutoff_mm : float
        The cut-off it was measured with. [mm]
    edition : str
        "ISO 4288:1996" goes by the measured value, "ISO 21920-3:2021" by the limit.
    limit_um : float, optional
        The upper limit, which ISO 21920-3 asks for. [um]
    tried_mm : collection of float
        Cut-offs with which this surface was measured before. [mm]

    Returns
    -------
    Recheck
        Whether it stands, and the conditions to measure under next. [mm, um]

    Raises
    ------
    Refused
        As `measuring_conditions`; or if ISO 21920-3 is asked without a limit.

    References
    ----------
    .. [1] ISO 4288:1996, 7.2.1: repeated until the value lies in its row; then once with the next shorter cut-off,
       which counts where its own value lies in its own row. That last step from memory.
    .. [2] ISO 21920-3:2021, setting class by the limit.
    """
    if edition == ISO_2021:
        return _by_limit(parameter, measured_um, cutoff_mm, limit_um)
    belongs = measuring_conditions(parameter, measured_um, edition)
    tried = {round(each, 6) for each in tried_mm}
    if math.isclose(belongs.cutoff_mm, cutoff_mm, rel_tol=1e-9):
        row = CUTOFFS_MM.index(belongs.cutoff_mm)
        if row == 0 or CUTOFFS_MM[row - 1] in tried:
            return Recheck(True, None, _say("stands", cutoff_mm))
        shorter = conditions_for_cutoff(CUTOFFS_MM[row - 1], edition)
        return Recheck(True, shorter, _say("try_shorter", cutoff_mm, shorter))
    if round(belongs.cutoff_mm, 6) in tried:
        return Recheck(False, None, _say("unsettled", cutoff_mm, belongs), settled=False)
    return Recheck(False, belongs, _say("again", cutoff_mm, belongs))


def _by_limit(parameter: str, measured_um: float, cutoff_mm: float, limit_um: float | None) -> Recheck:
    need_number(measured_um, parameter, "um", above=0)
    if limit_um is None:
        raise not_in_table("Limit", "–", f"{ISO_2021}, {parameter}")
    wanted = measuring_conditions(parameter, limit_um, ISO_2021)
    if math.isclose(wanted.cutoff_mm, cutoff_mm, rel_tol=1e-9):
        return Recheck(True, None, _say("by_limit", cutoff_mm))
    return Recheck(False, wanted, _say("not_by_limit", cutoff_mm, wanted))


def _say(code: str, cutoff_mm: float, following: MeasuringConditions | None = None) -> Saying:
    values = {"cutoff": f"{cutoff_mm:g}", "next": "" if following is None else f"{following.cutoff_mm:g}"}
    return Saying(f"recheck.{code}", _SAYINGS[code], values)


def length_on_face(face_mm: float, cutoff_mm: float, travel_mm: float | None = None) -> FittingLength:
    """Return how much of the evaluation length a face has room for.

    Parameters
    ----------
    face_mm : float
        Straight length that the stylus can run on. [mm]
    cutoff_mm : float
        The cut-off, which is one sampling length. [mm]
    travel_mm : float, optional
        What the gauge needs besides to run up and out; half a cut-off at each end unless told. [mm]

    Returns
    -------
    FittingLength
        Whole sampling lengths, 0 to 5; short where fewer than 5 fit.

    Raises
    ------
    Refused
        If a length is not positive, or the travel negative.

    References
    ----------
    .. [1] ISO 4288:1996, five sampling lengths. The Gaussian filter of ISO 16610-21 needs half a cut-off at each end.
    """
    need_number(face_mm, "Length", "mm", above=0)
    need_number(cutoff_mm, "Cut-off", "mm", above=0)
    travel = cutoff_mm if travel_mm is None else need_number(travel_mm, "Travel", "mm", above=-1e-12)
    # A hair over, so that 4.8 mm hold five lengths of 0.8 and their travel.
    lengths = min(max(math.floor((face_mm - travel) / cutoff_mm + 1e-9), 0), SAMPLING_LENGTHS)
    return FittingLength(lengths, lengths * cutoff_mm, lengths < SAMPLING_LENGTHS)


def deviation_of_five(deviation: float, sampling_lengths: int) -> float:
    """Return the standard deviation that five sampling lengths would show, from that of fewer.

    Parameters
    ----------
    deviation : float
        Standard deviation of the parameter over evaluation lengths of n sampling lengths. [um]
    sampling_lengths : int
        n, 1 to 5. [1]

    Returns
    -------
    float
        Standard deviation to hold against limits that mean five. [um]

    Raises
    ------
    Refused
        If the deviation is negative or n lies outside 1 to 5.

    References
    ----------
    .. [1] ISO 4288:1996, 4.3: sigma5 = sigman sqrt(n / 5), from memory.
    """
    need_number(deviation, "Standard deviation", "um", above=-1e-300)
    if sampling_lengths not in range(1, SAMPLING_LENGTHS + 1):
        raise not_in_table("Sampling lengths", sampling_lengths, f"1–{SAMPLING_LENGTHS}")
    return deviation * math.sqrt(sampling_lengths / SAMPLING_LENGTHS)
