"""One value on every scale, and bars with their figures written out."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shop.boards.figures import figured
from shop.boards.finishes import by_texture, can_have, on_every_scale
from shop.people import wording
from shop.people.models import Person
from shop.picture.finish_bar import Bar
from shop.refusal import Refused


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


def test_soft_steel_takes_a_mirror_only_with_care() -> None:
    assert [one.well for one in can_have("1.2083", Decimal(50), "", "A-1")] == ["yes"]
    assert [one.well for one in can_have("1.2083", Decimal(40), "", "A-1")] == ["care"]


@pytest.mark.parametrize(("draft", "well"), [("4", "yes"), ("3", "care"), ("2", "no")])
def test_draft_is_held_against_all_rules_in_use(draft: str, well: str) -> None:
    assert by_texture("", Decimal(50), Decimal(draft))[-1].well == well


@pytest.mark.django_db
def test_bar_is_written_out_in_the_readers_units(viewer: Person) -> None:
    bar = Bar(None, 0.8, 0.0, 1.0, 0.0, None, "um", "Ra")
    viewer.units = "inch"
    with wording.reading_as(viewer):
        written = figured(bar)
    assert written.upper_words == "31.5\u00a0µin"
    assert written.text == "Ra, at most 31.5\u00a0µin: out of its band"
