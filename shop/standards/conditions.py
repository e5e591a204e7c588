"""How a roughness must be measured: cut-off and evaluation length by the drawing's edition."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing, need_number, not_in_table

ISO_1996 = "ISO 4288:1996"
ISO_2021 = "ISO 21920-3:2021"

ISO_1996_SOURCE = Source(
    ISO_1996, "1996", Standing.PUBLISHED, "Chosen by the estimated, then the measured value, until it lies in its row."
)
ISO_2021_SOURCE = Source(
    ISO_2021, "2021", Standing.SEVERAL, "Chosen from the upper limit; the Rz bounds were seen in one source only."
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

# Setting classes Sc1..Sc5: nesting index lambda_s, tip radius and largest spacing. [um]
_SETTING_CLASSES = ((2.5, 2.0, 0.5), (2.5, 2.0, 0.5), (2.5, 2.0, 0.5), (8.0, 5.0, 1.5), (25.0, 10.0, 5.0))


@dataclass(frozen=True)
class MeasuringConditions:
    """Cut-off and lengths in mm; tip radius, lambda_s and spacing in um where the edition gives them."""

    edition: str
    cutoff_mm: float
    evaluation_length_mm: float
    setting_class: str = ""
    lambda_s_um: float | None = None
    tip_um: float | None = None
    spacing_um: float | None = None


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
        Cut-off and evaluation length [mm]; for ISO 21920-3 also tip, lambda_s and spacing [um].

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
    row = _row(parameter, value_um, edition)
    cutoff = CUTOFFS_MM[row]
    length = SAMPLING_LENGTHS * cutoff
    if edition == ISO_1996:
        return MeasuringConditions(edition, cutoff, length)
    lambda_s, tip, spacing = _SETTING_CLASSES[row]
    return MeasuringConditions(edition, cutoff, length, f"Sc{row + 1}", lambda_s, tip, spacing)


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
    return MeasuringConditions(ISO_1996, CUTOFFS_MM[row], SAMPLING_LENGTHS * CUTOFFS_MM[row])


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
