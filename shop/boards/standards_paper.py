"""The snapshot behind the paper of a standards check: every row, worded when it was recomputed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.utils.translation import gettext

from shop import __version__
from shop.boards.checks.check import Check, Checked
from shop.boards.standards_check import AreaResult, by_area
from shop.paper.models import Document
from shop.people import wording
from shop.people.models import Person, Plant
from shop.standards.source import STANDING_LABELS, Standing

# As many figures as the finest printed value carries; what is beyond them is binary noise.
FIGURES = 10


def subject_of(plant: Plant) -> str:
    """Return what the paper is about: this installation, as this plant keeps it."""
    return f"plant:{plant.pk}:standards"


def issue_of(checked: Sequence[Checked], *, plant: Plant, by: Person) -> dict[str, Any]:
    """Return what `paper.services.issue` is told of it, so that the page and the command issue the same."""
    return {
        "kind": Document.Kind.STANDARDS,
        "subject": subject_of(plant),
        "number": f"SC-{plant.pk}",
        "template": "paper/standards_check.html",
        "snapshot": standards_paper(checked, plant=plant, by=by),
    }


def standards_paper(checked: Sequence[Checked], *, plant: Plant, by: Person) -> dict[str, Any]:
    """Return the paper's words; each source stands once and is named by its number."""
    sources: dict[tuple[str, ...], int] = {}
    areas = [_area(area, sources) for area in by_area(checked)]
    return {
        "plant": plant.name,
        "checked_by": by.name,
        "version": __version__,
        "count": len(checked),
        "within": sum(each.within for each in checked),
        "outside": [_row(each, sources) for each in checked if not each.within],
        "areas": areas,
        "sources": [
            {"number": number, "title": gettext(title) if title else "", "edition": edition,
             "standing": gettext(STANDING_LABELS[Standing(standing)]), "note": note}
            for (title, edition, standing, note), number in sources.items()
        ],
    }  # fmt: skip


def _area(area: AreaResult, sources: dict[tuple[str, ...], int]) -> dict[str, Any]:
    return {
        "name": gettext(area.area),
        "count": area.count,
        "within": area.within,
        "common": sum(each.check.standing == Standing.COMMON for each in area.checked),
        "memory": sum(each.check.from_memory for each in area.checked),
        "rows": [_row(each, sources) for each in area.checked],
    }


def _row(each: Checked, sources: dict[tuple[str, ...], int]) -> dict[str, Any]:
    check = each.check
    return {
        "row": check.row,
        "what": check.what,
        "unit": check.unit,
        "computed": figure(each.computed),
        "printed": figure(check.printed),
        "difference": difference(each),
        "allowed": figure(check.tolerance) if each.difference is not None else "",
        "within": each.within,
        "source": sources.setdefault(_source(check), len(sources) + 1),
        "standing": gettext(check.standing.value),
        "memory": check.from_memory,
    }


def _source(check: Check) -> tuple[str, ...]:
    return (check.source, check.edition, check.standing.value, check.note)


def figure(value: float | str) -> str:
    """Return a value with as many figures as count, its decimal sign the reader's; words as they are."""
    if isinstance(value, str):
        return gettext(value) if value else ""
    short = f"{value:.{FIGURES}g}"
    return short if "e" in short or short in ("nan", "inf", "-inf") else wording.number(_plain(short))


def _plain(short: str) -> float | int:
    return float(short) if "." in short else int(short)


def difference(each: Checked) -> str:
    """Return by how much computed and printed differ; a dash where words are compared."""
    if each.difference is None:
        return wording.NOTHING
    if each.difference == 0:
        return "0"
    return f"{each.difference:+.2g}".replace("-", "−")
