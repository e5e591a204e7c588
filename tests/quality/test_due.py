"""What must be measured today."""

from __future__ import annotations

from datetime import datetime

from django.db import connection
from django.test.utils import CaptureQueriesContext

from shop.people.models import Person
from shop.people.wording import say
from shop.quality import due
from shop.quality.models import PlanItem
from shop.quality.services import plans
from shop.tooling.services import faces, inserts, tools
from tests.factories import polished, satin
from tests.measuring import Shop, open_shop


def plan(shop: Shop, **given: object) -> PlanItem:
    defaults = {"face": shop.face, "parameter": "gloss", "where": "part", "by": shop.lead, "at": shop.start}
    return plans.plan(**{**defaults, **given})  # type: ignore[arg-type]


def reasons(shop: Shop, days: float) -> list[tuple[str, bool]]:
    return [(item.reason.code, item.overdue) for item in due.today(shop.lead.plant, shop.day(days))]


def test_never_measured_is_due_with_the_first_shots_and_late_after_half_as_many_again(satin_shop: Shop) -> None:
    plan(satin_shop, every_shots=1000)
    assert reasons(satin_shop, 1) == []
    satin_shop.shoot(1, 100)
    assert reasons(satin_shop, 2) == [("due.new_life", False)]
    satin_shop.shoot(3, 1400)
    assert reasons(satin_shop, 4) == [("due.new_life", True)]


def test_due_by_shots_counts_from_the_last_reading(satin_shop: Shop) -> None:
    shop = satin_shop
    plan(shop, every_shots=1000, spot=shop.gate)
    shop.shoot(1, 500)
    shop.read(1.1, "3.0")
    shop.shoot(2, 999)
    assert reasons(shop, 2) == []
    shop.shoot(3, 1)
    assert reasons(shop, 3) == [("due.by_shots", False)]
    item = due.for_face(shop.face, shop.day(3))[0]
    thousand = "1\u202f000\u00a0shots"
    assert say(item.reason) == f"gloss at gate: {thousand} since the last reading; it is planned every {thousand}."
    assert (item.lower, item.upper, item.spot, item.tool) == (2, 4, shop.gate, shop.tool)
    shop.shoot(4, 500)
    assert reasons(shop, 4) == [("due.by_shots", True)]


def test_due_by_days_where_days_run_out_first(satin_shop: Shop) -> None:
    plan(satin_shop, every_shots=1_000_000, every_days=10)
    satin_shop.shoot(1, 100)
    satin_shop.read(1, "3.0")
    satin_shop.shoot(2, 100)
    assert reasons(satin_shop, 10.5) == []
    assert reasons(satin_shop, 11) == [("due.by_days", False)]
    assert reasons(satin_shop, 16) == [("due.by_days", True)]


def test_part_is_not_due_while_none_was_moulded_since(satin_shop: Shop) -> None:
    plan(satin_shop, every_days=10)
    satin_shop.shoot(1, 100)
    satin_shop.read(1.5, "3.0")
    assert reasons(satin_shop, 40) == []


def test_reading_at_another_spot_answers_a_plan_for_the_face_but_not_for_a_spot(satin_shop: Shop) -> None:
    shop = satin_shop
    of_face, of_gate = plan(shop, every_shots=1000), plan(shop, every_shots=1000, spot=shop.gate)
    shop.shoot(1, 100)
    shop.read(1.5, "3.0", spot=shop.spot("end of fill"))
    left = [item.plan_item for item in due.today(shop.lead.plant, shop.day(2))]
    assert left == [of_gate]
    assert of_face not in left


def test_reading_with_a_gauge_out_of_date_or_at_the_wrong_angle_does_not_answer(satin_shop: Shop) -> None:
    shop = satin_shop
    plan(shop, every_shots=1000)
    shop.shoot(1, 100)
    answers = {"reading.angle_not_in_spec": "keep_unjudged"}
    shop.take(1.5, shop.draft("8", geometry_deg=85), answers=answers)
    assert reasons(shop, 2) == [("due.new_life", False)]


def test_new_life_needs_a_reading_soon_and_the_old_ones_do_not_answer(satin_shop: Shop) -> None:
    shop = satin_shop
    plan(shop, every_shots=1000)
    shop.shoot(1, 100)
    shop.read(1.5, "3.0")
    faces.end_life(face=shop.face, ended_by="WO-1", by=shop.lead, at=shop.day(2))
    assert reasons(shop, 3) == []
    faces.begin_life(face=shop.face, began_by="WO-1", by=shop.lead, at=shop.day(4))
    assert reasons(shop, 5) == []
    shop.shoot(6, 10)
    assert reasons(shop, 6) == [("due.new_life", False)]


def test_steel_check_before_the_life_began_answers_for_it(shop: Shop) -> None:
    polished(shop.face, shop.lead, shop.start)
    plan(shop, parameter="Ra", where="steel", every_shots=1000)
    faces.end_life(face=shop.face, ended_by="WO-1", by=shop.lead, at=shop.day(2))
    shop.read(3, "0.05", kind="steel check", parameter="Ra", gauge=shop.optical)
    faces.begin_life(face=shop.face, began_by="WO-1", by=shop.lead, at=shop.day(4))
    assert reasons(shop, 5) == []


def test_faces_left_out_spares_and_disposed_tools_are_not_due(satin_shop: Shop) -> None:
    shop = satin_shop
    plan(shop, every_shots=1000)
    shop.shoot(1, 100)
    assert due.today(shop.lead.plant, shop.day(2), leave_out={shop.face.pk}) == []
    inserts.take_out(insert=shop.built.insert, by=shop.lead, at=shop.day(2))
    assert reasons(shop, 3) == []


def test_today_takes_a_fixed_number_of_queries_however_many_faces(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=6)
    every = list(shop.built.faces.values())
    counted = []
    for some in (every[:1], every[1:]):
        for face in some:
            satin(face, lead, at)
            plan(shop, face=face, every_shots=100)
        if len(some) == 1:
            shop.shoot(1, 500)
        with CaptureQueriesContext(connection) as queries:
            found = due.today(lead.plant, shop.day(2))
        counted.append(len(queries))
    assert len(found) == 6
    assert counted[0] == counted[1] <= 8


def test_tool_disposed_of_is_not_due(satin_shop: Shop) -> None:
    shop = satin_shop
    plan(shop, every_shots=1000)
    shop.shoot(1, 100)
    tools.move_tool(tool=shop.tool, place="rack", by=shop.lead, at=shop.day(2))
    tools.set_status(tool=shop.tool, status="disposed", why="worn out", by=shop.lead, at=shop.day(2))
    assert reasons(shop, 3) == []
