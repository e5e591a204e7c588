"""Mould steels by their EN numbers: hardness, and the best finish that is practical on them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.grades import GRADES, grade_named
from shop.standards.source import NO_EDITION, Source, Standing, Stated, not_in_table

STEEL_SOURCE = Source(
    gettext_noop("Steel and best practical finish"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop(
        "Beyond it: with care, and the toolroom lead with the customer decides. Steel makers' sheets go before."
    ),
)
HARDNESS_SOURCE = Source(
    gettext_noop("Usual hardness as moulds are made"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("The insert's own certificate goes before."),
)


@dataclass(frozen=True)
class Steel:
    """One mould steel: usual hardness in HRC, best practical finish, and what it does not take.

    `finish_from_hrc` is the hardness that the best finish wants. `texture` is "well", "yes", "with care" or "no".
    """

    number: str
    kind: str
    hardness_hrc: tuple[float, float] | None
    best_finish: str
    texture: str
    resulphurised: bool = False
    remelted: bool = False
    stainless: bool = False
    finish_from_hrc: float | None = None


STEELS: tuple[Steel, ...] = (
    Steel("1.2311", "prehardened", (28, 32), "A-3", "yes"),
    Steel("1.2312", "prehardened", (28, 32), "C-1", "no", resulphurised=True),
    Steel("1.2738", "prehardened", (28, 34), "A-3", "well"),
    Steel("Ni-Al-Cu", "age-hardened", (38, 42), "A-2", "yes"),
    Steel("1.2343", "hardened", (50, 54), "A-1", "yes", remelted=True, finish_from_hrc=50),
    Steel("1.2344", "hardened", (50, 54), "A-1", "yes", remelted=True, finish_from_hrc=50),
    Steel("1.2083", "hardened", (48, 54), "A-1", "yes", remelted=True, stainless=True, finish_from_hrc=48),
    Steel("1.2085", "prehardened", (28, 33), "C-1", "no", resulphurised=True, stainless=True),
    Steel("1.2316", "prehardened", (28, 33), "B-1", "yes", stainless=True),
    Steel("1.2767", "hardened", (50, 54), "A-1", "yes"),
    Steel("1.2379", "hardened", (56, 60), "B-2", "with care"),
    Steel("EN AW-7075", "aluminium", None, "B-2", "with care"),
)
NAMES_SOURCE = Source(
    gettext_noop("American names of mould steels"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("Set down from memory; nearest, not equal: the steel's certificate goes before."),
    from_memory=True,
)
# The nearest American name of each, as drawings and toolrooms write it.
AMERICAN_NAMES: dict[str, str] = {
    "P20": "1.2311", "P20+S": "1.2312", "P20+NI": "1.2738", "H11": "1.2343", "H13": "1.2344", "420": "1.2083",
    "420F": "1.2085", "D2": "1.2379", "7075": "EN AW-7075",
}  # fmt: skip
_FINEST_FIRST = [grade.name for grade in GRADES if grade.letter != "D"]


def steel_named(written: str) -> Steel:
    """Return a steel from the way it is written on an insert.

    Parameters
    ----------
    written : str
        For instance "1.2343", "1.2343 ESR", "X37CrMoV5-1 (1.2343)", or an American name, "H11" or "AISI H11".

    Returns
    -------
    Steel
        The steel, hardness in HRC.

    Raises
    ------
    Refused
        If its number is not in the table.

    References
    ----------
    .. [1] Common practice: see `STEEL_SOURCE`.
    """
    number = re.search(r"1\.\d{4}", written)
    wanted = number.group() if number else re.sub(r"\s+", " ", written.strip()).upper()
    wanted = AMERICAN_NAMES.get(wanted.removeprefix("AISI").replace(" ", ""), wanted)
    for steel in STEELS:
        by_alloy = not number and steel.number[-4:] == wanted[-4:] == "7075"
        if wanted in (steel.number, steel.number.upper()) or by_alloy:
            return steel
    raise not_in_table("Steel", written, ", ".join(steel.number for steel in STEELS))


def beyond_best(steel: Steel, grade: str, hardness_hrc: float | None = None) -> bool:
    """Return whether a polished or stoned grade is finer than is practical on a steel.

    Parameters
    ----------
    steel : Steel
        The steel.
    grade : str
        The grade asked for; a blasted grade asks for the stone under it.
    hardness_hrc : float, optional
        The insert's own hardness; unknown is taken as enough. [HRC]

    Returns
    -------
    bool
        True where it wants care and somebody's decision.

    Raises
    ------
    Refused
        If there is no such grade.

    References
    ----------
    .. [1] Common practice: see `STEEL_SOURCE`.
    """
    wanted = grade_named(grade)
    if wanted.letter == "D":
        return False
    too_soft = None not in (steel.finish_from_hrc, hardness_hrc) and float(hardness_hrc or 0) < float(
        steel.finish_from_hrc or 0
    )
    # Too soft for its best finish, a steel still takes the A grade below a mirror.
    best = "A-3" if too_soft and steel.best_finish in ("A-1", "A-2") else steel.best_finish
    return _FINEST_FIRST.index(wanted.name) < _FINEST_FIRST.index(best)


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's table with where it is from.

    Returns
    -------
    tuple of Stated
        Hardness [HRC], best practical finish, texture, American names.

    References
    ----------
    .. [1] Common practice: see `STEEL_SOURCE`.
    """
    found = [Stated("steel", f"American {name}", number, "", NAMES_SOURCE) for name, number in AMERICAN_NAMES.items()]
    for steel in STEELS:
        found.append(Stated("steel", f"{steel.number} best practical finish", steel.best_finish, "", STEEL_SOURCE))
        found.append(Stated("steel", f"{steel.number} texture", steel.texture, "", STEEL_SOURCE))
        hardness = zip(("from", "to"), steel.hardness_hrc or (), strict=False)
        found.extend(Stated("steel", f"{steel.number} {side}", hrc, "HRC", HARDNESS_SOURCE) for side, hrc in hardness)
        if steel.finish_from_hrc is not None:
            what = f"{steel.number} best finish from"
            found.append(Stated("steel", what, steel.finish_from_hrc, "HRC", STEEL_SOURCE))
    return tuple(found)
