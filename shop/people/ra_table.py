"""Which Ra bands stand beside the mould finish grades in a plant: a published variant, or its own table."""

from __future__ import annotations

from shop.people.models import Plant
from shop.refusal import gettext_noop
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
