"""Resins: which mould finish each takes, and how they bend light."""

from __future__ import annotations

from dataclasses import dataclass

from shop.refusal import gettext_noop
from shop.standards.gloss import GEOMETRIES_DEG, ideal_gloss_gu
from shop.standards.grades import GRADES, grade_named
from shop.standards.source import NO_EDITION, Source, Standing, Stated, not_in_table

RESIN_SOURCE = Source(
    gettext_noop("Finish by resin, grades A and B"),
    NO_EDITION,
    Standing.SEVERAL,
    gettext_noop("Unfilled, natural resins."),
)
RESIN_CD_SOURCE = Source(
    gettext_noop("Finish by resin, grades C and D"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("Unfilled, natural resins."),
)
INDEX_SOURCE = Source(
    gettext_noop("Refractive index of PMMA"),
    NO_EDITION,
    Standing.PUBLISHED,
    gettext_noop("Bounds the gloss of an opaque part without plating or metallic pigment."),
)
INDEX_MEMORY_SOURCE = Source(
    gettext_noop("Refractive index of natural resins"),
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("Set down from memory; pigments and grades differ, the resin's sheet goes before."),
    from_memory=True,
)

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
REFRACTIVE_INDEX: dict[str, float] = {
    "PMMA": 1.49, "PC": 1.586, "PS": 1.59, "ABS": 1.54, "PP": 1.49, "PA": 1.53, "HDPE": 1.54, "TPU": 1.50,
}  # fmt: skip
_INDEX_SEEN = ("PMMA",)


@dataclass(frozen=True)
class Suits:
    """How well a resin takes a grade, "no" to "excellent", and where that is from."""

    resin: str
    grade: str
    how: str
    source: Source


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
    return suits(resin, grade).how


def suits(resin: str, grade: str) -> Suits:
    """Return how well a resin takes a grade, with the standing of the answer.

    Parameters
    ----------
    resin : str
        As `resin_suitability`.
    grade : str
        The grade.

    Returns
    -------
    Suits
        The answer and its source.

    Raises
    ------
    Refused
        If resin or grade are not in the table.

    References
    ----------
    .. [1] Several sources for A and B, common practice for C and D.
    """
    name, known = _named(resin), grade_named(grade)
    source = RESIN_SOURCE if known.letter in "AB" else RESIN_CD_SOURCE
    return Suits(name, known.name, RESIN_SUITABILITY[name][known.name], source)


def refractive_index(resin: str) -> tuple[float, Source]:
    """Return how strongly a resin bends light, which bounds the gloss of an opaque part.

    Parameters
    ----------
    resin : str
        As `resin_suitability`.

    Returns
    -------
    tuple of float and Source
        Refractive index [1], and where it is from.

    Raises
    ------
    Refused
        If the resin is not in the table.

    References
    ----------
    .. [1] PMMA 1.49 as published; the others from memory.
    """
    name = _named(resin)
    return REFRACTIVE_INDEX[name], _index_source(name)


def most_gloss_gu(resin: str, angle_deg: int) -> tuple[float, Source]:
    """Return the most gloss that an opaque part of a resin can show, unplated and without metallic pigment.

    Parameters
    ----------
    resin : str
        As `resin_suitability`.
    angle_deg : int
        20, 60 or 85. [deg]

    Returns
    -------
    tuple of float and Source
        Gloss of an ideal surface [GU], and where the index is from.

    Raises
    ------
    Refused
        If the resin is not in the table, or the angle none of the three.

    References
    ----------
    .. [1] Fresnel's equations by ISO 2813; a clear part adds its back face and may read more.
    """
    if angle_deg not in GEOMETRIES_DEG:
        raise not_in_table("Angle", angle_deg, ", ".join(f"{angle}°" for angle in GEOMETRIES_DEG))
    index, source = refractive_index(resin)
    return ideal_gloss_gu(index, angle_deg), source


def stated() -> tuple[Stated, ...]:
    """Return every value of this module's tables with where it is from.

    Returns
    -------
    tuple of Stated
        Suitability by grade, refractive index [1].

    References
    ----------
    .. [1] As `resin_suitability` and `refractive_index`.
    """
    said = [suits(resin, grade.name) for resin in RESIN_SUITABILITY for grade in GRADES]
    return (
        *(Stated("resin", f"{each.resin} {each.grade}", each.how, "", each.source) for each in said),
        *(Stated("refractive index", name, n, "1", _index_source(name)) for name, n in REFRACTIVE_INDEX.items()),
    )


def _index_source(name: str) -> Source:
    return INDEX_SOURCE if name in _INDEX_SEEN else INDEX_MEMORY_SOURCE


def _named(resin: str) -> str:
    name = resin.strip().upper()
    if name not in RESIN_SUITABILITY:
        raise not_in_table("Resin", resin, ", ".join(RESIN_SUITABILITY))
    return name
