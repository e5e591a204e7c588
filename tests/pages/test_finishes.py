"""Finishes: the scales with their sources, one value on all of them, and what steel, resin and draft allow."""

from __future__ import annotations

import pytest
from django.test import Client

from shop.boards.scales import BY_SLUG
from shop.people.models import Person

STANDINGS = ("published", "several sources", "sources conflict", "common practice")
pytestmark = pytest.mark.django_db


@pytest.fixture
def reader(client: Client, engineer: Person) -> Client:
    client.force_login(engineer)
    return client


def words(reader: Client, address: str, status: int = 200) -> str:
    page = reader.get(address)
    assert page.status_code == status
    return page.content.decode()


def test_index_reaches_every_scale_and_names_the_bands_in_force(reader: Client, engineer: Person) -> None:
    page = words(reader, "/finishes/")
    assert "variant 2 is in force" in page
    assert all(f"/finishes/scales/{slug}/" in page for slug in BY_SLUG)
    engineer.plant.grade_ra_variant = 1
    engineer.plant.save(update_fields=["grade_ra_variant"])
    assert "variant 1 is in force" in words(reader, "/finishes/")


@pytest.mark.parametrize("slug", list(BY_SLUG))
def test_scale_stands_with_source_edition_and_standing(reader: Client, slug: str) -> None:
    page = words(reader, f"/finishes/scales/{slug}/")
    assert 'class="source"' in page
    assert any(f"<strong>{standing}</strong>" in page for standing in STANDINGS)


def test_grades_show_both_variants_and_what_ra_cannot_tell_apart(reader: Client) -> None:
    page = words(reader, "/finishes/scales/grades/")
    assert "sources conflict" in page
    assert "Ra cannot tell it from" in page
    assert page.count("<svg") > 12


def test_vdi_names_its_edition(reader: Client) -> None:
    assert "VDI 3400, 1975" in words(reader, "/finishes/scales/vdi/")


def test_conditions_of_both_editions_show_stylus_and_spacing(reader: Client) -> None:
    old, new = (words(reader, f"/finishes/scales/{slug}/") for slug in ("iso-4288", "iso-21920-3"))
    assert "measured again until it lies in its row" in old
    assert "Sc3" in new
    assert "16.0" in new
    assert "16.0" not in old


def test_gloss_shows_what_an_opaque_resin_can_show(reader: Client) -> None:
    page = words(reader, "/finishes/scales/gloss/")
    assert all(bound in page for bound in ("79.4", "87.5", "98.8"))


def test_grain_and_hardness_answer_on_the_other_scales_and_refuse_outside(reader: Client) -> None:
    page = words(reader, "/finishes/scales/grain/?system=P&number=400")
    assert "The same grain in the other systems:" in page
    assert "CAMI 320" in page
    words(reader, "/finishes/scales/grain/?system=P&number=401", 422)
    assert "484" in words(reader, "/finishes/scales/hardness/?value=48&scale=HRC")
    assert 'value="70,5"' in words(reader, "/finishes/scales/hardness/?value=70,5&scale=HRC", 422)


def test_own_bands_are_chosen_on_their_page_and_shown_from_then_on(reader: Client) -> None:
    form = {"choice": "own", "name": "House A", "why": "as our texture house", "low-A-3": "0,04", "high-A-3": "0,09"}
    assert reader.post("/finishes/ra-bands/", {**form, "why": ""}).status_code == 422
    half = reader.post("/finishes/ra-bands/", {**form, "high-A-3": ""})
    assert half.status_code == 422
    assert 'value="0,04"' in half.content.decode()
    assert reader.post("/finishes/ra-bands/", form).status_code == 303
    assert "House A is in force" in words(reader, "/finishes/")
    assert "as our texture house" in words(reader, "/finishes/ra-bands/")


def test_value_is_shown_on_every_scale(reader: Client) -> None:
    page = words(reader, "/finishes/?value=0,8&scale=Ra+um")
    for shown in ("0.80\u00a0µm", "31.5\u00a0µin", "18.1", "N6"):
        assert shown in page


def test_ra_that_two_grades_share_names_both(reader: Client) -> None:
    assert "Ra cannot tell it from B-1" in words(reader, "/finishes/?value=A-3&scale=grade")


def test_rz_gives_a_band_of_ra_and_says_why(reader: Client) -> None:
    page = words(reader, "/finishes/?value=7&scale=Rz+um")
    assert "1.00\u00a0µm – 1.40\u00a0µm" in page
    assert "Rz does not convert" in page


@pytest.mark.parametrize(
    "asked", ["value=46&scale=VDI", "value=Q-9&scale=grade", "value=abc&scale=Ra+um", "value=0&scale=Ra+um"]
)
def test_value_that_a_scale_does_not_have_is_refused_and_kept(reader: Client, asked: str) -> None:
    page = words(reader, f"/finishes/?{asked}", 422)
    typed = asked.split("&")[0].removeprefix("value=")
    assert f'name="value" type="text" value="{typed}"' in page
    assert 'role="alert"' in page
