"""Mould finish grades A-1 to D-3: a process and a plaque first, Ra bands second, and the resins they suit."""

from __future__ import annotations

from dataclasses import dataclass

from shop.standards.source import Source, Standing, need_number, not_in_table

GRADE_SOURCE = Source(
    "SPI (now PLASTICS) mould finish guide",
    "",
    Standing.SEVERAL,
    "The grade is the process and the plaque. Papers are graded by CAMI; stones and blast media otherwise.",
)
RA_SOURCES: dict[int, Source] = {
    1: Source(
        "Ra bands beside the mould finish guide, variant 1", "", Standing.CONFLICTING, "Never reject on Ra alone."
    ),
    2: Source(
        "Ra bands beside the mould finish guide, variant 2", "", Standing.CONFLICTING, "Never reject on Ra alone."
    ),
}
RESIN_SOURCE = Source("Finish by resin, grades A and B", "", Standing.SEVERAL)
RESIN_CD_SOURCE = Source("Finish by resin, grades C and D", "", Standing.COMMON)


@dataclass(frozen=True)
class Grade:
    """One grade: its last medium with the grading system of its grain, and both published Ra bands in um.

    `medium` is diamond, paper, stone or blast. `grain` counts in `grading`: um of diamond, CAMI paper, the maker's
    number of a stone, the trade's number of a blast medium. `distance_in` is the nozzle distance in inches.
    """

    name: str
    medium: str
    grading: str
    grain: str
    ra_variant_1_um: tuple[float, float]
    ra_variant_2_um: tuple[float, float]
    blast: str = ""
    distance_in: int | None = None

    @property
    def letter(self) -> str:
        """Return the family of the grade: A, B, C or D."""
        return self.name[0]

    def ra_um(self, variant: int) -> tuple[float, float]:
        """Return lower and upper Ra of the grade in one published variant.

        Parameters
        ----------
        variant : int
            1 or 2. [number of the set]

        Returns
        -------
        tuple of float
            Lower and upper edge; the lower is never a reject line on a polish. [um]

        Raises
        ------
        Refused
            If there is no such variant.

        References
        ----------
        .. [1] Secondary sources, which conflict: see `RA_SOURCES`.
        """
        if variant not in RA_SOURCES:
            raise not_in_table("Variant", variant, "1, 2")
        return self.ra_variant_1_um if variant == 1 else self.ra_variant_2_um


BLAST_PRESSURE_PSI = 100
BLAST_SECONDS = 5

GRADES: tuple[Grade, ...] = (
    Grade("A-1", "diamond", "diamond", "3", (0.0, 0.025), (0.012, 0.025)),
    Grade("A-2", "diamond", "diamond", "6", (0.025, 0.051), (0.025, 0.05)),
    Grade("A-3", "diamond", "diamond", "15", (0.051, 0.076), (0.05, 0.10)),
    Grade("B-1", "paper", "CAMI", "600", (0.051, 0.076), (0.05, 0.10)),
    Grade("B-2", "paper", "CAMI", "400", (0.102, 0.127), (0.10, 0.15)),
    Grade("B-3", "paper", "CAMI", "320", (0.229, 0.254), (0.28, 0.32)),
    Grade("C-1", "stone", "stone", "600", (0.254, 0.305), (0.35, 0.40)),
    Grade("C-2", "stone", "stone", "400", (0.635, 0.711), (0.45, 0.55)),
    Grade("C-3", "stone", "stone", "320", (0.965, 1.067), (0.63, 0.70)),
    Grade("D-1", "blast", "glass bead", "#11", (0.254, 0.305), (0.80, 1.00), "dry", 8),
    Grade("D-2", "blast", "aluminium oxide", "#240", (0.660, 0.813), (1.00, 2.80), "dry", 5),
    Grade("D-3", "blast", "aluminium oxide", "#24", (4.83, 5.84), (3.20, 18.0), "dry", 6),
)
_BY_NAME = {grade.name: grade for grade in GRADES}

# What a blast must find under it: D-1 on 600 stone, and so on.
STONE_BEFORE_BLAST: dict[str, str] = {"D-1": "600", "D-2": "400", "D-3": "320"}

