"""Fit to run: the answer, its reasons and the chance that each face lasts."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop import loop
from shop.boards.fit_to_run import Answer, fit_to_run
from shop.people import wording
from shop.people.models import Person
from shop.quality.services import gauges
from shop.tooling.models import Tool
from shop.tooling.services import specs
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def satin_shop(lead: Person, press_tech: Person, inspector: Person, at: Any) -> Shop:
    """A tool of two cavities with blasted faces in a press."""
    shop = open_shop(lead, press_tech, inspector, at, cavities=2, spares=1)
    for face in shop.built.faces.values():
        factories.satin(face, lead, at)
    return shop


def wear(shop: Shop, values: list[str], *, shots_a_day: int = 1000) -> None:
    """Log shots day by day and read the first face's gloss after each."""
    for day, value in enumerate(values, start=1):
        at = shop.day(day)
        loop.shots_logged(tool=shop.tool, source="by hand", count=shots_a_day, by=shop.press_tech, at=at)
        loop.reading_taken(
            tool=shop.tool, kind="routine", drafts=(shop.draft(value, geometry_deg=60),), by=shop.inspector,
            at=at + timedelta(minutes=5),
        )  # fmt: skip


def said(shop: Shop, shots: int | None, days: float) -> str:
    return " | ".join(wording.say(reason.saying) for reason in fit_to_run(shop.tool, shots, shop.day(days)).reasons)


def test_tool_without_a_word_against_it_is_fit_to_run(satin_shop: Shop) -> None:
    fitness = fit_to_run(satin_shop.tool, 5000, satin_shop.day(1))
    assert fitness.answer == Answer.YES
    assert fitness.reasons == ()
    assert len(fitness.faces) == 2  # the spare does not run
    assert fitness.lasts is None


def test_wearing_face_is_fit_for_a_small_order_and_conditional_for_a_large_one(satin_shop: Shop) -> None:
    wear(satin_shop, ["2.8", "2.9", "3.1", "3.2", "3.3", "3.4"])
    small = fit_to_run(satin_shop.tool, 500, satin_shop.day(7))
    large = fit_to_run(satin_shop.tool, 30_000, satin_shop.day(7))
    assert small.lasts is not None
    assert small.lasts > 0.95
    assert large.lasts is not None
    assert large.lasts < 0.1
    assert large.answer == Answer.CONDITIONS
    assert "chance of reaching its limit of 4.0\u00a0GU" in said(satin_shop, 30_000, 7)


def test_off_spec_face_stops_the_tool_and_names_value_and_limit(satin_shop: Shop) -> None:
    wear(satin_shop, ["4.6"])
    fitness = fit_to_run(satin_shop.tool, 100, satin_shop.day(2))
    assert fitness.answer == Answer.NO
    assert fitness.lasts == 0.0
    assert "4.6\u00a0GU" in said(satin_shop, 100, 2)
    assert "4.0\u00a0GU" in said(satin_shop, 100, 2)


def test_concession_lets_an_off_spec_face_run_until_its_shots_are_used(satin_shop: Shop, engineer: Person) -> None:
    wear(satin_shop, ["4.6"])
    loop.concession_granted(
        face=satin_shop.face, number="C-7", parameter="gloss", reason="launch", upper=Decimal("5.5"),
        until_insert_shots=3000, by=engineer, at=satin_shop.day(2),
    )  # fmt: skip
    fitness = fit_to_run(satin_shop.tool, 5000, satin_shop.day(3))
    assert fitness.answer == Answer.CONDITIONS
    words = said(satin_shop, 5000, 3)
    assert "C-7" in words
    assert "2\u202f000\u00a0shots are left" in words
    steps = [wording.say(reason.step) for reason in fitness.reasons if reason.step]
    assert any("5\u202f000\u00a0shots is more" in step for step in steps)


def test_damage_that_spoils_parts_stops_the_tool_and_other_damage_does_not(satin_shop: Shop) -> None:
    loop.damage_called(
        tool=satin_shop.tool, face=satin_shop.face, kind="rust", by=satin_shop.press_tech, at=satin_shop.day(1)
    )
    assert fit_to_run(satin_shop.tool, 100, satin_shop.day(2)).answer == Answer.CONDITIONS
    loop.damage_called(
        tool=satin_shop.tool, face=satin_shop.face, kind="dent", stops_run=True, by=satin_shop.press_tech,
        at=satin_shop.day(2),
    )  # fmt: skip
    assert fit_to_run(satin_shop.tool, 100, satin_shop.day(3)).answer == Answer.NO


