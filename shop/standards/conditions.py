"""How a roughness must be measured: cut-off and evaluation length by the drawing's edition."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing, Stated, need_number, not_in_table

ISO_1996 = "ISO 4288:1996"
ISO_2021 = "ISO 21920-3:2021"

ISO_1996_SOURCE = Source(
    "ISO 4288",
    "1996",
    Standing.PUBLISHED,
    gettext_noop("Chosen by the estimated, then the measured value, until it lies in its row."),
)
ISO_2021_SOURCE = Source(
    "ISO 21920-3",
    "2021",
    Standing.SEVERAL,
    gettext_noop("Chosen from the upper limit; the Rz bounds were seen in one source only."),
)
INSTRUMENT_SOURCE = Source(
    "ISO 3274",
    "1996",
    Standing.COMMON,
    gettext_noop("Stylus and spacing beside the cut-offs of ISO 4288, set down from memory; the tip of 5 um is usual."),
    from_memory=True,
)

CUTOFFS_MM = (0.08, 0.25, 0.8, 2.5, 8.0)
SAMPLING_LENGTHS = 5

# Upper bound of each row, itself included. [um], RSm [mm]
_BOUNDS: dict[tuple[str, str], tuple[float, ...]] = {
    (ISO_1996, "Ra"): (0.02, 0.1, 2.0, 10.0, 80.0),
    (ISO_1996, "Rz"): (0.1, 0.5, 10.0, 50.0, 200.0),
    (ISO_2021, "Ra"): (0.02, 0.1, 2.0, 10.0, 80.0),
    (ISO_2021, "Rz"): (0.16, 0.8, 16.0, 80.0, math.inf),
}
_RSM_BOUNDS_MM = (0.013, 0.04, 0.13, 0.4, 1.3, 4.0)

# Row by row of the cut-offs: lambda_s, tip radius and largest spacing. [um] ISO 21920-3 calls the rows Sc1 to Sc5.
_SETTING_CLASSES = ((2.5, 2.0, 0.5), (2.5, 2.0, 0.5), (2.5, 2.0, 0.5), (8.0, 5.0, 1.5), (25.0, 10.0, 5.0))
_INSTRUMENT_1996 = ((2.5, 2.0, 0.5), (2.5, 2.0, 0.5), (2.5, 2.0, 0.5), (8.0, 5.0, 1.5), (25.0, 10.0, 5.0))


@dataclass(frozen=True)
class MeasuringConditions:
    """Cut-off and lengths in mm; tip radius, lambda_s and largest spacing in um.

    `source` is where the cut-off is from, `instrument` where tip, lambda_s and spacing are.
    """

    edition: str
    cutoff_mm: float
    evaluation_length_mm: float
    setting_class: str = ""
    lambda_s_um: float | None = None
    tip_um: float | None = None
    spacing_um: float | None = None
    source: Source = ISO_1996_SOURCE
    instrument: Source = INSTRUMENT_SOURCE


def measuring_conditions(parameter: str, value_um: float, edition: str) -> MeasuringConditions:
    """Return the conditions under which an Ra or Rz is to be measured.

    Parameters
    ----------
    parameter : str
        "Ra" or "Rz".
    value_um : float
        By ISO 4288:1996 the estimated or measured value, by ISO 21920-3:2021 the upper limit. [um]
    edition : str
        "ISO 4288:1996" or "ISO 21920-3:2021".

    Returns
    -------
    MeasuringConditions
        Cut-off and evaluation length [mm]; tip, lambda_s and spacing [um], by ISO 3274 for ISO 4288.

    Raises
    ------
    Refused
        If the edition or parameter has no table here, or the value lies outside it. Rq is refused: ISO 4288 chooses
        for it by Ra, and no table of ISO 21920-3 for Rq was seen.

    References
    ----------
    .. [1] ISO 4288:1996, tables 1 and 2.
    .. [2] ISO 21920-3:2021, setting classes; Rz bounds seen in one source.
    """
    return _of_row(_row(parameter, value_um, edition), edition)


def conditions_for_cutoff(cutoff_mm: float, edition: str) -> MeasuringConditions:
    """Return the conditions that belong to a cut-off named on a drawing.

    Parameters
    ----------
    cutoff_mm : float
        0.08, 0.25, 0.8, 2.5 or 8. [mm]
    edition : str
        "ISO 4288:1996" or "ISO 21920-3:2021".

    Returns
    -------
    MeasuringConditions
        Lengths [mm]; tip, lambda_s and spacing [um].

    Raises
    ------
    Refused
        If the edition is not known or the cut-off is none of its rows.

    References
    ----------
    .. [1] As `measuring_conditions`.
    """
    if edition not in (ISO_1996, ISO_2021):
        raise not_in_table("Edition", edition, f"{ISO_1996}, {ISO_2021}")
    need_number(cutoff_mm, "Cut-off", "mm", above=0)
    for row, known in enumerate(CUTOFFS_MM):
        if math.isclose(known, cutoff_mm, rel_tol=1e-9):
            return _of_row(row, edition)
    raise not_in_table("Cut-off", cutoff_mm, ", ".join(f"{known:g}" for known in CUTOFFS_MM) + " mm")


def conditions_for_spacing(rsm_mm: float) -> MeasuringConditions:
    """Return the conditions for a periodic profile, which ISO 4288 chooses by its spacing.

    Parameters
    ----------
    rsm_mm : float
        Mean width of the profile elements, above 0.013 to 4. [mm]

    Returns
    -------
    MeasuringConditions
        Cut-off and evaluation length. [mm]

    Raises
    ------
    Refused
        If the spacing lies outside the table.

    References
    ----------
    .. [1] ISO 4288:1996, table 3.
    """
    need_number(rsm_mm, "RSm", "mm", above=0)
    if not _RSM_BOUNDS_MM[0] < rsm_mm <= _RSM_BOUNDS_MM[-1]:
        raise not_in_table("RSm", rsm_mm, "0.013–4 mm")
    row = next(i for i, bound in enumerate(_RSM_BOUNDS_MM[1:]) if rsm_mm <= bound)
    return _of_row(row, ISO_1996)


def lies_in_row(parameter: str, measured_um: float, cutoff_mm: float) -> bool:
    """Return whether a value measured with a cut-off lies in that cut-off's row, so that it stands.

    Parameters
    ----------
    parameter : str
        "Ra" or "Rz".
    measured_um : float
        The value measured. [um]
    cutoff_mm : float
        The cut-off it was measured with. [mm]

    Returns
    -------
    bool
        False where ISO 4288 asks for another measurement with the row's own cut-off.

    Raises
    ------
    Refused
        As `measuring_conditions`.

    References
    ----------
    .. [1] ISO 4288:1996, 7.2: repeated until the result lies in the row of the cut-off used.
    """
    return math.isclose(measuring_conditions(parameter, measured_um, ISO_1996).cutoff_mm, cutoff_mm, rel_tol=1e-9)


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Bounds [um, mm], cut-offs [mm], tip, filter and spacing [um].

    References
    ----------
    .. [1] As `measuring_conditions`.
    """
    bounds = [
        Stated(f"{edition} bounds", f"{parameter} to, cut-off {cutoff:g} mm", bound, "um", _EDITIONS[edition])
        for (edition, parameter), row in _BOUNDS.items()
        for cutoff, bound in zip(CUTOFFS_MM, row, strict=True)
        if math.isfinite(bound)
    ]
    spacings = [Stated(f"{ISO_1996} bounds", "RSm", bound, "mm", ISO_1996_SOURCE) for bound in _RSM_BOUNDS_MM]
    lengths = Stated(ISO_1996, "sampling lengths in the evaluation length", SAMPLING_LENGTHS, "1", ISO_1996_SOURCE)
    instruments = [
        Stated(f"{edition} stylus", f"{what}, cut-off {cutoff:g} mm", value, "um", source)
        for edition, rows, source in (
            (ISO_2021, _SETTING_CLASSES, ISO_2021_SOURCE),
            (ISO_1996, _INSTRUMENT_1996, INSTRUMENT_SOURCE),
        )
        for cutoff, row in zip(CUTOFFS_MM, rows, strict=True)
        for what, value in zip(("lambda_s", "tip radius", "spacing"), row, strict=True)
    ]
    cutoffs = [Stated("cut-offs", f"row {row}", cutoff, "mm", ISO_1996_SOURCE) for row, cutoff in enumerate(CUTOFFS_MM)]
    return (*bounds, *spacings, lengths, *instruments, *cutoffs)


