"""Mould classes 101 to 105: cycles they are built for and the hardness they ask."""

from __future__ import annotations

from dataclasses import dataclass

from shop.standards.source import Source, Standing, not_in_table

CLASS_SOURCE = Source("SPI (now PLASTICS) mould classes", "", Standing.SEVERAL, "For presses up to 400 t.")
MOVING_STEELS_DIFFER_HRC = 4.0


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
