"""Finishes: the scales with their sources, one value on all of them, and what steel, resin and draft allow."""

from __future__ import annotations

import pytest
from django.test import Client

from shop.people.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def reader(client: Client, engineer: Person) -> Client:
    client.force_login(engineer)
    return client


def words(reader: Client, address: str, status: int = 200) -> str:
    page = reader.get(address)
    assert page.status_code == status
    return page.content.decode()


def test_scales_stand_with_their_sources_and_the_variant_in_force(reader: Client, engineer: Person) -> None:
    page = words(reader, "/finishes/")
    assert "variant 2 is in force" in page
    assert "VDI 3400, 1975" in page
    assert "sources conflict" in page
    engineer.plant.grade_ra_variant = 1
    engineer.plant.save(update_fields=["grade_ra_variant"])
    assert "variant 1 is in force" in words(reader, "/finishes/")


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


def test_steel_resin_and_draft_answer_whether_a_face_can_have_a_finish(reader: Client) -> None:
    page = words(reader, "/finishes/?steel=1.2311&resin=PMMA&grade=A-1&depth=50&draft=1")
    assert "beyond the best practical finish of 1.2311" in page
    assert "PMMA takes A-1 very well" in page
    assert "are too little for a pattern" in page
    assert "1.2083 takes A-1" in words(reader, "/finishes/?steel=1.2083&hardness=50&grade=A-1")
    assert "1.2312 is not for texture" in words(reader, "/finishes/?steel=1.2312&depth=20&draft=9")
