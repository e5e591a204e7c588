"""The lightest work that would do."""

from __future__ import annotations

from shop.craft.works import CLEAN, FULL, GLOSS_BLAST, KISS, LOCAL

POLISHED = ("polished", "stoned")
DEEP = ("scratch", "dent", "pitting", "burn", "flash", "other")


def lightest_work(
    *,
    how_made: str,
    parameter: str = "",
    side: str = "",
    cause: str = "",
    micro_matt: bool = False,
    damage_kind: str = "",
    plated: bool = False,
) -> str:
    """Return the lightest work that would bring a face back.

    Parameters
    ----------
    how_made : str
        polished, stoned, blasted, spark-eroded, etched or laser. [-]
    parameter, side : str
        What is leaving its limits and on which side, upper or lower; empty where not known. [-]
    cause : str
        Of the call: damage, off spec, forecast, interval. [-]
    micro_matt : bool
        Whether a blasted micro-matt lies on the pattern. [-]
    damage_kind : str
        scratch, dent, rust, plate-out, pitting, burn, flash or other; only with a damage call. [-]
    plated : bool
        Whether a layer lies over the steel; then rust is a hole in the layer and goes deeper. [-]

    Returns
    -------
    str
        clean, gloss blast, kiss polish, local touch-up or full refinish. [-]

    References
    ----------
    .. [1] Trade rule: clean, gloss blast, kiss polish, local touch-up, full refinish, re-cut, in this order;
       residue lowers or raises gloss, so cleaning comes before any of them.
    """
    if cause == "damage" and damage_kind:
        return _after_damage(how_made, damage_kind, plated)
    if how_made in POLISHED:
        return KISS
    duller = (parameter, side) in _DULLER
    if duller:
        # A grain does not wear dull or rough: that is residue, rust or attack, and cleaning is tried first.
        return CLEAN
    if how_made == "blasted":
        return GLOSS_BLAST
    if how_made in ("etched", "laser"):
        pattern_worn = parameter in ("Ra", "Rq", "Rz", "look roughness")
        return GLOSS_BLAST if micro_matt and not pattern_worn else FULL
    return FULL if how_made == "spark-eroded" else CLEAN


_DULLER = {
    ("gloss", "lower"),
    ("look gloss", "lower"),
    ("Ra", "upper"),
    ("Rq", "upper"),
    ("Rz", "upper"),
    ("look roughness", "upper"),
}


def _after_damage(how_made: str, damage_kind: str, plated: bool) -> str:
    if damage_kind == "plate-out":
        return CLEAN
    if damage_kind == "rust":
        if plated:
            return FULL
        return KISS if how_made in POLISHED else CLEAN
    return LOCAL if damage_kind in DEEP else CLEAN
