"""How two gauges of one kind differ, from a paired comparison, and whether a gauge still reads its tile."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy.special import stdtr, stdtrit

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing, need_number, not_in_table

OFFSET_SOURCE = Source(
    gettext_noop(
        "Bland and Altman, Statistical methods for assessing agreement between two methods of clinical measurement"
    ),
    "Lancet 1986; Stat. Methods Med. Res. 1999",
    Standing.PUBLISHED,
    gettext_noop("Mean difference with its t interval, limits of agreement, slope of the differences over the means."),
)
TILE_SOURCE = Source(
    gettext_noop("ISO 13528, En number; ISO/IEC 17043"),
    "2022; 2023",
    Standing.SEVERAL,
    gettext_noop(
        "Deviation over the root of the sum of both squared expanded uncertainties, of one coverage; up to 1 agrees."
    ),
)


@dataclass(frozen=True)
class PairedOffset:
    """Offset of our gauge against theirs, in the unit of the values; positive where ours reads higher.

    `lower` and `upper` bound the mean difference; `agreement_lower` and `agreement_upper` bound about 95 % of single
    differences. `slope` is the change of the difference per unit of level, None where all levels are equal.
    Where `depends_on_level` is true one offset does not serve over the whole range.
    """

    n: int
    offset: float
    sd: float
    standard_error: float
    df: int
    lower: float
    upper: float
    differs: bool
    agreement_lower: float
    agreement_upper: float
    agreement_standard_error: float
    level_from: float
    level_to: float
    slope: float | None
    slope_standard_error: float | None
    slope_p: float | None
    depends_on_level: bool
    confidence: float
    differences: tuple[float, ...]
    means: tuple[float, ...]
    source: Source = OFFSET_SOURCE


@dataclass(frozen=True)
class TileCheck:
    """A check on the tile: "good", "look again" where inside the limit but not by chance, or "unfit" beyond it.

    `en` is None where neither uncertainty is known. `deviation` and `limit` are in the unit of the values.
    """

    verdict: Literal["good", "look again", "unfit"]
    deviation: float
    limit: float
    expanded: float
    en: float | None
    source: Source = TILE_SOURCE


def paired_offset(ours: Sequence[float], theirs: Sequence[float], confidence: float = 0.95) -> PairedOffset:
    """Return the offset between two gauges that measured the same things, each once or as a mean.

    Parameters
    ----------
    ours, theirs : sequence of float
        Readings in the same order, at least 3 pairs. [any one unit]
    confidence : float
        Of the interval; one less it is the level of the test of the slope. [1]

    Returns
    -------
    PairedOffset
        Mean difference, its error and interval, limits of agreement [unit of the values], and slope [1].

    Raises
    ------
    Refused
        If the lengths differ, there are fewer than 3 pairs, or a number is not finite.

    References
    ----------
    .. [1] Bland and Altman (1986), Lancet 327, 307-310: limits at 2 s, their standard error sqrt(3 s^2 / n).
    .. [2] Bland and Altman (1999), Stat. Methods Med. Res. 8, 135-160: regression of differences on means; limits
       at 1.96 s.
    """
    need_number(confidence, "Confidence", "")
    if not 0 < confidence < 1:
        raise not_in_table("Confidence", confidence, "0–1")
    _check_pairs(ours, theirs)
    first, second = np.asarray(ours, dtype=float), np.asarray(theirs, dtype=float)
    difference, level = first - second, (first + second) / 2
    n = len(difference)
    offset, sd = float(difference.mean()), _no_noise(float(difference.std(ddof=1)), first, second)
    error = sd / math.sqrt(n)
    half = float(stdtrit(n - 1, (1 + confidence) / 2)) * error
    slope, slope_error, p = _slope(difference, level, sd)
    return PairedOffset(
        n=n, offset=offset, sd=sd, standard_error=error, df=n - 1, lower=offset - half, upper=offset + half,
        differs=abs(offset) > half, agreement_lower=offset - 1.96 * sd, agreement_upper=offset + 1.96 * sd,
        agreement_standard_error=math.sqrt(3) * error, level_from=float(level.min()), level_to=float(level.max()),
        slope=slope, slope_standard_error=slope_error, slope_p=p,
        depends_on_level=p is not None and p < 1 - confidence, confidence=confidence,
        differences=tuple(map(float, difference)), means=tuple(map(float, level)),
    )  # fmt: skip


def tile_check(value: float, tile_value: float, tile_expanded: float, gauge_expanded: float, limit: float) -> TileCheck:
    """Return whether a gauge reads its tile well enough to be used.

    Parameters
    ----------
    value : float
        What the gauge reads on the tile. [any one unit]
    tile_value : float
        What the tile's certificate says. [unit of the value]
    tile_expanded, gauge_expanded : float
        Expanded uncertainties of tile and gauge, of the same coverage; 0 where not known. [unit of the value]
    limit : float
        Deviation that the shop allows, itself included. [unit of the value]

    Returns
    -------
    TileCheck
        Verdict, deviation [unit of the value] and En [1].

    Raises
    ------
    Refused
        If a number is not finite, an uncertainty negative, or the limit not positive.

    References
    ----------
    .. [1] ISO 13528:2022, En number, and ISO/IEC 17043:2023: |En| up to 1 is satisfactory.
    """
    for name, number in (("Value", value), ("Tile", tile_value)):
        need_number(number, name, "")
    for name, number in (("Uncertainty of the tile", tile_expanded), ("Uncertainty of the gauge", gauge_expanded)):
        need_number(number, name, "")
        if number < 0:
            raise not_in_table(name, number, "≥ 0")
    need_number(limit, "Limit", "", above=0)
    deviation = value - tile_value
    expanded = math.hypot(tile_expanded, gauge_expanded)
    en = deviation / expanded if expanded else None
    # Decimal readings at the limit must not fail by what binary fractions add.
    slack = 8 * math.ulp(max(abs(value), abs(tile_value), limit))
    verdict: Literal["good", "look again", "unfit"] = "good"
    if abs(deviation) > limit + slack:
        verdict = "unfit"
    elif en is not None and abs(deviation) > expanded + slack:
        verdict = "look again"
    return TileCheck(verdict, deviation, limit, expanded, en)


def _check_pairs(ours: Sequence[float], theirs: Sequence[float]) -> None:
    if len(ours) != len(theirs):
        raise Refused(
            "offset.not_paired",
            gettext_noop("{found} readings of ours do not pair with {limit} of theirs."),
            next_step=gettext_noop("Enter both readings of each piece."),
            found=len(ours),
            limit=len(theirs),
        )
    if len(ours) < 3:
        raise Refused(
            "offset.too_few",
            gettext_noop("{found} pairs are too few; an offset needs {limit} or more."),
            next_step=gettext_noop("Measure more pieces on both gauges, from low to high."),
            found=len(ours),
            limit=3,
        )
    for value in (*ours, *theirs):
        need_number(value, "Reading", "")


def _no_noise(sd: float, *values: np.ndarray) -> float:
    """Return the standard deviation, 0 where rounding alone makes it."""
    most = max(float(np.abs(found).max()) for found in values)
    return sd if sd > 8 * float(np.finfo(float).eps) * most else 0.0


def _slope(difference: np.ndarray, level: np.ndarray, sd: float) -> tuple[float | None, float | None, float | None]:
    """Return the slope of the differences over the levels, its standard error and two-sided p."""
    away = level - level.mean()
    spread = float(away @ away)
    if _no_noise(math.sqrt(spread), level) == 0:
        return None, None, None
    if sd == 0:
        return 0.0, 0.0, 1.0
    slope = float(away @ difference) / spread
    rest = difference - difference.mean() - slope * away
    df = len(level) - 2
    error = _no_noise(math.sqrt(float(rest @ rest) / df), difference) / math.sqrt(spread)
    if error == 0:
        return slope, 0.0, 0.0 if slope else 1.0
    return slope, error, float(2 * stdtr(df, -abs(slope / error)))
