"""The Gaussian profile filter of ISO 16610-21, with what happens at the ends said openly."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from shop.refusal import Refused, gettext_noop
from shop.standards.profile.checking import LEAST_POINTS_PER_CUTOFF, Floats, checked_heights, checked_length
from shop.standards.profile.form import remove_form
from shop.standards.source import not_in_table

ALPHA = math.sqrt(math.log(2) / math.pi)
SAMPLING_LENGTHS = 5
ENDS = ("auto", "discard", "normalised", "regression")

# A trace may lack this part of a cut-off and still count as a whole sampling length: 8001 points end where 8000 do.
_SLACK = 0.01


@dataclass(frozen=True, eq=False)
class FilteredProfile:
    """Primary, waviness and roughness profile in um, and the points `first` to `last` (not included) to evaluate.

    `ends` says how the ends were handled: "discard" or the weights "normalised", "regression" or "none" (not filtered).
    """

    primary_um: Floats
    waviness_um: Floats
    roughness_um: Floats
    spacing_um: float
    cutoff_mm: float
    lambda_s_um: float | None
    form: str
    ends: str
    first: int
    last: int
    sampling_lengths: int

    @property
    def evaluated_um(self) -> Floats:
        """Return the roughness profile over the evaluation length. [um]"""
        return self.roughness_um[self.first : self.last]


def gaussian_transmission(wavelength: float, cutoff: float) -> float:
    """Return the part of a sine wave's amplitude that the mean line keeps.

    Parameters
    ----------
    wavelength, cutoff : float
        Wavelength and cut-off in one unit. [mm]

    Returns
    -------
    float
        2^-(cutoff/wavelength)^2, 0.5 at the cut-off. [1]

    Raises
    ------
    Refused
        If one of them is not above 0.

    References
    ----------
    .. [1] ISO 16610-21:2011, transmission of the long-wave component.
    """
    checked_length("Wavelength", wavelength, "mm")
    checked_length("Cut-off", cutoff, "mm")
    return float(2.0 ** -((cutoff / wavelength) ** 2))


def gaussian_weights(spacing_um: float, cutoff_mm: float) -> Floats:
    """Return the weights of the Gaussian filter at the points of a trace.

    Parameters
    ----------
    spacing_um : float
        Spacing of the points. [um]
    cutoff_mm : float
        Cut-off (nesting index). [mm]

    Returns
    -------
    NDArray[np.float64]
        Weights from one cut-off before to one cut-off after the point, their sum 1. Beyond, they would be below a
        millionth of the middle one. [1]

    Raises
    ------
    Refused
        If spacing or cut-off is not above 0.

    References
    ----------
    .. [1] ISO 16610-21:2011: s(x) = exp(-pi (x / (alpha cutoff))^2) / (alpha cutoff), alpha = sqrt(ln 2 / pi).
    """
    spacing = checked_length("Spacing", spacing_um, "um")
    cutoff = checked_length("Cut-off", cutoff_mm, "mm") * 1000
    half = int(cutoff / spacing)
    at = np.arange(-half, half + 1) * (spacing / (ALPHA * cutoff))
    weights: Floats = np.exp(-np.pi * at * at)
    weights /= weights.sum()
    return weights


def filter_profile(
    z_um: ArrayLike,
    spacing_um: float,
    cutoff_mm: float,
    lambda_s_um: float | None = None,
    *,
    form: str = "line",
    ends: str = "auto",
    sampling_lengths: int | None = SAMPLING_LENGTHS,
) -> FilteredProfile:
    """Take the form out of a trace and part it into waviness and roughness.

    Parameters
    ----------
    z_um : ArrayLike
        Heights, evenly spaced. [um]
    spacing_um : float
        Spacing of the points. [um]
    cutoff_mm : float
        Cut-off lambda_c (nesting index), also the sampling or section length. [mm]
    lambda_s_um : float or None
        Nesting index of the low-pass that is applied first; None for none. [um]
    form : str
        "none", "line" or "arc", removed first by least squares.
    ends : str
        "discard": half a cut-off at each end serves as run-in and is not evaluated. "normalised": the weights inside
        the trace are scaled to the sum 1. "regression": a straight line is fitted under the weights, so that a tilt
        passes unchanged. "auto", the default: "discard" where that leaves a sampling length, else "normalised"; five
        sampling lengths so need a trace of six cut-offs. With lambda_s the weights are always normalised.
    sampling_lengths : int or None
        The middle so many are evaluated, fewer where the trace is short; None for as many as there are. [1]

    Returns
    -------
    FilteredProfile
        Profiles [um] and the points to evaluate.

    Raises
    ------
    Refused
        If the trace has a gap, too many points, too few for the cut-off, or is shorter than one sampling length.

    References
    ----------
    .. [1] ISO 16610-21:2011, linear profile filter: Gaussian.
    .. [2] ISO 16610-28:2016 names ways to treat the ends; the choice of the default is this software's own.
    .. [3] ISO 21920-2:2021 and ISO 4287:1997, primary and roughness profile.
    """
    spacing, cutoff = _checked_cutoff(spacing_um, cutoff_mm, lambda_s_um)
    if ends not in ENDS:
        raise not_in_table("Ends", ends, ", ".join(ENDS))
    heights = checked_heights(z_um)
    used_ends, first, last, lengths = _window(len(heights) * spacing, spacing, cutoff, ends, sampling_lengths)
    last = min(last, len(heights))
    primary = remove_form(heights, spacing, form)
    if lambda_s_um is not None:
        primary = _mean_line(primary, gaussian_weights(spacing, lambda_s_um / 1000), regression=False)
    waviness = _mean_line(primary, gaussian_weights(spacing, cutoff_mm), regression=used_ends == "regression")
    roughness = primary - waviness
    return FilteredProfile(
        primary, waviness, roughness, spacing, float(cutoff_mm), lambda_s_um, form, used_ends, first, last, lengths
    )


def as_filtered(z_um: ArrayLike, spacing_um: float, cutoff_mm: float) -> FilteredProfile:
    """Take a trace that the gauge has filtered already as its roughness profile, with the mean height as its line.

    Parameters
    ----------
    z_um : ArrayLike
        Heights of the roughness profile, evenly spaced. [um]
    spacing_um : float
        Spacing of the points. [um]
    cutoff_mm : float
        The cut-off that the gauge has used, also the sampling or section length. [mm]

    Returns
    -------
    FilteredProfile
        The profile, with no waviness [um].

    Raises
    ------
    Refused
        As `filter_profile`.

    References
    ----------
    .. [1] ISO 21920-2:2021, section lengths of the roughness profile.
    """
    spacing, cutoff = _checked_cutoff(spacing_um, cutoff_mm, None)
    heights = checked_heights(z_um)
    _, first, last, lengths = _window(len(heights) * spacing, spacing, cutoff, "normalised", SAMPLING_LENGTHS)
    last = min(last, len(heights))
    level = heights[first:last].mean()
    line = np.full_like(heights, level)
    return FilteredProfile(
        heights, line, heights - level, spacing, float(cutoff_mm), None, "none", "none", first, last, lengths
    )


def _checked_cutoff(spacing_um: float, cutoff_mm: float, lambda_s_um: float | None) -> tuple[float, float]:
    spacing = checked_length("Spacing", spacing_um, "um")
    cutoff = checked_length("Cut-off", cutoff_mm, "mm") * 1000
    if cutoff < LEAST_POINTS_PER_CUTOFF * spacing:
        raise _too_wide(spacing, cutoff / LEAST_POINTS_PER_CUTOFF)
    if lambda_s_um is not None:
        lambda_s = checked_length("λs", lambda_s_um, "um")
        if lambda_s >= cutoff:
            raise not_in_table("λs", lambda_s_um, f"< {cutoff_mm} mm")
        if spacing > lambda_s / 2:
            raise _too_wide(spacing, lambda_s / 2)
    return spacing, cutoff


def _too_wide(spacing: float, limit: float) -> Refused:
    return Refused(
        "profile.spacing_too_wide",
        gettext_noop("A spacing of {value} µm is too wide for this filter, which needs {limit} µm or less."),
        next_step=gettext_noop("Measure with a finer spacing, or choose the filter that belongs to it."),
        value=spacing,
        limit=limit,
    )


def _window(length: float, spacing: float, cutoff: float, ends: str, wanted: int | None) -> tuple[str, int, int, int]:
    """Return how the ends are treated, the first point, the one after the last, and the sampling lengths between."""
    whole = int(length / cutoff + _SLACK)
    inner = int(length / cutoff - 1 + _SLACK)
    if ends == "auto":
        # Ends kept with fewer weights bend the mean line there: measured on sines, a tenth to one per cent of Ra.
        ends = "discard" if inner >= 1 else "normalised"
    there = inner if ends == "discard" else whole
    if there < 1:
        raise Refused(
            "profile.too_short",
            gettext_noop("The trace is {value} mm long, and one sampling length needs {limit} mm."),
            next_step=gettext_noop("Measure a longer trace, or choose the cut-off that belongs to the surface."),
            value=round(length / 1000, 6),
            limit=cutoff * (2 if ends == "discard" else 1) / 1000,
        )
    lengths = there if wanted is None else min(there, max(wanted, 1))
    points = round(length / spacing)
    evaluated = min(round(lengths * cutoff / spacing), points)
    first = (points - evaluated) // 2
    return ends, first, first + evaluated, lengths


def _mean_line(z: Floats, weights: Floats, *, regression: bool) -> Floats:
    """Return the weighted mean line; beyond the ends there are no points, and so no weights."""
    sums = _sums_inside(weights, len(z))
    mean = _correlated(z, weights)
    if not regression:
        mean /= sums
        return mean
    half = len(weights) // 2
    away = np.arange(-half, half + 1) / half
    first, second = _sums_inside(weights * away, len(z)), _sums_inside(weights * away * away, len(z))
    leaning = _correlated(z, weights * away)
    return (second * mean - first * leaning) / (second * sums - first * first)


def _sums_inside(weights: Floats, points: int) -> Floats:
    half = len(weights) // 2
    upto = np.concatenate(([0.0], np.cumsum(weights)))
    result = np.full(points, upto[-1])
    edge = min(half, points)
    near = np.arange(edge)
    result[:edge] = upto[np.minimum(half + points - near, len(weights))] - upto[half - near]
    back = np.arange(max(points - half, edge), points)
    result[back] = upto[half + points - back] - upto[np.maximum(half - back, 0)]
    return result


def _correlated(z: Floats, weights: Floats) -> Floats:
    """Return the sum of weights[j] z[i + j] for each i, by Fourier transform of overlapping blocks: O(n log n)."""
    half = len(weights) // 2
    size = max(1 << 15, 1 << (4 * len(weights)).bit_length())
    size = min(size, 1 << (len(z) + 2 * half).bit_length())
    step = size - 2 * half
    kernel = np.fft.rfft(weights[::-1], size)
    padded = np.zeros(len(z) + 2 * half)
    padded[half : half + len(z)] = z
    result = np.empty_like(z)
    for start in range(0, len(z), step):
        block = np.fft.irfft(np.fft.rfft(padded[start : start + size], size) * kernel, size)
        there = min(step, len(z) - start)
        result[start : start + there] = block[2 * half : 2 * half + there]
    return result
