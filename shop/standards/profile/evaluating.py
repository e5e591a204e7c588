"""Ra, Rq, Rz, Rt, Rsk, Rku and RSm of a roughness profile, by the edition that the drawing names."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike

from shop.refusal import gettext_noop
from shop.standards.profile.checking import Floats
from shop.standards.profile.elements import mean_width_iso4287_um, mean_width_iso21920_um
from shop.standards.profile.filtering import SAMPLING_LENGTHS, FilteredProfile, filter_profile
from shop.standards.source import Source, Standing, not_in_table

ISO_4287 = "ISO 4287"
ISO_21920_2 = "ISO 21920-2"
EDITIONS = (ISO_4287, ISO_21920_2)

ISO_4287_SOURCE = Source(
    "ISO 4287",
    "1997",
    Standing.PUBLISHED,
    gettext_noop("All but Rt are worked out in each sampling length and averaged."),
)
ISO_21920_2_SOURCE = Source(
    "ISO 21920-2",
    "2021",
    Standing.SEVERAL,
    gettext_noop(
        "Over the evaluation length; Rp, Rv, Rz are means of section lengths. RSm's thresholds from one source."
    ),
)


@dataclass(frozen=True)
class SamplingLength:
    """What one sampling (section) length shows. [um], skewness and kurtosis [1], None on a flat profile."""

    ra_um: float
    rq_um: float
    rp_um: float
    rv_um: float
    rz_um: float
    rsk: float | None
    rku: float | None
    rsm_um: float | None


@dataclass(frozen=True)
class ProfileParameters:
    """The parameters of a profile with the conditions they were worked out under.

    Heights and RSm in um. Rsk and Rku are None on a flat profile, RSm where there is no whole element.
    """

    ra_um: float
    rq_um: float
    rp_um: float
    rv_um: float
    rz_um: float
    rt_um: float
    rsk: float | None
    rku: float | None
    rsm_um: float | None
    edition: str
    sections: tuple[SamplingLength, ...]
    sampling_lengths: int
    evaluation_length_mm: float
    cutoff_mm: float
    lambda_s_um: float | None
    spacing_um: float
    points: int
    form: str
    ends: str

    @property
    def short(self) -> bool:
        """Return whether fewer than five sampling lengths were evaluated."""
        return self.sampling_lengths < SAMPLING_LENGTHS


def parameters(
    z_um: ArrayLike,
    spacing_um: float,
    cutoff_mm: float,
    lambda_s_um: float | None = None,
    *,
    edition: str = ISO_21920_2,
    form: str = "line",
    ends: str = "auto",
    sampling_lengths: int | None = SAMPLING_LENGTHS,
) -> ProfileParameters:
    """Return the roughness parameters of a measured trace.

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
    edition : str
        "ISO 21920-2" or "ISO 4287"; where they differ is said at `parameters_of`.
    form : str
        "none", "line" or "arc", removed first by least squares.
    ends : str
        "auto", "discard", "normalised" or "regression", as `filter_profile` says.
    sampling_lengths : int or None
        The middle so many are evaluated; None for as many as there are. [1]

    Returns
    -------
    ProfileParameters
        Parameters [um, 1] and conditions; `short` where fewer than five sampling lengths are there.

    Raises
    ------
    Refused
        If the edition, form or ends are not known, the trace has a gap, too many points or too few, or is shorter
        than one sampling length.

    References
    ----------
    .. [1] ISO 21920-2:2021 and ISO 4287:1997; filter of ISO 16610-21:2011.
    """
    filtered = filter_profile(
        z_um, spacing_um, cutoff_mm, lambda_s_um, form=form, ends=ends, sampling_lengths=sampling_lengths
    )
    return parameters_of(filtered, edition)


def parameters_of(filtered: FilteredProfile, edition: str = ISO_21920_2) -> ProfileParameters:
    """Return the roughness parameters of a profile that is filtered.

    By ISO 4287 all but Rt are means of the sampling lengths. By ISO 21920-2 Ra, Rq, Rsk, Rku and RSm are worked out
    over the evaluation length, Rp, Rv and Rz as means of the section lengths. Rt is over the whole in both.

    Parameters
    ----------
    filtered : FilteredProfile
        The profile. [um]
    edition : str
        "ISO 21920-2" or "ISO 4287".

    Returns
    -------
    ProfileParameters
        Parameters [um, 1] and conditions.

    Raises
    ------
    Refused
        If the edition is not known.

    References
    ----------
    .. [1] ISO 21920-2:2021 and ISO 4287:1997, 4.1 to 4.3.
    """
    if edition not in EDITIONS:
        raise not_in_table("Edition", edition, ", ".join(EDITIONS))
    z, spacing, lengths = filtered.evaluated_um, filtered.spacing_um, filtered.sampling_lengths
    bounds = [round(i * len(z) / lengths) for i in range(lengths + 1)]
    parts = [z[start:end] for start, end in pairwise(bounds)]
    rp = float(np.mean([max(float(part.max()), 0.0) for part in parts]))
    rv = float(np.mean([max(-float(part.min()), 0.0) for part in parts]))
    rz = rp + rv
    sections = tuple(_section(part, spacing, rz) for part in parts)
    ra, rq, rsk, rku = _amplitudes(z)
    if edition == ISO_4287:
        ra, rq = (float(np.mean([getattr(s, name) for s in sections])) for name in ("ra_um", "rq_um"))
        rsk, rku, rsm = (_mean([getattr(s, name) for s in sections]) for name in ("rsk", "rku", "rsm_um"))
    else:
        rsm = mean_width_iso21920_um(z, spacing, rp, rv) if rku is not None else None
    return ProfileParameters(
        ra, rq, rp, rv, rz, float(z.max() - z.min()), rsk, rku, rsm,
        edition, sections, lengths, len(z) * spacing / 1000, filtered.cutoff_mm, filtered.lambda_s_um,
        spacing, len(z), filtered.form, filtered.ends,
    )  # fmt: skip


def _section(z: Floats, spacing: float, rz: float) -> SamplingLength:
    ra, rq, rsk, rku = _amplitudes(z)
    rp, rv = max(float(z.max()), 0.0), max(-float(z.min()), 0.0)
    rsm = mean_width_iso4287_um(z, spacing, rz) if rku is not None else None
    return SamplingLength(ra, rq, rp, rv, rp + rv, rsk, rku, rsm)


def _amplitudes(z: Floats) -> tuple[float, float, float | None, float | None]:
    squares = z * z
    ra, rq = float(np.abs(z).mean()), float(np.sqrt(squares.mean()))
    # What is left of a flat profile is the rounding of the computer, whose skewness says nothing.
    if rq < 1e-9:
        return ra, rq, None, None
    return ra, rq, float((squares @ z) / len(z)) / rq**3, float((squares @ squares) / len(z)) / rq**4


def _mean(values: Sequence[float | None]) -> float | None:
    there = [value for value in values if value is not None]
    return float(np.mean(there)) if there else None
