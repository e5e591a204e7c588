"""Draft that a textured wall needs, so that the part leaves the mould without drag."""

from __future__ import annotations

from dataclasses import dataclass

from shop.standards.source import Source, Standing, need_number, not_in_table

DRAFT_SOURCE = Source(
    "Draft of textured walls", "", Standing.CONFLICTING, "A plant may set its own; the texture house decides."
)
DEPTH_STEP_UM = 25.0


@dataclass(frozen=True)
class DraftRule:
    """A rule in common use: a base in degrees and degrees for each 25 um of pattern depth."""

    name: str
    base_deg: float
    per_step_deg: float


DRAFT_RULES: tuple[DraftRule, ...] = (
    DraftRule("usual", 1.0, 1.5),
    DraftRule("lean", 1.0, 1.0),
    DraftRule("in total", 0.0, 1.5),
)


def textured_draft_deg(depth_um: float, rule: str = "usual") -> float:
    """Return the draft a wall needs for a pattern of a given depth.

    Parameters
    ----------
    depth_um : float
        Pattern depth. [um]
    rule : str
        "usual", 1 degree and 1.5 for each 25 um; "lean", 1 and 1.0; "in total", 1.5 for each 25 um and no base.

    Returns
    -------
    float
        Draft. [deg]

    Raises
    ------
    Refused
        If the depth is negative or the rule is not known.

    References
    ----------
    .. [1] Sources conflict: see `DRAFT_SOURCE`.
    """
    need_number(depth_um, "Depth", "um")
    if depth_um < 0:
        raise not_in_table("Depth", depth_um, "≥ 0 µm")
    for row in DRAFT_RULES:
        if row.name == rule:
            return row.base_deg + row.per_step_deg * depth_um / DEPTH_STEP_UM
    raise not_in_table("Rule", rule, ", ".join(row.name for row in DRAFT_RULES))
