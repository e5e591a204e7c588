"""One value on every scale, and bars with their figures written out."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shop.boards.figures import figured
from shop.boards.finishes import on_every_scale, on_hardness_scales, same_grain
from shop.boards.scales import BY_SLUG
from shop.people import wording
from shop.people.models import Person, Plant
from shop.picture.finish_bar import Bar
from shop.refusal import Refused
from shop.standards.grades import RA_SOURCES, plant_ra_table
from shop.standards.tables import TABLES


def test_vdi_reference_goes_to_ra_and_back() -> None:
    found = on_every_scale("VDI", "24", Decimal(24), 2)
    assert found.low_um == found.high_um == pytest.approx(1.585, abs=0.001)
    assert found.vdi_low == 24.0
    assert found.card_rz_um == 6.5
    assert found.n_grade == "N7"


def test_microinches_are_the_same_roughness() -> None:
    assert on_every_scale("Ra uin", "32", Decimal(32), 2).low_um == pytest.approx(0.8128)


def test_grade_is_a_band_whose_variant_decides() -> None:
    assert (on_every_scale("grade", "B-3", None, 1).low_um, on_every_scale("grade", "B-3", None, 2).low_um) == (
        0.229,
        0.28,
    )
    assert on_every_scale("grade", "B-3", None, 1).is_band


def test_candidates_name_those_that_ra_cannot_tell_apart() -> None:
    found = {one.grade.name: one.alike for one in on_every_scale("Ra um", "0.07", Decimal("0.07"), 2).candidates}
    assert found == {"A-3": ("B-1",), "B-1": ("A-3",)}


def test_value_between_the_bands_has_no_candidate() -> None:
    assert on_every_scale("Ra um", "0.2", Decimal("0.2"), 2).candidates == ()


@pytest.mark.parametrize("number", [None, Decimal(0), Decimal(-1)])
def test_roughness_of_nothing_is_refused(number: Decimal | None) -> None:
    with pytest.raises(Refused, match="above nought"):
        on_every_scale("Ra um", "", number, 2)


def test_plants_own_bands_find_their_own_candidates() -> None:
    own = plant_ra_table({"A-3": (0.04, 0.2)}, "House", RA_SOURCES[1])
    assert [one.grade.name for one in on_every_scale("Ra um", "0.15", Decimal("0.15"), own).candidates] == ["A-3"]
    with pytest.raises(Refused):
        on_every_scale("grade", "B-1", None, own)


def test_grain_names_the_same_grain_of_other_systems() -> None:
    size, same = same_grain("P", "400")
    assert size.value == 35
    assert "CAMI" in {one.system for one in same}
    with pytest.raises(Refused):
        same_grain("P", "401")


def test_hardness_stands_on_every_scale_inside_the_table_only() -> None:
    found = on_hardness_scales(Decimal(48), "HRC")
    assert {scale: one and one.value for scale, one in found.items()} == {"HRC": 48, "HV": 484, "HB": 455}
    with pytest.raises(Refused):
        on_hardness_scales(Decimal(70), "HRC")


@pytest.mark.django_db
@pytest.mark.parametrize("slug", list(BY_SLUG))
def test_scale_is_a_table_with_sources(plant: Plant, slug: str) -> None:
    table = BY_SLUG[slug].table(plant)
    assert table.sources
    assert all(len(line) == len(table.columns) for line in table.lines)


def test_every_table_of_the_standards_is_reached() -> None:
    reached = {"abrasives": "grain", "acceptance": "acceptance", "coatings": "coatings", "conditions": "iso-4288",
               "conformity": "guard", "draft": "draft", "eroded": "eroded", "gloss": "gloss", "grades": "grades",
               "hardness": "hardness", "mould_classes": "classes", "msa": "studies", "resins": "resins",
               "roughness": "vdi", "steels": "steels"}  # fmt: skip
    assert set(TABLES) <= set(reached)
    assert set(reached.values()) - {"studies"} <= set(BY_SLUG)


@pytest.mark.django_db
def test_bar_is_written_out_in_the_readers_units(viewer: Person) -> None:
    bar = Bar(None, 0.8, 0.0, 1.0, 0.0, None, "um", "Ra")
    viewer.units = "inch"
    with wording.reading_as(viewer):
        written = figured(bar)
    assert written.upper_words == "31.5\u00a0µin"
    assert written.text == "Ra, at most 31.5\u00a0µin: out of its band"
