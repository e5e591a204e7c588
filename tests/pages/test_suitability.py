"""Can this face have this finish: the page that is a link, and the spec form that asks before it saves."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from shop.people.models import Person
from shop.quality.services.specifying import saved_all_the_same
from shop.tooling.models import Face, Spec
from tests.factories import Built, build_tool, satin

pytestmark = pytest.mark.django_db


@pytest.fixture
def reader(client: Client, engineer: Person) -> Client:
    client.force_login(engineer)
    return client


@pytest.fixture
def face(lead: Person, at: object) -> Face:
    built: Built = build_tool(lead, at, cavities=1)  # type: ignore[arg-type]
    satin(built.faces["show 1"], lead, at)  # type: ignore[arg-type]
    return built.faces["show 1"]


def words(reader: Client, address: str, status: int = 200) -> str:
    page = reader.get(address)
    assert page.status_code == status
    return page.content.decode()


def test_empty_page_says_what_belongs_there(reader: Client) -> None:
    assert "What you leave out is not judged" in words(reader, "/finishes/can-it/")


def test_link_answers_with_reason_source_change_and_who_decides(reader: Client) -> None:
    page = words(reader, "/finishes/can-it/?steel=1.2311&scale=grade&code=A-1&how_made=polished")
    assert "A-1 is beyond the best practical finish of 1.2311, which is A-3." in page
    assert "Steel and best practical finish" in page
    assert "A remelted or cleaner steel" in page
    assert "The toolroom lead decides" in page
    assert "0 no, 1 with care" in page


def test_tolerance_under_the_gauge_is_a_no_that_counts_the_ratio(reader: Client) -> None:
    limit = "limit-0-parameter=gloss&limit-0-lower=2,8&limit-0-upper=3,2&limit-0-angle=60&expanded=0,24"
    page = words(reader, f"/finishes/can-it/?{limit}")
    assert "The tolerance is 3.33 times the uncertainty" in page
    assert 'state-no"' in page


def test_face_fills_the_form_from_its_records_and_spec(reader: Client, face: Face) -> None:
    page = words(reader, f"/finishes/can-it/?face={face.pk}")
    assert f"Can {face} have this finish?" in page
    assert 'value="52"' in page
    assert 'name="limit-0-upper" type="text" value="4"' in page
    assert "No gauge that gives gloss is in date here" in page


@pytest.mark.parametrize("asked", ["draft=-1", "hardness=hard", "coating=gold", "limit-0-parameter=Ra&limit-0-upper=-2",
                                   "limit-0-parameter=Ra&limit-0-lower=2&limit-0-upper=1", "expanded=nan"])  # fmt: skip
def test_what_cannot_be_is_refused_and_kept(reader: Client, asked: str) -> None:
    page = words(reader, f"/finishes/can-it/?{asked}", 422)
    assert 'role="alert"' in page
    assert f'value="{asked.split("=")[-1]}"' in page or "gold" in page


def test_steel_that_no_table_knows_is_kept_and_not_judged(reader: Client) -> None:
    page = words(reader, "/finishes/can-it/?steel=1.9999&scale=grade&code=A-1")
    assert '<option value="1.9999" selected>' in page
    assert "not judged" in page


def form(**more: str) -> dict[str, str]:
    return {
        "how_made": "etched", "scale": "value", "pattern_depth": "450", "drawing_edition": "ISO 21920-3:2021",
        "acceptance": "simple", "reason": "new grain", "limit-0-parameter": "gloss", "limit-0-where": "part",
        "limit-0-lower": "2", "limit-0-upper": "9", "limit-0-angle": "60",
        "ref": "4a7ce3de-22d9-4bd8-9d6c-25d3b2a7b1f0", **more,
    }  # fmt: skip


def test_spec_that_cannot_be_is_asked_and_saved_with_its_reason(reader: Client, face: Face) -> None:
    address = f"/faces/{face.pk}/spec/"
    asked = reader.post(address, form())
    assert asked.status_code == 422
    page = asked.content.decode()
    assert "cannot have this finish" in page
    assert "spec.cannot_have=save_all_the_same" in page
    assert 'name="why_all_the_same"' in page
    assert Spec.objects.filter(face=face).count() == 1
    yes = {"answer": "spec.cannot_have=save_all_the_same"}
    assert reader.post(address, form(**yes)).status_code == 422
    assert reader.post(address, form(**yes, why_all_the_same="welded up first")).status_code == 303
    spec = Spec.objects.get(face=face, revision=2)
    assert spec.pattern_depth_um == Decimal(450)
    kept = saved_all_the_same(spec)
    assert kept is not None
    assert kept.why == "welded up first"
    assert "welded up first" in words(reader, address)


def test_spec_is_checked_without_being_saved(reader: Client, face: Face) -> None:
    page = reader.post(f"/faces/{face.pk}/spec/", form(check="yes", pattern_depth="100"))
    assert page.status_code == 200
    assert "of draft are under even the leanest rule" in page.content.decode()
    assert Spec.objects.filter(face=face).count() == 1
    unsaid = reader.post(f"/faces/{face.pk}/spec/", form(check="yes", reason=""), headers={"HX-Request": "true"})
    assert unsaid.status_code == 200
    part = unsaid.content.decode()
    assert part.lstrip().startswith('<section id="suits"')


def test_care_is_named_when_the_spec_is_saved(reader: Client, face: Face) -> None:
    saved = reader.post(f"/faces/{face.pk}/spec/", form(pattern_depth="100"))
    assert saved.status_code == 303
    assert "want care" in words(reader, saved["Location"])
