"""Which works would do on a face, and how long a finish is to be expected to last after each of them.

Nobody has published how long a refinished face lasts. What stands here are seeds of common practice without a source,
used only until a shop's own lives or a face's own forecast say more.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.craft.works import CLEAN, FULL, GLOSS_BLAST, KISS, LIGHTEST_FIRST, LOCAL, RECUT

# What a lighter work gives of the life that a full refinish gives.
SHARE_OF_FULL = {CLEAN: 0.3, GLOSS_BLAST: 0.8, KISS: 0.6, LOCAL: 0.5, FULL: 1.0, RECUT: 1.0}
POLISHED = ("polished", "stoned")
TEXTURED = ("etched", "laser", "spark-eroded")

# Shots from, to: with unfilled resin, with filled resin.
_POLISH = ((100_000.0, 300_000.0), (25_000.0, 100_000.0))
_BLAST = ((100_000.0, 250_000.0), (50_000.0, 100_000.0))
_TEXTURE = ((300_000.0, 500_000.0), (100_000.0, 200_000.0))
_CLEANING = ((25_000.0, 250_000.0), (25_000.0, 250_000.0))

SEED_SHAPE = 4.0
LEAST_SHAPE, MOST_SHAPE = 1.5, 12.0
# Of a Weibull life: the logarithm of its 90 % point over its 10 % point is this over its shape.
_SPAN = math.log(math.log(10.0) / -math.log(0.9))

# Where the area of a face is not known, its route has no minutes: these stand in.
SEED_MINUTES = {CLEAN: 10.0, GLOSS_BLAST: 30.0, KISS: 60.0, LOCAL: 120.0, FULL: 360.0, RECUT: 480.0}


@dataclass(frozen=True)
class Seed:
    """How many shots a finish is said to last, from, to, and the middle of both by factors. [shots]"""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Return the geometric mean of both ends."""
        return math.sqrt(self.low * self.high)


def works_that_do(
    how_made: str, lightest: str, *, micro_matt: bool = False, one_place: bool = False
) -> tuple[str, ...]:
    """Return the works that would bring a face back, lightest first.

    Parameters
    ----------
    how_made : str
        polished, stoned, blasted, spark-eroded, etched or laser. [-]
    lightest : str
        The lightest that would do; nothing lighter is returned. [-]
    micro_matt : bool
        Whether a blasted micro-matt lies on the pattern. [-]
    one_place : bool
        Whether only one place of the face asks for it, so that a local touch-up would do. [-]

    Returns
    -------
    tuple of str
        At least the lightest; a re-cut is never among the heavier ones. [-]

    References
    ----------
    .. [1] Trade rule: clean, gloss blast, kiss polish, local touch-up, full refinish, re-cut, in this order.
    """
    heavier = LIGHTEST_FIRST[LIGHTEST_FIRST.index(lightest) + 1 :]
    sensible = {FULL}
    if how_made in POLISHED:
        sensible.add(KISS)
    if how_made == "blasted" or (micro_matt and how_made in TEXTURED):
        sensible.add(GLOSS_BLAST)
    if one_place:
        sensible.add(LOCAL)
    return (lightest, *(work for work in heavier if work in sensible))


def seed_life(how_made: str, work: str, *, filled: bool) -> Seed:
    """Return how long a finish is said to last after a work, until a shop's own lives say more.

    Parameters
    ----------
    how_made : str
        polished, stoned, blasted, spark-eroded, etched or laser. [-]
    work : str
        clean, gloss blast, kiss polish, local touch-up, full refinish or re-cut. [-]
    filled : bool
        Whether the resin is filled, so that it wears a face faster. [-]

    Returns
    -------
    Seed
        From, to. [shots]

    References
    ----------
    .. [1] Common practice, no source: A grades 100 to 300 thousand shots unfilled, 25 to 100 filled; gloss blast
       100 to 250, 50 to 100; full re-texture 300 to 500, 100 to 200; bench cleaning 25 to 250.
    """
    if work in (CLEAN, GLOSS_BLAST):
        return Seed(*(_CLEANING if work == CLEAN else _BLAST)[filled])
    whole = _TEXTURE if how_made in TEXTURED else _BLAST if how_made == "blasted" else _POLISH
    low, high = whole[filled]
    share = SHARE_OF_FULL[work]
    return Seed(low * share, high * share)


def shape_of(low: float, high: float) -> float:
    """Return the shape of a Weibull life from the shots at which its chance is 10 and 90 %.

    Parameters
    ----------
    low, high : float
        Shots of the whole life at 10 % and at 90 %. [shots]

    Returns
    -------
    float
        The shape, held between 1.5 and 12: a forecast is neither chance alone nor a clock. [1]

    References
    ----------
    .. [1] W. Weibull, A statistical distribution function of wide applicability, J. Appl. Mech. 18 (1951).
    """
    if not 0 < low < high:
        return SEED_SHAPE if low <= 0 else MOST_SHAPE
    return min(max(_SPAN / math.log(high / low), LEAST_SHAPE), MOST_SHAPE)


def work_of(words: str) -> str:
    """Return the work that a life's beginning names in words; a new tool or an unknown hand counts as a full refinish.

    Parameters
    ----------
    words : str
        "new tool", "WO-0042 kiss polish". [-]

    Returns
    -------
    str
        clean, gloss blast, kiss polish, local touch-up, full refinish or re-cut. [-]

    References
    ----------
    .. [1] How the bench writes what began a life: the order's number and the work.
    """
    return next((work for work in LIGHTEST_FIRST if words.endswith(work)), FULL)
