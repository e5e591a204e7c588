"""Draft that a textured wall needs, so that the part leaves the mould without drag."""

from __future__ import annotations

from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

DRAFT_SOURCE = Source(
    gettext_noop("Draft of textured walls"),
    NO_EDITION,
    Standing.CONFLICTING,
    gettext_noop("A plant may set its own; the texture house decides."),
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


def textured_draft_deg(depth_um: float, rule: str | DraftRule = "usual") -> float:
    """Return the draft a wall needs for a pattern of a given depth.

    Parameters
    ----------
    depth_um : float
        Pattern depth. [um]
    rule : str or DraftRule
        "usual", 1 degree and 1.5 for each 25 um; "lean", 1 and 1.0; "in total", 1.5 for each 25 um and no base; or
        the plant's own rule.

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
    row = _rule(rule)
    return row.base_deg + row.per_step_deg * depth_um / DEPTH_STEP_UM


def deepest_pattern_um(draft_deg: float, rule: str | DraftRule = "usual") -> float:
    """Return the deepest pattern that a wall's draft lets out of the mould.

    Parameters
    ----------
    draft_deg : float
        Draft of the wall. [deg]
    rule : str or DraftRule
        As `textured_draft_deg`.

    Returns
    -------
    float
        Pattern depth, 0 where the draft does not even reach the base. [um]

    Raises
    ------
    Refused
        If the draft is negative or the rule is not known.

    References
    ----------
    .. [1] Sources conflict: see `DRAFT_SOURCE`.
    """
    need_number(draft_deg, "Draft", "deg")
    if draft_deg < 0:
        raise not_in_table("Draft", draft_deg, "≥ 0°")
    row = _rule(rule)
    need_number(row.per_step_deg, "Draft a step", "deg", above=0)
    return max(0.0, (draft_deg - row.base_deg) * DEPTH_STEP_UM / row.per_step_deg)


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Draft [deg] and the step of depth [um].

    References
    ----------
    .. [1] Sources conflict: see `DRAFT_SOURCE`.
    """
    rules = [
        Stated("draft of texture", f"{row.name}, {what}", value, "deg", DRAFT_SOURCE)
        for row in DRAFT_RULES
        for what, value in (("base", row.base_deg), ("for each 25 um", row.per_step_deg))
    ]
    return (*rules, Stated("draft of texture", "step of depth", DEPTH_STEP_UM, "um", DRAFT_SOURCE))


def _rule(rule: str | DraftRule) -> DraftRule:
    if isinstance(rule, DraftRule):
        return rule
    for row in DRAFT_RULES:
        if row.name == rule:
            return row
    raise not_in_table("Rule", rule, ", ".join(row.name for row in DRAFT_RULES))
