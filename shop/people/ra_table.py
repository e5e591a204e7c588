"""Which Ra bands stand beside the mould finish grades in a plant: a published variant, or its own table."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from shop.ledger.models import Change
from shop.people.models import Plant
from shop.refusal import Refused, gettext_noop
from shop.standards.grades import RaTable, plant_ra_table
from shop.standards.source import NO_EDITION, Source, Standing

PUBLISHED = {1: gettext_noop("variant 1"), 2: gettext_noop("variant 2")}
OWN_NOTE = gettext_noop("Set by the plant itself. Never reject on Ra alone.")


def in_force(plant: Plant) -> int | RaTable:
    """Return the number of the published variant in force, or the plant's own table."""
    if not plant.grade_ra_bands:
        return plant.grade_ra_variant
    bands = {grade: (float(low), float(high)) for grade, (low, high) in plant.grade_ra_bands.items()}
    return plant_ra_table(bands, plant.grade_ra_name, source_of(plant))


def source_of(plant: Plant) -> Source:
    """Return where a plant's own bands are from: nobody published them."""
    return Source(plant.grade_ra_name, NO_EDITION, Standing.COMMON, OWN_NOTE)


def name_of(plant: Plant) -> str:
    """Return what the bands in force go by on every record; a published variant is a marked word."""
    return plant.grade_ra_name if plant.grade_ra_bands else PUBLISHED[plant.grade_ra_variant]


def checked(plant: Plant, bands: Mapping[str, tuple[Decimal, Decimal]], name: str) -> dict[str, list[str]]:
    """Return a plant's own bands as they are kept. Raises Refused where they or their name cannot stand."""
    name = name.strip()
    plant_ra_table({grade: (float(low), float(high)) for grade, (low, high) in bands.items()}, name, source_of(plant))
    kept = {grade: [str(low.normalize()), str(high.normalize())] for grade, (low, high) in bands.items()}
    if name in PUBLISHED.values():
        raise _name_taken(name)
    # A name on a record must mean the same bands for ever: it is used again only for the same ones.
    before = Change.objects.filter(room=plant._meta.label_lower, row_id=plant.pk, field="grade_ra_name", new=name)
    if (plant.grade_ra_name, plant.grade_ra_bands) != (name, kept) and before.exists():
        raise _name_taken(name)
    return kept


def _name_taken(name: str) -> Refused:
    return Refused(
        "grade.name_taken",
        gettext_noop("“{name}” stands for other Ra bands on records already."),
        next_step=gettext_noop("Give these bands a new name, with a year or a letter."),
        field="name",
        name=name,
    )
