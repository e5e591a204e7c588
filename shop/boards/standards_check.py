"""Standards check: recompute, on this installation, every value that standards and handbooks print."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shop.boards.checks import (
    charts,
    gauge_studies,
    lives,
    materials,
    measuring,
    pools,
    profiles,
    proof,
    scales,
    uncertainty,
    wear,
)
from shop.boards.checks.check import Check, Checked
from shop.boards.printed import Printed, every_table
from shop.refusal import gettext_noop
from shop.standards.source import Standing, Stated
from shop.standards.tables import of_standing

AREAS = (scales, measuring, proof, materials, wear, lives, charts, pools, gauge_studies, uncertainty, profiles)

FROM_MEMORY = "from memory"
# The areas as the checks name them, so that the catalogues know their words.
AREA_WORDS = (
    gettext_noop("roughness scales"),
    gettext_noop("measuring conditions"),
    gettext_noop("acceptance"),
    gettext_noop("gloss"),
    gettext_noop("conformity"),
    gettext_noop("grain"),
    gettext_noop("hardness"),
    gettext_noop("draft and mould classes"),
    gettext_noop("steels, resins and layers"),
    gettext_noop("straight-line fits"),
    gettext_noop("crossings"),
    gettext_noop("lives"),
    gettext_noop("control charts"),
    gettext_noop("run lengths"),
    gettext_noop("pooled lines"),
    gettext_noop("gauge studies"),
    gettext_noop("uncertainty and agreement"),
    gettext_noop("profile"),
)


@dataclass(frozen=True)
class AreaResult:
    """What came of one area; `worst` is the check that comes nearest to its tolerance, or lies furthest outside."""

    area: str
    checked: tuple[Checked, ...]

    @property
    def count(self) -> int:
        """Return how many printed values were recomputed."""
        return len(self.checked)

    @property
    def within(self) -> int:
        """Return how many of them agree."""
        return sum(each.within for each in self.checked)

    @property
    def worst(self) -> Checked:
        """Return the check that takes most of what is allowed."""
        return max(self.checked, key=lambda each: (not each.within, each.share_of_tolerance))


def every_check(tables: Mapping[str, Printed] | None = None) -> tuple[Check, ...]:
    """Return the check of every printed value, in the order of the areas."""
    found = every_table() if tables is None else tables
    return tuple(check for area in AREAS for check in area.checks(found))


def run(tables: Mapping[str, Printed] | None = None) -> tuple[Checked, ...]:
    """Recompute every printed value."""
    return tuple(check.run() for check in every_check(tables))


def by_area(checked: Iterable[Checked]) -> tuple[AreaResult, ...]:
    """Return what came of each area, in the order in which the areas are first met."""
    areas: dict[str, list[Checked]] = {}
    for each in checked:
        areas.setdefault(each.check.area, []).append(each)
    return tuple(AreaResult(area, tuple(rows)) for area, rows in areas.items())


def common_practice() -> tuple[Stated, ...]:
    """Return every value this product holds on common practice alone, without a source that can be named."""
    return of_standing(Standing.COMMON)


@dataclass(frozen=True)
class Asked:
    """Which rows a reader wants to see: of one area, one standing, from memory, or only what is outside."""

    area: str = ""
    standing: str = ""
    outside: bool = False

    def lets(self, each: Checked) -> bool:
        """Return whether a row is among them."""
        standing_fits = self.standing in ("", each.check.standing) or (
            self.standing == FROM_MEMORY and each.check.from_memory
        )
        return self.area in ("", each.check.area) and standing_fits and not (self.outside and each.within)
