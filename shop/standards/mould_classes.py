"""Mould classes 101 to 105: cycles they are built for and the hardness they ask."""

from __future__ import annotations

from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

CLASS_SOURCE = Source(
    gettext_noop("SPI (now PLASTICS) mould classes"),
    NO_EDITION,
    Standing.SEVERAL,
    gettext_noop("For presses up to 400 t."),
)
MOVING_STEELS_DIFFER_HRC = 4.0
PRESSES_TO_T = 400


@dataclass(frozen=True)
class MouldClass:
    """One class: cycles in shots (from or up to), least hardness of cavity in HRC, of base in HRC or HB.

    `most_shots` empty is no upper end: class 101 begins at `least_shots`.
    """

    number: int
    least_shots: int
    most_shots: int | None
    cavity_hrc: float | None
    base_hrc: float | None = None
    base_hb: float | None = None


MOULD_CLASSES: tuple[MouldClass, ...] = (
    MouldClass(101, 1_000_000, None, 48, base_hrc=28),
    MouldClass(102, 500_000, 1_000_000, 48),
    MouldClass(103, 100_000, 500_000, 28, base_hb=165),
    MouldClass(104, 501, 100_000, None),
    MouldClass(105, 0, 500, None),
)


def mould_class(number: int) -> MouldClass:
    """Return a mould class.

    Parameters
    ----------
    number : int
        101 to 105. [class]

    Returns
    -------
    MouldClass
        Cycles [shots], hardness [HRC, HB].

    Raises
    ------
    Refused
        If there is no such class.

    References
    ----------
    .. [1] SPI (now PLASTICS) mould classes, from several secondary sources.
    """
    for row in MOULD_CLASSES:
        if row.number == number:
            return row
    raise not_in_table("Mould class", number, "101–105")


def outlived(number: int, shots: int) -> bool:
    """Return whether a tool has run more than its class was built for.

    Parameters
    ----------
    number : int
        101 to 105. [class]
    shots : int
        What it has run. [shots]

    Returns
    -------
    bool
        Never true for class 101, which has no upper end.

    Raises
    ------
    Refused
        If there is no such class.

    References
    ----------
    .. [1] SPI (now PLASTICS) mould classes, from several secondary sources.
    """
    most = mould_class(number).most_shots
    return most is not None and shots > most


def hard_enough(number: int, cavity_hrc: float) -> bool | None:
    """Return whether a cavity is as hard as its mould class asks.

    Parameters
    ----------
    number : int
        101 to 105. [class]
    cavity_hrc : float
        Hardness of the cavity. [HRC]

    Returns
    -------
    bool or None
        None where the class asks for no hardness.

    Raises
    ------
    Refused
        If there is no such class, or the hardness is not a number.

    References
    ----------
    .. [1] SPI (now PLASTICS) mould classes, from several secondary sources.
    """
    need_number(cavity_hrc, "HRC", "")
    least = mould_class(number).cavity_hrc
    return None if least is None else cavity_hrc >= least


def may_rub(one_hrc: float, other_hrc: float) -> bool:
    """Return whether two steels that move on each other differ enough in hardness not to gall.

    Parameters
    ----------
    one_hrc, other_hrc : float
        Their hardness. [HRC]

    Returns
    -------
    bool
        True from a difference of 4 HRC on.

    Raises
    ------
    Refused
        If a hardness is not a number.

    References
    ----------
    .. [1] SPI (now PLASTICS) mould classes, from several secondary sources.
    """
    for hrc in (one_hrc, other_hrc):
        need_number(hrc, "HRC", "")
    return abs(one_hrc - other_hrc) >= MOVING_STEELS_DIFFER_HRC


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's table with where it is from.

    Returns
    -------
    tuple of Stated
        Cycles [shots], hardness [HRC, HB], presses [t].

    References
    ----------
    .. [1] SPI (now PLASTICS) mould classes, from several secondary sources.
    """
    units = {"least_shots": "shots", "most_shots": "shots", "cavity_hrc": "HRC", "base_hrc": "HRC", "base_hb": "HB"}
    rows = [
        Stated("mould class", f"{row.number} {name}", value, unit, CLASS_SOURCE)
        for row in MOULD_CLASSES
        for name, unit in units.items()
        if (value := getattr(row, name)) is not None
    ]
    return (
        *rows,
        Stated("mould class", "moving steels differ by", MOVING_STEELS_DIFFER_HRC, "HRC", CLASS_SOURCE),
        Stated("mould class", "presses to", PRESSES_TO_T, "t", CLASS_SOURCE),
    )