@pytest.mark.parametrize("status", [Tool.Status.REPAIR, Tool.Status.DISPOSED])
def test_tool_that_is_not_in_production_is_not_fit(satin_shop: Shop, status: str) -> None:
    tool = satin_shop.tool
    tool.status, tool.place = status, Tool.Place.RACK
    assert fit_to_run(tool, 100, satin_shop.day(1)).answer == Answer.NO


def test_empty_position_is_a_condition(satin_shop: Shop) -> None:
    from shop.tooling.services import inserts

    inserts.take_out(insert=satin_shop.built.inserts["2"], by=satin_shop.lead, at=satin_shop.day(1))
    fitness = fit_to_run(satin_shop.tool, 100, satin_shop.day(2))
    assert fitness.answer == Answer.CONDITIONS
    assert "position 2" in said(satin_shop, 100, 2)


def test_sets_that_do_not_run_are_not_asked(lead: Person, press_tech: Person, inspector: Person, at: Any) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=2, sets=("A", "B"))
    for face in shop.built.faces.values():
        factories.satin(face, lead, at)
    assert len(fit_to_run(shop.tool, 100, shop.day(1), sets=("A",)).faces) == 1


def test_face_judged_with_a_gauge_that_failed_since_runs_with_conditions(satin_shop: Shop) -> None:
    wear(satin_shop, ["2.8"])
    assert fit_to_run(satin_shop.tool, None, satin_shop.day(2)).answer == Answer.YES
    gauges.calibrate(
        gauge=satin_shop.gloss, due_on=satin_shop.day(400).date(), expanded_a=Decimal("0.2"), passed=False,
        by=satin_shop.inspector, at=satin_shop.day(2),
    )  # fmt: skip
    (reason,) = fit_to_run(satin_shop.tool, None, satin_shop.day(3)).reasons
    assert (reason.weight, reason.face) == (Answer.CONDITIONS, satin_shop.face)
    assert "gauge G-1, which has failed its calibration since" in wording.say(reason.saying)


def test_reading_of_a_gauge_out_of_date_is_named_and_one_that_came_due_later_is_not(satin_shop: Shop) -> None:
    wear(satin_shop, ["2.8"])
    gauges.calibrate(
        gauge=satin_shop.gloss, due_on=satin_shop.day(3).date(), expanded_a=Decimal("0.2"),
        by=satin_shop.inspector, at=satin_shop.day(2),
    )  # fmt: skip
    assert fit_to_run(satin_shop.tool, None, satin_shop.day(6)).answer == Answer.YES
    satin_shop.read(6, "2.9")
    assert "gauge G-1 while that was out of date" in said(satin_shop, None, 7)


def test_queries_do_not_grow_with_the_cavities(
    lead: Person, press_tech: Person, inspector: Person, at: Any, django_assert_num_queries: Any
) -> None:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for cavities in (1, 6):
        shop = open_shop_again(lead, press_tech, inspector, at, cavities)
        with CaptureQueriesContext(connection, ) as seen:
            fit_to_run(shop, 1000, at + timedelta(days=3))
        counts.append(len(seen))
    assert counts[0] == counts[1]


def open_shop_again(lead: Person, press_tech: Person, inspector: Person, at: Any, cavities: int) -> Tool:
    built = factories.build_tool(lead, at, cavities=cavities)
    for face in built.faces.values():
        factories.satin(face, lead, at)
    loop.swept(lead.plant, at + timedelta(days=1))
    return Tool.objects.select_related("plant").get(pk=built.tool.pk)


def test_withdrawn_concession_binds_no_longer(satin_shop: Shop, engineer: Person) -> None:
    concession = specs.grant_concession(
        face=satin_shop.face, number="C-8", parameter="gloss", reason="launch", upper=Decimal(5),
        until_insert_shots=3000, by=engineer, at=satin_shop.day(1),
    )  # fmt: skip
    assert "C-8" in said(satin_shop, 100, 2)
    specs.withdraw_concession(concession=concession, why="mended", by=engineer, at=satin_shop.day(2))
    assert "C-8" not in said(satin_shop, 100, 3)
