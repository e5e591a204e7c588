"""Cautions for the people who do the work; local rules and licensed trades come before any of them."""

from __future__ import annotations

from collections.abc import Iterable

from shop.refusal import gettext_noop

LOCAL_RULES = gettext_noop("Local rules and the safety sheets of the media come before anything printed here.")
PULLING = gettext_noop(
    "Drain, depressurise, lock out and cool the tool first. Strap across the parting line before lifting; "
    "rated eyebolts; nobody under the load."
)
HANDS = gettext_noop("Eye and face protection, extraction at the bench, no gloves at spindles.")
BERYLLIUM = gettext_noop("Copper-beryllium dust is poisonous: wet work or extraction with a filter, never dry.")
BLASTING = gettext_noop("Blast only in a closed cabinet, with media of no more than 1 % free silica.")
LICENSED = gettext_noop("Etching, and stripping of chrome or nickel, is for licensed texture or plating houses only.")
ETCH_TEST = gettext_noop("Copper etch is acid: gloves and goggles, a drop on steel only, rinse and oil at once.")


def cautions_for(step_kinds: Iterable[str], steel: str) -> tuple[str, ...]:
    """Return the cautions that a route calls for.

    Parameters
    ----------
    step_kinds : iterable of str
        Kinds of its steps: clean, etch test, stone, paper, diamond, blast, erode, strip, texture, recoat. [-]
    steel : str
        EN or AISI number of the material. [-]

    Returns
    -------
    tuple of str
        Marked sentences, the general ones first. [-]

    References
    ----------
    .. [1] Trade rules of mould shops; each defers to local rules and licensed trades.
    """
    kinds = set(step_kinds)
    cautions = [LOCAL_RULES, PULLING]
    if kinds & {"stone", "paper", "diamond", "etch test"}:
        cautions.append(HANDS)
    if is_copper(steel):
        cautions.append(BERYLLIUM)
    if "blast" in kinds:
        cautions.append(BLASTING)
    if "etch test" in kinds:
        cautions.append(ETCH_TEST)
    if kinds & {"strip", "texture", "recoat"}:
        cautions.append(LICENSED)
    return tuple(cautions)


def is_copper(steel: str) -> bool:
    """Return whether the material number names a copper alloy.

    Parameters
    ----------
    steel : str
        Material number, such as 2.1247, CW101C, C17200. [-]

    Returns
    -------
    bool
        True for a copper alloy. [-]

    References
    ----------
    .. [1] EN 1412 (CW numbers), UNS (C17xxx), and the older 2.xxxx numbers.
    """
    name = steel.upper().replace(" ", "")
    return name.startswith(("2.", "CW", "CU", "C17"))


def is_steel(steel: str) -> bool:
    """Return whether the material is a steel, which the copper etch test can be used on.

    Parameters
    ----------
    steel : str
        Material number. [-]

    Returns
    -------
    bool
        False for aluminium and copper alloys. [-]

    References
    ----------
    .. [1] EN 573 (EN AW numbers) and the older 3.xxxx numbers for aluminium.
    """
    name = steel.upper().replace(" ", "")
    return not is_copper(steel) and not name.startswith(("3.", "ENAW", "AW", "AL"))
