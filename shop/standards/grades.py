"""Mould finish grades A-1 to D-3: a process and a plaque first, Ra bands second."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from shop.refusal import Refused, gettext_noop
from shop.standards.source import NO_EDITION, Source, Standing, Stated, need_number, not_in_table

GRADE_SOURCE = Source(
    gettext_noop("SPI (now PLASTICS) mould finish guide"),
    NO_EDITION,
    Standing.SEVERAL,
    gettext_noop(
        "The grade is the process and the plaque. Papers are graded by CAMI; stones and blast media otherwise."
    ),
)
_NEVER_ALONE = gettext_noop("Never reject on Ra alone.")
RA_SOURCES: dict[int, Source] = {
    1: Source(
        gettext_noop("Ra bands beside the mould finish guide, variant 1"),
        NO_EDITION,
        Standing.CONFLICTING,
        _NEVER_ALONE,
    ),
    2: Source(
        gettext_noop("Ra bands beside the mould finish guide, variant 2"),
        NO_EDITION,
        Standing.CONFLICTING,
        _NEVER_ALONE,
    ),
}


@dataclass(frozen=True)
class RaTable:
    """A plant's own Ra bands by grade, in um, with the name they go by and where they are from.

    A grade without a band is held by the process and the plaque alone.
    """

    name: str
    bands_um: Mapping[str, tuple[float, float]]
    source: Source


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

    def ra_um(self, variant: int | RaTable) -> tuple[float, float]:
        """Return lower and upper Ra of the grade in one published variant, or in a plant's own table.

        Parameters
        ----------
        variant : int or RaTable
            1 or 2 [number of the set], or the plant's bands. [um]

        Returns
        -------
        tuple of float
            Lower and upper edge; the lower is never a reject line on a polish. [um]

        Raises
        ------
        Refused
            If there is no such variant, or the plant's table has no band for the grade.

        References
        ----------
        .. [1] Secondary sources, which conflict: see `RA_SOURCES`.
        """
        if isinstance(variant, RaTable):
            if self.name not in variant.bands_um:
                raise not_in_table("Grade", self.name, variant.name)
            return variant.bands_um[self.name]
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


def candidates(ra_um: float, variant: int | RaTable) -> tuple[Grade, ...]:
    """Return the grades whose Ra band holds a value; a way to find candidates, never a verdict.

    Parameters
    ----------
    ra_um : float
        Ra. [um]
    variant : int or RaTable
        Which published set of bands, 1 or 2 [number of the set], or the plant's own. [um]

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
    for grade in _with_band(variant):
        lower, upper = grade.ra_um(variant)
        if lower <= ra_um <= upper:
            found.append(grade)
    return tuple(found)


def cannot_tell_apart(name: str, variant: int | RaTable) -> tuple[str, ...]:
    """Return the other grades that Ra cannot tell from this one.

    Parameters
    ----------
    name : str
        The grade.
    variant : int or RaTable
        Which published set of bands [um], 1 or 2, or the plant's own.

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
    others = (grade for grade in _with_band(variant) if grade is not this)
    return tuple(g.name for g in others if g.ra_um(variant)[0] < upper and lower < g.ra_um(variant)[1])


def plant_ra_table(bands_um: Mapping[str, tuple[float, float]], name: str, source: Source) -> RaTable:
    """Return a plant's own Ra bands, checked.

    Parameters
    ----------
    bands_um : mapping
        Lower and upper Ra by grade; grades may be left out. [um]
    name : str
        What the table goes by on every record.
    source : Source
        Where the plant has it from.

    Returns
    -------
    RaTable
        The table, for `candidates` and `cannot_tell_apart`.

    Raises
    ------
    Refused
        If a grade is not known, a band is not in order or negative, or the table is empty or has no name.

    References
    ----------
    .. [1] The plant; the published variants conflict: see `RA_SOURCES`.
    """
    if not bands_um or not name.strip():
        raise Refused(
            "grade.empty_table",
            gettext_noop("A table of Ra bands wants a name and at least one band."),
            next_step=gettext_noop("Name the table and enter a band, or choose a published variant."),
        )
    checked = {}
    for written, (lower, upper) in bands_um.items():
        grade = grade_named(written)
        need_number(lower, f"Ra {grade.name}", "um", above=-1e-300)
        need_number(upper, f"Ra {grade.name}", "um", above=lower)
        checked[grade.name] = (float(lower), float(upper))
    return RaTable(name.strip(), checked, source)


def ra_source(variant: int | RaTable) -> Source:
    """Return where the Ra bands in force are from.

    Parameters
    ----------
    variant : int or RaTable
        1 or 2 [number of the set], or the plant's own.

    Returns
    -------
    Source
        Title, edition and standing, shown on every record.

    Raises
    ------
    Refused
        If there is no such variant.

    References
    ----------
    .. [1] See `RA_SOURCES`.
    """
    if isinstance(variant, RaTable):
        return variant.source
    if variant not in RA_SOURCES:
        raise not_in_table("Variant", variant, "1, 2")
    return RA_SOURCES[variant]


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Ra [um], grain as graded, blast distance [in], pressure [psi], time [s].

    References
    ----------
    .. [1] SPI (now PLASTICS) mould finish guide; Ra bands of others.
    """
    found = [
        Stated("grade", "blast pressure", BLAST_PRESSURE_PSI, "psi", GRADE_SOURCE),
        Stated("grade", "blast time", BLAST_SECONDS, "s", GRADE_SOURCE),
    ]
    for grade in GRADES:
        found.append(Stated("grade", f"{grade.name} grain, {grade.grading}", grade.grain, grade.grading, GRADE_SOURCE))
        if grade.distance_in is not None:
            found.append(Stated("grade", f"{grade.name} distance", grade.distance_in, "in", GRADE_SOURCE))
        for variant, source in RA_SOURCES.items():
            for side, ra in zip(("from", "to"), grade.ra_um(variant), strict=True):
                found.append(Stated("grade Ra", f"{grade.name} {side}, variant {variant}", ra, "um", source))
    stones = [
        Stated("grade", f"stone under {name}", stone, "stone", GRADE_SOURCE)
        for name, stone in STONE_BEFORE_BLAST.items()
    ]
    return (*found, *stones)


def _with_band(variant: int | RaTable) -> tuple[Grade, ...]:
    if isinstance(variant, RaTable):
        return tuple(grade for grade in GRADES if grade.name in variant.bands_um)
    return GRADES
