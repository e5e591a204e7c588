"""The uncertainty of a reading as a small budget: calibration, repeatability, resolution, offset of the gauge.

The scatter of the finish over the surface is no part of it: the acceptance rule (16 %, all below, mean) already allows
for that scatter, and counted here it would count twice. Repeatability is therefore taken at one fixed spot.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import ndtri, stdtrit

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing, need_number, not_in_table

BUDGET_SOURCE = Source(
    gettext_noop("JCGM 100 (GUM), 4.3.7, 5.1.2, 6.2 and G.4"),
    "2008",
    Standing.PUBLISHED,
    gettext_noop(
        "Root of the sum of squares, effective degrees of freedom by Welch and Satterthwaite, coverage by Student's t."
    ),
)


@dataclass(frozen=True)
class CalibrationRange:
    """What a certificate says of a range: expanded uncertainty a + b x |value| at coverage k, with its df.

    `lower` and `upper` bound the values that it holds for, themselves included; None bounds nothing.
    """

    expanded_a: float
    expanded_b: float = 0.0
    coverage_k: float = 2.0
    lower: float | None = None
    upper: float | None = None
    df: float = math.inf


@dataclass(frozen=True)
class Offset:
    """What a gauge reads too high, its standard uncertainty and degrees of freedom; it is taken off the reading."""

    value: float
    standard_uncertainty: float
    df: float = math.inf


@dataclass(frozen=True)
class Contribution:
    """One thing that the result depends on: standard uncertainty, distribution, degrees of freedom, sensitivity."""

    name: str
    standard_uncertainty: float
    distribution: str = "normal"
    df: float = math.inf
    sensitivity: float = 1.0


@dataclass(frozen=True)
class BudgetRow:
    """One row as shown: its part of the standard uncertainty of the result, and of the variance in percent."""

    name: str
    standard_uncertainty: float
    distribution: str
    df: float
    share_percent: float


@dataclass(frozen=True)
class Budget:
    """A result with its uncertainty; all but k, df, shares and confidence in the unit of the value."""

    value: float
    rows: tuple[BudgetRow, ...]
    combined: float
    expanded: float
    coverage_k: float
    effective_df: float
    confidence: float
    source: Source = BUDGET_SOURCE


def combine(value: float, contributions: Sequence[Contribution], confidence: float = 0.95) -> Budget:
    """Combine independent contributions as the GUM does.

    Parameters
    ----------
    value : float
        The result. [any one unit]
    contributions : sequence of Contribution
        Independent of each other; standard uncertainty x sensitivity in the unit of the value.
    confidence : float
        Coverage probability of the expanded uncertainty. [1]

    Returns
    -------
    Budget
        Combined and expanded uncertainty [unit of the value]; k is t at the effective degrees of freedom, cut to a
        whole number and not below 1.

    Raises
    ------
    Refused
        If a number is impossible: not finite, negative, degrees of freedom or confidence outside their range.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.1.2 and G.4.1, G.4.2.
    """
    need_number(value, "Value", "")
    _check_confidence(confidence)
    parts = [_part(contribution) for contribution in contributions]
    combined = math.hypot(*parts)
    heaviest = max(parts, default=0.0)
    # Relative to the heaviest part, so that the fourth power of a small number is not lost.
    by_df = math.fsum((part / heaviest) ** 4 / c.df for part, c in zip(parts, contributions, strict=True) if heaviest)
    effective = (combined / heaviest) ** 4 / by_df if by_df else math.inf
    k = coverage_factor(effective, confidence)
    rows = tuple(
        BudgetRow(c.name, part, c.distribution, c.df, 100 * (part / combined) ** 2 if combined else 0.0)
        for part, c in zip(parts, contributions, strict=True)
    )
    return Budget(value, rows, combined, k * combined, k, effective, confidence)


def coverage_factor(effective_df: float, confidence: float = 0.95) -> float:
    """Return the coverage factor for a number of effective degrees of freedom.

    Parameters
    ----------
    effective_df : float
        Effective degrees of freedom, above 0, or infinite; cut to a whole number at the second decimal, at least 1. [1]
    confidence : float
        Coverage probability. [1]

    Returns
    -------
    float
        k, two-sided. [1]

    Raises
    ------
    Refused
        If the degrees of freedom are not positive, or the probability lies outside 0 to 1.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), G.4.1, note 1 and table G.2.
    """
    _check_confidence(confidence)
    _check_df(effective_df)
    if math.isinf(effective_df) or effective_df > 1e9:
        return float(ndtri((1 + confidence) / 2))
    return float(stdtrit(max(1, math.floor(round(effective_df, 2))), (1 + confidence) / 2))


def reading_budget(
    value: float,
    calibration: CalibrationRange | Sequence[CalibrationRange],
    *,
    repeatability: float = 0.0,
    repeatability_df: float = math.inf,
    repeats: int = 1,
    resolution: float = 0.0,
    offset: Offset | None = None,
    confidence: float = 0.95,
) -> Budget:
    """Return the uncertainty budget of a reading; the scatter over the surface is not in it.

    Parameters
    ----------
    value : float
        The reading, or the mean of the repeats at the spot. [any one unit]
    calibration : CalibrationRange or sequence of it
        The certificate; of ranges that meet at the value the less certain one holds.
    repeatability : float
        Standard deviation of one reading at one fixed spot, as a gauge study gives it. [unit of the value]
    repeatability_df : float
        Its degrees of freedom. [1]
    repeats : int
        Readings at that spot whose mean the value is. [1]
    resolution : float
        Smallest step shown; half of it bounds a rectangle. Counted beside repeatability, on the safe side, although a
        repeatability found at the same resolution holds some of it. [unit of the value]
    offset : Offset, optional
        Known offset of the gauge, taken off the value; its uncertainty is a row.
    confidence : float
        Coverage probability of the expanded uncertainty. [1]

    Returns
    -------
    Budget
        The corrected value and its uncertainty. [unit of the value]

    Raises
    ------
    Refused
        If no calibrated range holds the value, or a number is impossible.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 4.2.3 repeats, 4.3.3 certificates, F.2.2.1 resolution, F.2.4 corrections.
    """
    need_number(value, "Value", "")
    found = _range_at(value, calibration)
    _check_repeats(repeats)
    rows = [
        Contribution("calibration", _standard(found, value), "normal", found.df),
        Contribution("repeatability", repeatability / math.sqrt(repeats), "normal", repeatability_df),
        Contribution("resolution", resolution / math.sqrt(12), "rectangular"),
    ]
    if offset is not None:
        need_number(offset.value, "Offset", "")
        rows.append(Contribution("offset", offset.standard_uncertainty, "normal", offset.df))
    return combine(value - (offset.value if offset else 0.0), rows, confidence)


def difference_budget(
    first: float,
    second: float,
    calibration: CalibrationRange | Sequence[CalibrationRange] | None = None,
    *,
    repeatability: float = 0.0,
    repeatability_df: float = math.inf,
    repeats: int = 1,
    resolution: float = 0.0,
    confidence: float = 0.95,
) -> Budget:
    """Return the budget of the difference of two readings on one gauge, as for cavities that must match.

    What the calibration does not know is common to both and cancels, but for the part that grows with the value: of
    that the difference keeps b x |difference|. Where the two lie in different calibrated ranges nothing is common, and
    both count in full. Repeatability and resolution do not cancel.

    Parameters
    ----------
    first, second : float
        The readings. [any one unit]
    calibration : CalibrationRange or sequence of it, optional
        The certificate of the gauge.
    repeatability : float
        Standard deviation of one reading at one fixed spot. [unit of the values]
    repeatability_df : float
        Its degrees of freedom, once for both, since it is one estimate. [1]
    repeats : int
        Readings at each spot whose mean each value is. [1]
    resolution : float
        Smallest step shown. [unit of the values]
    confidence : float
        Coverage probability of the expanded uncertainty. [1]

    Returns
    -------
    Budget
        first - second with its uncertainty. [unit of the values]

    Raises
    ------
    Refused
        If no calibrated range holds a value, or a number is impossible.

    References
    ----------
    .. [1] JCGM 100:2008 (GUM), 5.2.2 with example 1 and F.1.2: what is common to both inputs, fully correlated.
    """
    need_number(first, "Value", "")
    need_number(second, "Value", "")
    _check_repeats(repeats)
    rows = [
        Contribution("repeatability", repeatability / math.sqrt(repeats), "normal", repeatability_df, math.sqrt(2)),
        Contribution("resolution", resolution / math.sqrt(12), "rectangular", math.inf, math.sqrt(2)),
    ]
    if calibration is not None:
        rows = [*_not_common(first, second, calibration), *rows]
    return combine(first - second, rows, confidence)


def _not_common(
    first: float, second: float, calibration: CalibrationRange | Sequence[CalibrationRange]
) -> list[Contribution]:
    one, other = _range_at(first, calibration), _range_at(second, calibration)
    if one == other:
        kept = abs(one.expanded_b) * abs(first - second) / one.coverage_k
        return [Contribution("calibration", kept, "normal", one.df)]
    return [
        Contribution(name, _standard(found, value), "normal", found.df)
        for name, found, value in (("calibration, first", one, first), ("calibration, second", other, second))
    ]


def _range_at(value: float, calibration: CalibrationRange | Sequence[CalibrationRange]) -> CalibrationRange:
    ranges = [calibration] if isinstance(calibration, CalibrationRange) else list(calibration)
    for found in ranges:
        for name, number in (
            ("Expanded uncertainty a", found.expanded_a),
            ("Expanded uncertainty b", found.expanded_b),
        ):
            need_number(number, name, "")
            if number < 0:
                raise not_in_table(name, number, "≥ 0")
        need_number(found.coverage_k, "Coverage factor", "", above=0)
    holding = [
        found
        for found in ranges
        if (found.lower is None or value >= found.lower) and (found.upper is None or value <= found.upper)
    ]
    if not holding:
        raise Refused(
            "calibration.not_at_value",
            gettext_noop("The gauge is not calibrated at {value}; its certificate holds for {limit}."),
            next_step=gettext_noop("Use a gauge that is calibrated there, or have this one calibrated."),
            value=value,
            limit="; ".join(f"{_end(found.lower)}–{_end(found.upper)}" for found in ranges) or "–",
        )
    return max(holding, key=lambda found: _standard(found, value))


def _standard(found: CalibrationRange, value: float) -> float:
    return (found.expanded_a + found.expanded_b * abs(value)) / found.coverage_k


def _end(bound: float | None) -> str:
    return "…" if bound is None else f"{bound:g}"


def _part(contribution: Contribution) -> float:
    for number in (contribution.standard_uncertainty, contribution.sensitivity):
        need_number(number, contribution.name, "")
    if contribution.standard_uncertainty < 0:
        raise not_in_table(contribution.name, contribution.standard_uncertainty, "≥ 0")
    _check_df(contribution.df)
    return abs(contribution.sensitivity) * contribution.standard_uncertainty


def _check_df(df: float) -> None:
    if not df > 0:
        raise not_in_table("Degrees of freedom", df, "> 0")


def _check_repeats(repeats: int) -> None:
    if repeats < 1:
        raise not_in_table("Repeats", repeats, "≥ 1")


def _check_confidence(confidence: float) -> None:
    need_number(confidence, "Confidence", "")
    if not 0 < confidence < 1:
        raise not_in_table("Confidence", confidence, "0–1")
