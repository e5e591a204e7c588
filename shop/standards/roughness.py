"""Roughness scales: VDI 3400 and the N grades; measuring conditions and acceptance rules are named here too."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.acceptance import Acceptance, accept, default_rule
from shop.standards.conditions import (
    MeasuringConditions,
    conditions_for_cutoff,
    conditions_for_spacing,
    lies_in_row,
    measuring_conditions,
)
from shop.standards.recheck import Recheck, recheck
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

__all__ = [
    "N_GRADES",
    "N_SOURCE",
    "VDI_CARD_SOURCE",
    "VDI_CATALOGUE",
    "VDI_SOURCE",
    "Acceptance",
    "MeasuringConditions",
    "NGrade",
    "Recheck",
    "VdiRow",
    "accept",
    "conditions_for_cutoff",
    "conditions_for_spacing",
    "default_rule",
    "lies_in_row",
    "measuring_conditions",
    "n_grade_for",
    "n_grade_ra_um",
    "recheck",
    "stated",
    "vdi3400_ra_um",
    "vdi3400_ref",
    "vdi_card_draft_deg",
    "vdi_card_row",
]

VDI_SOURCE = Source(
    "VDI 3400",
    "1975",
    Standing.PUBLISHED,
    gettext_noop("Catalogue Ra lies within 1.2 % of the formula; a new edition announced for 2025 was not seen."),
)
VDI_CARD_SOURCE = Source(
    gettext_noop("VDI 3400 comparison cards: Rz and minimum draft"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("Card Rz is low against measured Rz/Ra of 5 to 7: shown, never judged by."),
)
N_SOURCE = Source(
    gettext_noop("ISO 1302 roughness grade numbers"),
    "1992",
    Standing.SEVERAL,
    gettext_noop("ISO 1302 is replaced by ISO 21920-1:2021; each grade is an upper limit of Ra."),
)

_REF_MAX = 45.0


@dataclass(frozen=True)
class VdiRow:
    """One row of the catalogue: Ra and card Rz in um, minimum draft in degrees for PA, PC and ABS."""

    ref: int
    ra_um: float
    card_rz_um: float
    draft_pa_deg: float
    draft_pc_deg: float
    draft_abs_deg: float


VDI_CATALOGUE: tuple[VdiRow, ...] = (
    VdiRow(12, 0.40, 1.5, 0.5, 1.0, 0.5),
    VdiRow(15, 0.56, 2.4, 0.5, 1.0, 0.5),
    VdiRow(18, 0.80, 3.3, 0.5, 1.0, 0.5),
    VdiRow(21, 1.12, 4.7, 0.5, 1.0, 0.5),
    VdiRow(24, 1.60, 6.5, 0.5, 1.5, 1.0),
    VdiRow(27, 2.24, 10.5, 1.0, 2.0, 1.5),
    VdiRow(30, 3.15, 12.5, 1.5, 2.0, 2.0),
    VdiRow(33, 4.50, 17.5, 2.0, 3.0, 2.5),
    VdiRow(36, 6.30, 24.0, 2.5, 4.0, 3.0),
    VdiRow(39, 9.0, 34.0, 3.0, 5.0, 4.0),
    VdiRow(42, 12.5, 48.0, 4.0, 6.0, 5.0),
    VdiRow(45, 18.0, 69.0, 5.0, 7.0, 6.0),
)


@dataclass(frozen=True)
class NGrade:
    """A roughness grade number and the Ra in um that it may not pass."""

    name: str
    ra_um: float


N_GRADES: tuple[NGrade, ...] = tuple(
    NGrade(f"N{number}", ra)
    for number, ra in enumerate((0.025, 0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.3, 12.5, 25.0, 50.0), start=1)
)


def vdi3400_ra_um(ref: float) -> float:
    """Return the arithmetic mean roughness that a VDI 3400 reference number stands for.

    Parameters
    ----------
    ref : float
        Reference number, 0 to 45. [1]

    Returns
    -------
    float
        Ra. [um]

    Raises
    ------
    Refused
        If `ref` lies outside 0 to 45; the scale is not extrapolated.

    References
    ----------
    .. [1] VDI 3400:1975, Ref = 20 log10(10 Ra).
    """
    need_number(ref, "VDI 3400 Ref", "")
    if not 0 <= ref <= _REF_MAX:
        raise not_in_table("VDI 3400 Ref", ref, "0–45")
    return float(10 ** (ref / 20 - 1))


def vdi3400_ref(ra_um: float) -> float:
    """Return the VDI 3400 reference number of an arithmetic mean roughness.

    Parameters
    ----------
    ra_um : float
        Ra, 0.1 to 18.0, the catalogue's rounded value at Ref 45. [um]

    Returns
    -------
    float
        Reference number, never above 45. [1]

    Raises
    ------
    Refused
        If `ra_um` lies outside the scale; it is not extrapolated.

    References
    ----------
    .. [1] VDI 3400:1975, Ref = 20 log10(10 Ra).
    """
    need_number(ra_um, "Ra", "um", above=0)
    if not 0.1 <= ra_um <= VDI_CATALOGUE[-1].ra_um:
        raise not_in_table("Ra", ra_um, "0.1–18 µm")
    return min(20 * math.log10(10 * ra_um), _REF_MAX)


def vdi_card_row(ref: float) -> VdiRow:
    """Return the catalogue row nearest to a reference number.

    Parameters
    ----------
    ref : float
        Reference number, 12 to 45, give or take half a step of 3. [1]

    Returns
    -------
    VdiRow
        Ra and card Rz [um], minimum draft [deg].

    Raises
    ------
    Refused
        If the catalogue has no row within half a step.

    References
    ----------
    .. [1] VDI 3400:1975 catalogue; card Rz and draft are common practice.
    """
    need_number(ref, "VDI 3400 Ref", "")
    row = min(VDI_CATALOGUE, key=lambda row: abs(row.ref - ref))
    if abs(row.ref - ref) > 1.5:
        raise not_in_table("VDI 3400 Ref", ref, "12–45")
    return row


def n_grade_ra_um(name: str) -> float:
    """Return the Ra that a roughness grade number may not pass.

    Parameters
    ----------
    name : str
        "N1" to "N12".

    Returns
    -------
    float
        Upper limit of Ra. [um]

    Raises
    ------
    Refused
        If there is no such grade.

    References
    ----------
    .. [1] ISO 1302:1992 annex; replaced by ISO 21920-1:2021.
    """
    for grade in N_GRADES:
        if grade.name == name.strip().upper():
            return grade.ra_um
    raise not_in_table("N", name, "N1–N12")


def n_grade_for(ra_um: float) -> str:
    """Return the finest roughness grade number that an Ra still meets.

    Parameters
    ----------
    ra_um : float
        Ra. [um]

    Returns
    -------
    str
        "N1" to "N12"; each grade is an upper limit, itself included.

    Raises
    ------
    Refused
        If `ra_um` is not positive, or above the 50 um of N12.

    References
    ----------
    .. [1] ISO 1302:1992 annex; replaced by ISO 21920-1:2021.
    """
    need_number(ra_um, "Ra", "um", above=0)
    for grade in N_GRADES:
        if ra_um <= grade.ra_um:
            return grade.name
    raise not_in_table("Ra", ra_um, "N1–N12, 0.025–50 µm")


def vdi_card_draft_deg(ref: float, resin: str) -> float:
    """Return the least draft that the card names for an eroded wall.

    Parameters
    ----------
    ref : float
        Reference number, 12 to 45. [1]
    resin : str
        "PA", "PC" or "ABS", which are on the card.

    Returns
    -------
    float
        Draft; between two rows of the card the deeper one's. [deg]

    Raises
    ------
    Refused
        If reference or resin are not on the card.

    References
    ----------
    .. [1] Comparison cards, common practice: see `VDI_CARD_SOURCE`.
    """
    need_number(ref, "VDI 3400 Ref", "")
    name = resin.strip().upper()
    if name not in _CARD_RESINS:
        raise not_in_table("Resin", resin, ", ".join(_CARD_RESINS))
    if not VDI_CATALOGUE[0].ref <= ref <= VDI_CATALOGUE[-1].ref:
        raise not_in_table("VDI 3400 Ref", ref, "12–45")
    row = next(row for row in VDI_CATALOGUE if row.ref >= ref)
    return float(getattr(row, _CARD_RESINS[name]))


_CARD_RESINS = {"PA": "draft_pa_deg", "PC": "draft_pc_deg", "ABS": "draft_abs_deg"}


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Reference numbers [1], Ra and Rz [um], draft [deg].

    References
    ----------
    .. [1] VDI 3400:1975; ISO 1302:1992; comparison cards.
    """
    found = [Stated("VDI 3400", "highest Ref", _REF_MAX, "1", VDI_SOURCE)]
    for row in VDI_CATALOGUE:
        found.append(Stated("VDI 3400", "Ref", row.ref, "1", VDI_SOURCE))
        found.append(Stated("VDI 3400", f"Ref {row.ref} Ra", row.ra_um, "um", VDI_SOURCE))
        found.append(Stated("VDI 3400 card", f"Ref {row.ref} Rz", row.card_rz_um, "um", VDI_CARD_SOURCE))
        for resin, name in _CARD_RESINS.items():
            what = f"Ref {row.ref} draft, {resin}"
            found.append(Stated("VDI 3400 card", what, float(getattr(row, name)), "deg", VDI_CARD_SOURCE))
    return (*found, *(Stated("N grade", grade.name, grade.ra_um, "um", N_SOURCE) for grade in N_GRADES))
