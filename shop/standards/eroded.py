"""The white layer that spark erosion leaves: to be taken off unless the eroded face is the finish."""

from __future__ import annotations

from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

LAYER_SOURCE = Source(
    gettext_noop("Spark-eroded layer, range"),
    NO_EDITION,
    Standing.PUBLISHED,
    gettext_noop("White layer, and what the heat changed below it."),
)
PLANNING_SOURCE = Source(
    gettext_noop("Spark-eroded layer by roughness, for planning"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("The machine and its settings decide; copper etch shows whether it is off, on steel only."),
)
WHITE_LAYER_UM = (5.0, 127.0)
HEAT_AFFECTED_UM = (25.0, 38.0)


@dataclass(frozen=True)
class LayerRow:
    """Ra from, itself excluded, and to, itself included, and the layer to plan for, all in um; None is no end."""

    above_ra_um: float | None
    to_ra_um: float | None
    layer_um: tuple[float, float]


PLANNING: tuple[LayerRow, ...] = (
    LayerRow(None, 1.0, (2.0, 5.0)),
    LayerRow(1.0, 3.0, (5.0, 15.0)),
    LayerRow(3.0, 6.0, (10.0, 25.0)),
    LayerRow(8.0, None, (20.0, 50.0)),
)


def white_layer_um(ra_um: float) -> tuple[float, float]:
    """Return the white layer to plan for under a spark-eroded roughness.

    Parameters
    ----------
    ra_um : float
        Ra as eroded. [um]

    Returns
    -------
    tuple of float
        Least and most to take off a side. [um]

    Raises
    ------
    Refused
        If the roughness is not positive, or lies between 6 and 8 um, of which the table says nothing.

    References
    ----------
    .. [1] Common practice: see `PLANNING_SOURCE`.
    """
    need_number(ra_um, "Ra", "um", above=0)
    for row in PLANNING:
        if (row.above_ra_um is None or ra_um > row.above_ra_um) and (row.to_ra_um is None or ra_um <= row.to_ra_um):
            return row.layer_um
    raise not_in_table("Ra", ra_um, "≤ 6, > 8 µm")


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Layers and roughness. [um]

    References
    ----------
    .. [1] See `LAYER_SOURCE` and `PLANNING_SOURCE`.
    """
    found = [
        Stated("spark-eroded layer", f"{what} {side}", value, "um", LAYER_SOURCE)
        for what, span in (("white layer", WHITE_LAYER_UM), ("heat-affected below it", HEAT_AFFECTED_UM))
        for side, value in zip(("from", "to"), span, strict=True)
    ]
    for number, row in enumerate(PLANNING):
        named = {"Ra above": row.above_ra_um, "Ra to": row.to_ra_um, "from": row.layer_um[0], "to": row.layer_um[1]}
        found.extend(
            Stated("spark-eroded layer", f"row {number}, {what}", value, "um", PLANNING_SOURCE)
            for what, value in named.items()
            if value is not None
        )
    return tuple(found)
