"""Layers on the steel: how thick, what they do to the finish, and in which order they come off and on again."""

from __future__ import annotations

from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

COATING_SOURCE = Source(
    gettext_noop("Layers on mould steel"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("The plater's own sheet goes before; thickness and wear-through are readings."),
)
LAYER, DIFFUSION = "layer", "diffusion"
WELD, REFINISH, KISS, TEXTURE = "weld", "full refinish", "kiss polish", "texture"
WORKS = (WELD, REFINISH, KISS, TEXTURE)


@dataclass(frozen=True)
class Coating:
    """One layer: its usual thickness in um, what it does to the finish, and whether it takes a kiss polish.

    `kind` is "layer", which is stripped, or "diffusion", which is in the steel. `thickness_um` is empty for a
    diffusion layer. `kiss_polish` is None where nobody said.
    """

    name: str
    kind: str
    thickness_um: tuple[float, float] | None
    finish: str
    kiss_polish: bool | None


_FOLLOWS = gettext_noop("Follows what is under it: the finish is made in the steel first.")
COATINGS: tuple[Coating, ...] = (
    Coating(
        "hard chrome",
        LAYER,
        (8.0, 13.0),
        gettext_noop(
            "Follows what is under it, builds on edges and shifts gloss; can be kiss-polished without stripping."
        ),
        True,
    ),
    Coating("electroless nickel", LAYER, (1.0, 25.0), _FOLLOWS, None),
    Coating("PVD", LAYER, (1.0, 6.0), _FOLLOWS, None),
    Coating("DLC", LAYER, (1.0, 6.0), _FOLLOWS, None),
    Coating(
        "nitrided",
        DIFFUSION,
        None,
        gettext_noop("In the steel: nothing to strip, and what is polished away takes hardness with it."),
        None,
    ),
)

STRIP = gettext_noop("strip the layer, by a licensed plater")
WELD_STEP = gettext_noop("weld with parent filler and anneal")
FINISH_AGAIN = gettext_noop("polish or texture again in full")
RECOAT = gettext_noop("coat again")
KISS_STEP = gettext_noop("kiss polish on the layer")
TEXTURE_STEP = gettext_noop("texture")
NITRIDE_STEP = gettext_noop("nitride after the texture")


def coating_named(name: str) -> Coating:
    """Return a layer by its name.

    Parameters
    ----------
    name : str
        "hard chrome", "electroless nickel", "PVD", "DLC" or "nitrided".

    Returns
    -------
    Coating
        The layer, its thickness in um.

    Raises
    ------
    Refused
        If there is no such layer.

    References
    ----------
    .. [1] Common practice: see `COATING_SOURCE`.
    """
    for coating in COATINGS:
        if coating.name.lower() == name.strip().lower():
            return coating
    raise not_in_table("Coating", name, ", ".join(coating.name for coating in COATINGS))


def usual_thickness(name: str, thickness_um: float) -> bool:
    """Return whether a measured layer lies in the range that is usual for it.

    Parameters
    ----------
    name : str
        The layer.
    thickness_um : float
        Measured thickness. [um]

    Returns
    -------
    bool
        False for worn through or built up.

    Raises
    ------
    Refused
        If the layer is not known, is a diffusion layer, or the thickness is negative.

    References
    ----------
    .. [1] Common practice: see `COATING_SOURCE`.
    """
    coating = coating_named(name)
    need_number(thickness_um, "Thickness", "um", above=-1e-300)
    if coating.thickness_um is None:
        raise not_in_table("Thickness", thickness_um, coating.name)
    return coating.thickness_um[0] <= thickness_um <= coating.thickness_um[1]


def order_of_work(name: str, work: str) -> tuple[str, ...]:
    """Return the steps of a work on a coated face, in the order in which they must come.

    Parameters
    ----------
    name : str
        The layer.
    work : str
        "weld", "full refinish", "kiss polish" or "texture".

    Returns
    -------
    tuple of str
        Marked words, first step first.

    Raises
    ------
    Refused
        If layer or work are not known.

    References
    ----------
    .. [1] Common practice: strip before weld, full re-polish or re-texture, then recoat; texture before nitriding or
       plating; hard chrome can be kiss-polished without stripping.
    """
    coating = coating_named(name)
    if work not in WORKS:
        raise not_in_table("Work", work, ", ".join(WORKS))
    middle = {WELD: (WELD_STEP, FINISH_AGAIN), REFINISH: (FINISH_AGAIN,), KISS: (KISS_STEP,), TEXTURE: (TEXTURE_STEP,)}
    if coating.kind == DIFFUSION:
        return (TEXTURE_STEP, NITRIDE_STEP) if work == TEXTURE else middle[work]
    if work == KISS and coating.kiss_polish:
        return (KISS_STEP,)
    return (STRIP, *((FINISH_AGAIN,) if work == KISS else middle[work]), RECOAT)


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's table with where it is from.

    Returns
    -------
    tuple of Stated
        Thickness. [um]

    References
    ----------
    .. [1] Common practice: see `COATING_SOURCE`.
    """
    thickness = [
        Stated("layer", f"{coating.name} {side}", value, "um", COATING_SOURCE)
        for coating in COATINGS
        for side, value in zip(("from", "to"), coating.thickness_um or (), strict=False)
    ]
    words = [Stated("layer", coating.name, coating.finish, "", COATING_SOURCE) for coating in COATINGS]
    return (*thickness, *words)