NO, AVERAGE, GOOD, EXCELLENT = "no", "average", "good", "excellent"
_WORDS = {"no": NO, "av": AVERAGE, "gd": GOOD, "ex": EXCELLENT}
_RESINS = {
    "ABS": "av av gd gd gd ex ex ex ex ex ex gd",
    "PP": "no av av gd gd ex ex ex ex ex ex ex",
    "PS": "av av gd ex ex ex ex ex ex ex ex gd",
    "HDPE": "no av av gd gd ex ex ex ex ex ex ex",
    "PA": "av av gd gd ex ex ex ex ex ex ex gd",
    "PC": "av gd ex gd gd av av no no ex no no",
    "TPU": "no no no no av av gd gd gd ex ex gd",
    "PMMA": "ex ex ex gd gd gd no no no no no no",
}
RESIN_SUITABILITY: dict[str, dict[str, str]] = {
    resin: {grade.name: _WORDS[word] for grade, word in zip(GRADES, words.split(), strict=True)}
    for resin, words in _RESINS.items()
}


def grade_named(name: str) -> Grade:
    """Return a grade by its name as it is written on drawings.

    Parameters
    ----------
    name : str
        For instance "A-2", "a2" or "SPI A-2".

    Returns
    -------
    Grade
        The grade, with its Ra bands. [um]

    Raises
    ------
    Refused
        If there is no such grade.

    References
    ----------
    .. [1] SPI (now PLASTICS) mould finish guide.
    """
    plain = name.strip().upper().removeprefix("SPI").strip().replace("-", "").replace(" ", "")
    grade = _BY_NAME.get(f"{plain[:1]}-{plain[1:]}")
    if grade is None:
        raise not_in_table("Grade", name, "A-1–D-3")
    return grade


def candidates(ra_um: float, variant: int) -> tuple[Grade, ...]:
    """Return the grades whose Ra band holds a value; a way to find candidates, never a verdict.

    Parameters
    ----------
    ra_um : float
        Ra. [um]
    variant : int
        Which published set of bands, 1 or 2. [number of the set]

    Returns
    -------
    tuple of Grade
        Finest first; empty where the value lies between the bands.

    Raises
    ------
    Refused
        If `ra_um` is not positive, or there is no such variant.

    References
    ----------
    .. [1] Secondary sources, which conflict: see `RA_SOURCES`.
    """
    need_number(ra_um, "Ra", "um", above=0)
    found = []
    for grade in GRADES:
        lower, upper = grade.ra_um(variant)
        if lower <= ra_um <= upper:
            found.append(grade)
    return tuple(found)


def cannot_tell_apart(name: str, variant: int) -> tuple[str, ...]:
    """Return the other grades that Ra cannot tell from this one.

    Parameters
    ----------
    name : str
        The grade.
    variant : int
        Which published set of bands [um], 1 or 2.

    Returns
    -------
    tuple of str
        Grades whose bands overlap by more than an edge.

    Raises
    ------
    Refused
        If grade or variant are not known.

    References
    ----------
    .. [1] Secondary sources, which conflict: see `RA_SOURCES`.
    """
    this = grade_named(name)
    lower, upper = this.ra_um(variant)
    others = (grade for grade in GRADES if grade is not this)
    return tuple(g.name for g in others if g.ra_um(variant)[0] < upper and lower < g.ra_um(variant)[1])


def resin_suitability(resin: str, grade: str) -> str:
    """Return how well a resin takes a grade.

    Parameters
    ----------
    resin : str
        For instance "ABS" or "PA"; glass and other fillings are not part of the table.
    grade : str
        The grade.

    Returns
    -------
    str
        "no", "average", "good" or "excellent".

    Raises
    ------
    Refused
        If resin or grade are not in the table.

    References
    ----------
    .. [1] Several sources for A and B, common practice for C and D: see `RESIN_SOURCE`, `RESIN_CD_SOURCE`.
    """
    row = RESIN_SUITABILITY.get(resin.strip().upper())
    if row is None:
        raise not_in_table("Resin", resin, ", ".join(RESIN_SUITABILITY))
    return row[grade_named(grade).name]
