"""The media that a bench stocks, each grain with the system that graded it."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from shop.refusal import gettext_noop

STONE, PAPER, DIAMOND, BLAST = "stone", "paper", "diamond", "blast"
WANTED_RATIO = 2.0
# Closer grains than this do the same work twice.
LEAST_RATIO = 1.25


@dataclass(frozen=True)
class Medium:
    """One abrasive on the shelf: its kind, its words, who graded it, its grain number and median grain. [um]"""

    kind: str
    words: str
    grading: str
    grain: str
    size_um: float


STONE_WORDS = gettext_noop("polishing stone")
PAPER_WORDS = gettext_noop("abrasive paper")
DIAMOND_WORDS = gettext_noop("diamond paste on felt")
BEAD_WORDS = gettext_noop("glass bead")
OXIDE_WORDS = gettext_noop("aluminium oxide")

# Median grains: FEPA F by ISO 8486, CAMI paper; a plant may hand in its own shelf instead.
STOCKED: tuple[Medium, ...] = (
    Medium(STONE, STONE_WORDS, "FEPA F", "230", 53.0),
    Medium(STONE, STONE_WORDS, "FEPA F", "320", 29.2),
    Medium(STONE, STONE_WORDS, "FEPA F", "400", 17.3),
    Medium(STONE, STONE_WORDS, "FEPA F", "600", 9.3),
    Medium(PAPER, PAPER_WORDS, "CAMI", "180", 82.0),
    Medium(PAPER, PAPER_WORDS, "CAMI", "220", 66.0),
    Medium(PAPER, PAPER_WORDS, "CAMI", "320", 36.0),
    Medium(PAPER, PAPER_WORDS, "CAMI", "400", 23.0),
    Medium(PAPER, PAPER_WORDS, "CAMI", "600", 16.0),
    Medium(PAPER, PAPER_WORDS, "CAMI", "1000", 9.2),
    Medium(DIAMOND, DIAMOND_WORDS, "um", "15", 15.0),
    Medium(DIAMOND, DIAMOND_WORDS, "um", "6", 6.0),
    Medium(DIAMOND, DIAMOND_WORDS, "um", "3", 3.0),
    Medium(BLAST, BEAD_WORDS, gettext_noop("bead"), "11", 60.0),
    Medium(BLAST, OXIDE_WORDS, gettext_noop("grit"), "240", 53.0),
    Medium(BLAST, OXIDE_WORDS, gettext_noop("grit"), "24", 750.0),
)


def ladder(media: Iterable[Medium], kind: str, last_um: float, first_um: float) -> tuple[Medium, ...]:
    """Return the media of one kind from coarse to fine, each about half the grain of the one before.

    Parameters
    ----------
    media : iterable of Medium
        What the shop stocks.
    kind : str
        The kind to climb down on: stone, paper or diamond.
    last_um : float
        Grain to end at; the nearest stocked one is taken. [um]
    first_um : float
        Grain at which the ladder may begin; no coarser medium is used. [um]

    Returns
    -------
    tuple of Medium
        Coarsest first; empty where the shop stocks none of the kind.

    References
    ----------
    .. [1] Bench rule: every step removes all marks of the one before, which a grain ratio of about 2 does.
    """
    shelf = sorted((medium for medium in media if medium.kind == kind), key=lambda medium: medium.size_um)
    if not shelf:
        return ()
    steps = [min(shelf, key=lambda medium: abs(math.log(medium.size_um / last_um)))]
    while True:
        finer = steps[0]
        coarser = [
            medium
            for medium in shelf
            if finer.size_um * LEAST_RATIO <= medium.size_um <= max(first_um, finer.size_um)
        ]
        if not coarser:
            return tuple(steps)
        steps.insert(0, min(coarser, key=lambda medium: _off_ratio(medium.size_um / finer.size_um)))


def _off_ratio(ratio: float) -> float:
    return abs(math.log(ratio / WANTED_RATIO))