_EDITIONS = {ISO_1996: ISO_1996_SOURCE, ISO_2021: ISO_2021_SOURCE}


def _of_row(row: int, edition: str) -> MeasuringConditions:
    cutoff = CUTOFFS_MM[row]
    lambda_s, tip, spacing = (_SETTING_CLASSES if edition == ISO_2021 else _INSTRUMENT_1996)[row]
    return MeasuringConditions(
        edition=edition,
        cutoff_mm=cutoff,
        evaluation_length_mm=SAMPLING_LENGTHS * cutoff,
        setting_class=f"Sc{row + 1}" if edition == ISO_2021 else "",
        lambda_s_um=lambda_s,
        tip_um=tip,
        spacing_um=spacing,
        source=_EDITIONS[edition],
        instrument=ISO_2021_SOURCE if edition == ISO_2021 else INSTRUMENT_SOURCE,
    )


def _row(parameter: str, value_um: float, edition: str) -> int:
    if edition not in (ISO_1996, ISO_2021):
        raise not_in_table("Edition", edition, f"{ISO_1996}, {ISO_2021}")
    if (edition, parameter) not in _BOUNDS:
        raise Refused(
            "conditions.no_table",
            gettext_noop("{edition} has no table to choose the cut-off of {parameter} by its own value."),
            next_step=gettext_noop("Choose by Ra, or name the cut-off on the drawing."),
            parameter=parameter,
            edition=edition,
            value=value_um,
        )
    need_number(value_um, parameter, "um", above=0)
    bounds = _BOUNDS[edition, parameter]
    for row, bound in enumerate(bounds):
        if value_um <= bound:
            return row
    raise not_in_table(parameter, value_um, f"≤ {bounds[-1]:g} µm")
