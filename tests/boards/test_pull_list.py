"""Pull list: the order of the faces, why, the lightest work, and what is booked."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop import loop
from shop.boards import pull_list
from shop.people import wording
from shop.people.models import Person, Plant
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def worn_shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """A tool of three blasted cavities: the first is off spec, the second is scratched, the third is sound."""
    shop = open_shop(lead, press_tech, inspector, at, cavities=3, spares=1)
    for face in shop.built.faces.values():
        factories.satin(face, lead, at)
    loop.shots_logged(tool=shop.tool, source="by hand", count=1000, by=press_tech, at=shop.day(1))
    loop.reading_taken(
        tool=shop.tool, kind="routine", drafts=(shop.draft("4.6", geometry_deg=60),), by=inspector, at=shop.day(1.1)
    )
    loop.damage_called(
        tool=shop.tool, face=shop.built.faces["show 2"], kind="scratch", by=press_tech, at=shop.day(1.2)
    )
    loop.swept(lead.plant, shop.day(1.3))
    return shop


def listed(plant: Plant, **how: Any) -> list[pull_list.PullRow]:
    return pull_list.pull_list(pull_list.in_order(plant, **how), plant)


def test_off_spec_face_comes_first_then_the_damaged_one(worn_shop: Shop) -> None:
    rows = listed(worn_shop.lead.plant)
    assert [row.face.name for row in rows] == ["show 1", "show 2", "show 3"]  # the spare is not in the tool


def test_row_says_why_with_numbers_and_what_would_do(worn_shop: Shop) -> None:
    first, second, third = listed(worn_shop.lead.plant)
    assert first.why is not None
    assert "4.6\u00a0GU" in wording.say(first.why)
    assert first.work == "gloss blast"
    assert second.why is not None
    assert "scratch" in wording.say(second.why)
    assert third.why is None
    assert third.work == ""


def test_row_names_the_order_that_is_raised_already(worn_shop: Shop) -> None:
    first, second, third = listed(worn_shop.lead.plant)
    assert first.booked is not None
    assert first.booked == second.booked  # one visit of the tool
    assert third.booked is None
    assert third.visit == first.booked  # it could ride along


def test_faces_that_ask_for_nothing_are_left_out_unless_wanted(worn_shop: Shop) -> None:
    plant = worn_shop.lead.plant
    names = [row.face.name for row in pull_list.pull_list(pull_list.needing(pull_list.in_order(plant)), plant)]
    assert names == ["show 1", "show 2"]


def test_by_tool_keeps_the_faces_of_a_tool_together(worn_shop: Shop) -> None:
    other = factories.build_tool(worn_shop.lead, worn_shop.start, cavities=2)
    for face in other.faces.values():
        factories.satin(face, worn_shop.lead, worn_shop.start)
    loop.damage_called(
        tool=other.tool, face=other.faces["show 2"], kind="rust", by=worn_shop.press_tech, at=worn_shop.day(2)
    )
    loop.swept(worn_shop.lead.plant, worn_shop.day(2))
    tools = [row.face.insert.tool_id for row in listed(worn_shop.lead.plant, by_tool=True)]
    assert tools == [worn_shop.tool.pk] * 3 + [other.tool.pk] * 2


def test_ten_times_the_faces_cost_no_query_more(worn_shop: Shop) -> None:
    plant = worn_shop.lead.plant
    with CaptureQueriesContext(connection) as small:
        listed(plant)
    built = factories.build_tool(worn_shop.lead, worn_shop.start, cavities=24)
    for face in built.faces.values():
        factories.satin(face, worn_shop.lead, worn_shop.start)
    loop.swept(plant, worn_shop.day(2) + timedelta(hours=1))
    with CaptureQueriesContext(connection) as large:
        assert len(listed(plant)) == 27
    assert len(large) == len(small) == 5


def test_bar_of_a_row_has_the_figures_of_its_limits(worn_shop: Shop) -> None:
    bar = listed(worn_shop.lead.plant)[0].bar
    assert bar is not None
    assert (bar.lower_words, bar.upper_words) == ("2.0\u00a0GU", "4.0\u00a0GU")
    assert bar.text.endswith("out of its band")
