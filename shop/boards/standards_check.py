"""Standards check: recompute, on this installation, every value that standards and handbooks print."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from shop.boards.checks import gauge_studies, materials, measuring, pools, profiles, proof, scales, uncertainty, wear
from shop.boards.checks.check import Check, Checked
from shop.boards.printed import Printed, every_table
from shop.standards.source import Standing, Stated
from shop.standards.tables import of_standing

AREAS = (scales, measuring, proof, materials, wear, pools, gauge_studies, uncertainty, profiles)


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
