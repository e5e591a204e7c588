"""What quality measures: today's list and the sheet of a tool."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop.boards.measure_sheet import measure_sheet
from shop.boards.measure_today import measure_today
from shop.people.models import Person
from shop.quality.models import Inspection
from shop.quality.services import plans
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, at, cavities=2)
    factories.satin(made.built.faces["show 1"], lead, at)
    factories.polished(made.built.faces["show 2"], lead, at)
    return made


def planned(shop: Shop, face: Any, **fields: Any) -> None:
    plans.plan(
        **{
            "face": face, "parameter": "gloss", "where": "part", "every_shots": 1000, "values_wanted": 3,
            "direction": "across the flow", "by": shop.inspector, "at": shop.start, **fields,
        }
    )  # fmt: skip


def test_planned_reading_is_due_after_its_shots_and_not_before(shop: Shop) -> None:
    planned(shop, shop.face)
    shop.shoot(1, 900)
    shop.read(1.1, "3.0", geometry_deg=60)
    assert measure_today(shop.lead.plant, shop.day(1.2)).count == 0
    shop.shoot(2, 1200)
    today = measure_today(shop.lead.plant, shop.day(2.1))
    assert [(row.tool, len(row.items), row.overdue) for row in today.tools] == [(shop.tool, 1, 0)]


def test_sheet_says_angle_plan_and_limit_of_each_spot(shop: Shop) -> None:
    planned(shop, shop.face)
    sheet = measure_sheet(shop.tool, Inspection.Kind.ROUTINE, shop.day(1), {shop.face.pk})
    assert [place.spot.name for place in sheet.places if place.spot] == ["gate", "end of fill"]
    place = sheet.places[0]
    assert (place.sides.lower, place.sides.upper, place.limit.geometry_deg) == (Decimal(2), Decimal(4), 60)
    assert (place.values_wanted, place.plan.direction if place.plan else "") == (3, "across the flow")


def test_sheet_names_the_cut_off_and_evaluation_length_of_the_edition(shop: Shop) -> None:
    polished = shop.built.faces["show 2"]
    sheet = measure_sheet(shop.tool, Inspection.Kind.STEEL_CHECK, shop.day(1), {polished.pk})
    assert {(place.cutoff_mm, place.evaluation_mm) for place in sheet.places} == {(Decimal("0.25"), Decimal("1.25"))}


def test_parts_check_looks_at_parts_and_steel_check_at_steel(shop: Shop) -> None:
    parts = measure_sheet(shop.tool, Inspection.Kind.PARTS_CHECK, shop.day(1))
    steel = measure_sheet(shop.tool, Inspection.Kind.STEEL_CHECK, shop.day(1))
    assert {place.limit.parameter for place in parts.places} == {"gloss"}
    assert {place.limit.parameter for place in steel.places} == {"Ra"}


def test_sheet_of_many_faces_costs_no_query_more(shop: Shop) -> None:
    big = factories.build_tool(shop.lead, shop.start, cavities=8)
    for face in big.faces.values():
        factories.satin(face, shop.lead, shop.start)
    counts = []
    for tool in (shop.tool, big.tool):
        with CaptureQueriesContext(connection) as seen:
            measure_sheet(tool, Inspection.Kind.ROUTINE, shop.day(1))
        counts.append(len(seen))
    assert counts[0] == counts[1]
