"""What the last step must be, from the finish that is asked for."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.craft.media import BLAST, DIAMOND, PAPER, STONE


@dataclass(frozen=True)
class Target:
    """How a grade is made: the kind and grain of its last medium, the grain before it, its rate.

    `last_um` and `before_um` are grains [um]; `blast_grain` and `blast_words` name the blast of a D grade;
    `minutes_cm2` is the middle of what the whole ladder takes by hand. [min/cm2]
    """

    grade: str
    kind: str
    last_um: float
    ra_um: float
    minutes_cm2: float
    before_um: float = 0.0
    blast_grain: str = ""
    blast_words: str = ""


# [1] Process of the mould finish grades; Ra is the middle of a band and only finds the nearest grade.
# Rates are seeds for new work by hand, until a shop's own bookings speak.
TARGETS: tuple[Target, ...] = (
    Target("A-1", DIAMOND, 3.0, 0.018, 25.0, 16.0),
    Target("A-2", DIAMOND, 6.0, 0.038, 15.0, 16.0),
    Target("A-3", DIAMOND, 15.0, 0.075, 8.0, 23.0),
    Target("B-1", PAPER, 16.0, 0.075, 6.0),
    Target("B-2", PAPER, 23.0, 0.125, 4.5),
    Target("B-3", PAPER, 36.0, 0.30, 3.0),
    Target("C-1", STONE, 9.3, 0.375, 3.0),
    Target("C-2", STONE, 17.3, 0.50, 2.0),
    Target("C-3", STONE, 29.2, 0.665, 1.0),
    Target("D-1", BLAST, 9.3, 0.90, 3.5, 9.3, "11", "100 psi, 8 in, 5 s"),
    Target("D-2", BLAST, 17.3, 1.90, 2.5, 17.3, "240", "100 psi, 5 in, 5 s"),
    Target("D-3", BLAST, 29.2, 10.6, 1.5, 29.2, "24", "100 psi, 6 in, 5 s"),
)
FAMILIES = {"polished": "AB", "stoned": "C", "blasted": "D"}
# Where neither a grade nor an Ra says more, the plainest of the family is planned.
PLAINEST = {"polished": "B-1", "stoned": "C-2", "blasted": "D-1"}


def target_for(how_made: str, scale: str, code: str, ra_um: float | None) -> tuple[Target, bool]:
    """Return the grade whose process makes the finish, and whether the spec names it.

    Parameters
    ----------
    how_made : str
        polished, stoned or blasted. [-]
    scale, code : str
        Of the spec; a code on the scale "mould finish grade" names the process itself. [-]
    ra_um : float or None
        Ra that the spec asks for, with which the nearest grade of the family is found. [um]

    Returns
    -------
    tuple of Target and bool
        The target, and True where the spec names it by its grade. [-]

    References
    ----------
    .. [1] Mould finish guide A-1 to D-3: A ends on 15, 6, 3 um diamond, B on 320, 400, 600 paper,
       C on 320, 400, 600 stone, D is blasted over 320, 400, 600 stone.
    """
    named = {target.grade: target for target in TARGETS}
    grade = code.strip().upper().replace(" ", "").replace("SPI", "")
    if scale in ("mould finish grade", "plaque", "") and grade in named and _family_fits(how_made, grade):
        return named[grade], True
    family = FAMILIES[how_made]
    if ra_um is None or ra_um <= 0:
        return named[PLAINEST[how_made]], False
    of_family = [target for target in TARGETS if target.grade[0] in family]
    return min(of_family, key=lambda target: abs(math.log(target.ra_um / ra_um))), False


def _family_fits(how_made: str, grade: str) -> bool:
    return grade[0] in FAMILIES[how_made]
