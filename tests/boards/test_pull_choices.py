"""When to pull: what is gathered of a tool, weighed, and said with its origin."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop import loop
from shop.bench.services import planning
from shop.bench.services.costs import set_costs, set_part_cost, set_price
from shop.bench.services.visits import plan_visit
from shop.boards.pull_choices import PullSheet, pull_sheet
from shop.boards.pull_choices.lives import LEAST_ENDED, learned_lives
from shop.people import wording
from shop.people.models import Person
from shop.press.models import PlannedRun
from shop.tooling.models import SteelEntry
from shop.tooling.services.faces import begin_life, end_life
from shop.watch.models import Standing
from tests.bench.orders import house
from tests.boards.wearing_tools import DAYS, SHOTS_A_DAY, again, wearing_tool
from tests.factories import build_tool, by_plaque
from tests.loop.rounds import pull
from tests.measuring import Shop

pytestmark = pytest.mark.django_db
Wearing = Callable[..., Shop]
FAST, SLOW = 0.045, 0.004
QUERIES = 23


@pytest.fixture
def wearing(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Wearing:
    def made(*rates: float, **tool: Any) -> Shop:
        return wearing_tool(lead, press_tech, inspector, at, rates, **tool)

    return made


def sheet_of(shop: Shop, at: datetime) -> PullSheet:
    return pull_sheet(again(shop), at)


def said(sheet: PullSheet) -> str:
    rows = [term for row in sheet.rows for group in row.groups for term in group.terms]
    words = " | ".join(f"{term.what}: {term.how} = {term.amount} ({term.origin})" for term in rows)
    return words.replace("\u00a0", " ").replace("\u202f", " ")


def test_face_that_wears_gets_three_to_five_choices_of_which_one_is_cheapest(wearing: Wearing, at: datetime) -> None:
    sheet = sheet_of(wearing(FAST, SLOW), at)
    assert sheet.none is None
    assert 3 <= len(sheet.rows) <= 5
    assert sum(row.cheapest for row in sheet.rows) == 1
    best = sheet.cheapest
    assert best is not None
    assert best.choice.rate == min(row.choice.rate for row in sheet.rows)
    assert sheet.rows[0].first_on == at.date()
    assert [row.first_on for row in sheet.rows] == sorted(row.first_on for row in sheet.rows)
    assert len({row.key for row in sheet.rows}) == len(sheet.rows)


def test_waiting_grows_dearer_by_the_day(wearing: Wearing, at: datetime) -> None:
    sheet = sheet_of(wearing(FAST), at)
    waits = [row.choice.waiting for row in sheet.rows]
    chances = [row.choice.chance for row in sheet.rows]
    assert waits == sorted(waits)
    assert chances == sorted(chances)
    assert waits[-1] > waits[0]


def test_waiting_four_weeks_costs_what_the_pull_list_says(wearing: Wearing, at: datetime) -> None:
    sheet = sheet_of(wearing(0.03, SLOW), at)
    ahead = sum(one.bad_shots_ahead or 0.0 for one in Standing.objects.all())
    row = next(row for row in sheet.rows if row.choice.window.day == 28)
    assert row.choice.bad_parts == pytest.approx(ahead, rel=0.05)
    assert row.choice.waiting == pytest.approx(1.5 * ahead, rel=0.05)


def test_tool_that_makes_no_shots_has_nothing_to_wait_for(wearing: Wearing, at: datetime) -> None:
    later = at + timedelta(days=200)
    sheet = sheet_of(wearing(SLOW), later)
    assert sheet.none is not None
    assert sheet.none.code == "pull.nothing_to_weigh"


def test_worn_face_goes_and_what_keeps_another_back_is_said(wearing: Wearing, at: datetime) -> None:
    shop = wearing(FAST, SLOW)
    best = sheet_of(shop, at).cheapest
    assert best is not None
    assert shop.built.faces["show 1"] in [one.face for one in best.faces]
    slow = [one for one in best.along if one.face == shop.built.faces["show 2"]]
    assert len(slow) == 1
    assert slow[0].goes == (shop.built.faces["show 2"] in [one.face for one in best.faces])


def test_gap_of_the_press_costs_no_downtime(wearing: Wearing, at: datetime, lead: Person) -> None:
    shop = wearing(FAST)
    for number, (first, last) in enumerate(((0, 6), (13, 40)), start=1):
        PlannedRun.objects.create(
            tool=shop.tool, order_number=f"P-{number}", shots=SHOTS_A_DAY * (last - first),
            starts_at=at + timedelta(days=first), ends_at=at + timedelta(days=last),
        )  # fmt: skip
    sheet = sheet_of(shop, at)
    gap = next(row for row in sheet.rows if row.why == "the press has a gap")
    assert gap.choice.paid.downtime == 0.0
    assert gap.first_on == (at + timedelta(days=6)).date()
    assert gap.last_on is not None
    assert "the press leaves it free" in said(sheet)
    now = sheet.rows[0]
    assert now.choice.paid.downtime == 3.0 * 90.0
    assert sheet.wide is not None
    assert sheet.wide.gaps


def test_every_figure_says_whether_it_is_the_plants_own_or_a_seed(
    wearing: Wearing, at: datetime, lead: Person
) -> None:
    shop = wearing(FAST)
    before = said(sheet_of(shop, at))
    assert "Strip-down, once: 2.0 h × 65 EUR = 130 EUR (seed, no source)" in before
    assert "mean of all tools, seed, no source" in before
    set_costs(plant=lead.plant, currency="CHF", figures={"bench_hour": Decimal(100)}, by=lead, at=at)
    set_part_cost(tool=shop.tool, amount=Decimal("0.25"), by=lead, at=at)
    after = said(sheet_of(shop, at))
    assert "Strip-down, once: 2.0 h × 100 CHF = 200 CHF (the plant's own)" in after
    assert "parts × 0.25 CHF" in after
    assert "set for this tool" in after


def test_dearer_parts_pull_the_tool_sooner(wearing: Wearing, at: datetime, lead: Person) -> None:
    shop = wearing(0.02)

    def best_day(cost: str) -> Any:
        set_part_cost(tool=shop.tool, amount=Decimal(cost), by=lead, at=at)
        sheet = sheet_of(shop, at)
        assert sheet.wide is not None
        return min(range(len(sheet.wide.whole)), key=lambda day: sheet.wide.whole[day])  # type: ignore[union-attr]

    assert best_day("20") < best_day("0.01")


def test_sum_of_the_visit_is_the_sum_of_its_terms(wearing: Wearing, at: datetime) -> None:
    for row in sheet_of(wearing(FAST, FAST), at).rows:
        paid = row.choice.paid
        assert paid.bench == pytest.approx(65.0 * sum(one.part.doing.minutes for one in row.faces) / 60.0)
        assert paid.steel == pytest.approx(4.0 * float(sum(one.part.steel_um for one in row.faces)))
        assert paid.whole == pytest.approx(paid.strip + paid.bench + paid.outside + paid.downtime + paid.steel)


def test_work_without_the_steel_for_it_is_ruled_out(wearing: Wearing, at: datetime, lead: Person) -> None:
    shop = wearing(FAST)
    assert any(one.label == "full refinish" for row in sheet_of(shop, at).rows for one in row.faces)
    SteelEntry.objects.create(face=shop.face, depth_um=Decimal(398), work="by hand", by=lead, at=at)
    sheet = sheet_of(shop, at)
    assert sheet.rows
    assert all(one.label == "gloss blast" for row in sheet.rows for one in row.faces)
    assert "Ruled out, the steel is not there: full refinish, local touch-up." in sheet.warnings
    SteelEntry.objects.create(face=shop.face, depth_um=Decimal(2), work="by hand", by=lead, at=at)
    sheet = sheet_of(shop, at)
    assert not sheet.rows
    assert sheet.none is not None
    assert sheet.none.code == "pull.no_steel"
    assert sheet.spent == (shop.face,)


def test_customers_steel_warns(wearing: Wearing, at: datetime) -> None:
    sheet = sheet_of(wearing(FAST, owner="Musterkunde"), at)
    assert "The steel belongs to Musterkunde: the customer is asked first." in sheet.warnings


def test_damaged_face_is_weighed_whatever_its_forecast(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = wearing_tool(lead, press_tech, inspector, at, (FAST, SLOW))
    hurt = shop.built.faces["show 2"]
    loop.damage_called(tool=shop.tool, face=hurt, kind="scratch", by=lead, at=at)
    sheet = sheet_of(shop, at)
    assert sheet.rows
    for row in sheet.rows:
        assert hurt in [one.face for one in row.faces]
    assert sheet.booked is not None


def test_texture_is_priced_by_its_house_and_says_where_no_price_is_known(
    wearing: Wearing, at: datetime, lead: Person
) -> None:
    shop = wearing(SLOW, FAST)
    face = shop.built.faces["show 1"]
    by_plaque(face, lead, at - timedelta(hours=1))
    loop.damage_called(tool=shop.tool, face=face, kind="dent", by=lead, at=at)
    sheet = sheet_of(shop, at)
    assert any("No house's price is known" in one for row in sheet.rows for one in row.warnings)
    assert any(row.outside == "price not known" for row in sheet.rows)
    texture = house(lead)
    for work in ("local touch-up", "full refinish"):
        set_price(house=texture, work=work, a_visit=Decimal(300), a_face=Decimal(450), by=lead, at=at)
    sheet = sheet_of(shop, at)
    assert not any("No house's price is known" in one for row in sheet.rows for one in row.warnings)
    outside = [row for row in sheet.rows if row.outside]
    assert outside
    assert all(row.choice.paid.outside == 750.0 and row.days_away == 21 for row in outside)
    assert "the houses' prices" in said(sheet)


def test_tool_that_nothing_is_known_of_says_so(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool
    sheet = pull_sheet(again(type("Has", (), {"tool": tool})()), at)
    assert sheet.none is not None
    assert "measure them" in wording.say(sheet.none)
    assert len(sheet.facts.unseen) == 1


def test_tool_in_work_is_decided_at_its_order(
    lead: Person, press_tech: Person, inspector: Person, polisher: Person, at: datetime
) -> None:
    shop = wearing_tool(lead, press_tech, inspector, at, (FAST,))
    pull(shop, DAYS)
    order = plan_visit(tool=shop.tool, works={shop.face.pk: "gloss blast"}, due_on=at.date(), by=lead, at=at)
    planning.give_to(order=order, polisher=polisher, due_on=at.date(), by=lead, at=at)
    loop.started(order=order, by=polisher, at=at)
    sheet = sheet_of(shop, at)
    assert sheet.none is not None
    assert sheet.none.code == "pull.in_work"
    assert sheet.facts.in_work == order


def test_life_is_learned_from_lives_that_reached_their_limit(wearing: Wearing, at: datetime, lead: Person) -> None:
    shop = wearing(FAST, FAST, FAST)
    assert learned_lives(again(shop), {"blasted"}, at) == {}
    assert "By the forecast of this life, which a full refinish began" in said(sheet_of(shop, at))
    for face in shop.built.faces.values():
        shop.take(DAYS + 0.02, shop.draft("4.9", face=face, spot=shop.spot("gate", face)))
        end_life(face=face, ended_by="WO-0001 full refinish", by=lead, at=at)
        begin_life(face=face, began_by="WO-0001 full refinish", by=lead, at=at)
    later = at + timedelta(days=1)
    learned = learned_lives(again(shop), {"blasted"}, later)["blasted", "full refinish"]
    assert learned.reached == LEAST_ENDED
    assert learned.median == pytest.approx(DAYS * SHOTS_A_DAY, rel=0.01)


@pytest.mark.parametrize("rates", [(FAST,), (FAST, SLOW, 0.02, 0.03, 0.01, 0.015)])
def test_board_takes_the_same_queries_however_many_faces(
    wearing: Wearing, at: datetime, rates: tuple[float, ...], django_assert_num_queries: Any
) -> None:
    shop = wearing(*rates)
    tool = again(shop)
    with django_assert_num_queries(QUERIES):
        assert pull_sheet(tool, at).rows
