"""Concessions with their clock: by date, by the insert's shots, by quantity, and when they are up."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shop.boards.concessions import ConcessionRow, concession_list, counts
from shop.people.models import Person
from shop.tooling.models import Concession
from shop.tooling.services import specs
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    start: datetime = timezone.now().replace(hour=8, minute=0) - timedelta(days=40)
    made: Shop = open_shop(lead, press_tech, inspector, start, cavities=1)
    factories.satin(made.face, lead, start)
    return made


def grant(shop: Shop, number: str, days: float = 1, **ends: Any) -> Concession:
    return specs.grant_concession(
        face=shop.face, number=number, parameter="gloss", upper=Decimal("5.0"), reason="dark colour", by=shop.lead,
        at=shop.day(days), **ends,
    )  # fmt: skip


def rows(shop: Shop, days: float) -> dict[str, ConcessionRow]:
    return {row.concession.number: row for row in concession_list(shop.tool.plant, shop.day(days))}


def test_concession_by_date_runs_ends_soon_and_is_over(shop: Shop) -> None:
    grant(shop, "CC-1", until_on=shop.day(50).date())
    assert (rows(shop, 2)["CC-1"].state, rows(shop, 2)["CC-1"].days_left) == ("running", 48)
    assert rows(shop, 21)["CC-1"].state == "ends soon"
    assert rows(shop, 50)["CC-1"].days_left == 0
    assert rows(shop, 51)["CC-1"].state == "ended"


def test_concession_by_the_insert_s_shots_says_what_is_left_and_when(shop: Shop) -> None:
    shop.shoot(1, 1000)
    grant(shop, "CC-2", days=1.5, until_insert_shots=10_000)
    shop.shoot(10, 2800)
    row = rows(shop, 20)["CC-2"]
    assert (row.shots_left, row.days_left, row.quantity_left) == (6200, None, None)
    assert row.state == "running"
    assert row.likely_ends_on is not None
    assert (row.likely_ends_on - shop.day(20).date()).days == pytest.approx(6200 / (3800 / 28), abs=1)


def test_concession_by_quantity_counts_from_when_it_was_granted(shop: Shop) -> None:
    shop.shoot(1, 1000)
    grant(shop, "CC-3", days=1.5, until_quantity=3000)
    shop.shoot(10, 2800)
    row = rows(shop, 12)["CC-3"]
    assert (row.quantity_left, row.state) == (200, "ends soon")
    shop.shoot(13, 300)
    assert (rows(shop, 14)["CC-3"].state, rows(shop, 14)["CC-3"].quantity_left) == ("ended", 0)


def test_first_of_several_ends_decides(shop: Shop) -> None:
    grant(shop, "CC-4", until_on=shop.day(300).date(), until_quantity=100)
    shop.shoot(2, 150)
    assert rows(shop, 3)["CC-4"].state == "ended"


def test_withdrawn_concession_says_why_and_counts_once(shop: Shop) -> None:
    held = grant(shop, "CC-5", until_quantity=3000)
    specs.withdraw_concession(concession=held, why="customer took it back", by=shop.lead, at=shop.day(3))
    row = rows(shop, 4)["CC-5"]
    assert (row.state, row.why_withdrawn) == ("withdrawn", "customer took it back")
    assert sum(counts([row]).values()) == 1


def test_page_filters_by_its_address(client: Client, shop: Shop) -> None:
    grant(shop, "CC-LONG", until_quantity=1_000_000)
    grant(shop, "CC-SOON", until_on=timezone.now().date() + timedelta(days=9))
    grant(shop, "CC-OVER", until_on=shop.day(5).date())
    client.force_login(shop.lead)
    address = reverse("concessions")
    pages = {show: client.get(f"{address}?show={show}").content.decode() for show in ("", "soon", "over", "nonsense")}
    seen = {show: {name for name in ("CC-LONG", "CC-SOON", "CC-OVER") if name in page} for show, page in pages.items()}
    assert seen == {"": {"CC-LONG", "CC-SOON"}, "soon": {"CC-SOON"}, "over": {"CC-OVER"},
                    "nonsense": {"CC-LONG", "CC-SOON"}}  # fmt: skip


def test_empty_page_says_what_belongs_there(client: Client, viewer: Person) -> None:
    client.force_login(viewer)
    assert "No concession is granted yet" in client.get(reverse("concessions")).content.decode()


def test_list_takes_the_same_queries_for_one_and_for_many(shop: Shop) -> None:
    def counted() -> int:
        with CaptureQueriesContext(connection) as asked:
            concession_list(shop.tool.plant, shop.day(30))
        return len(asked)

    grant(shop, "CC-0", until_quantity=3000)
    one = counted()
    for number in range(1, 8):
        grant(shop, f"CC-{number}", until_quantity=3000 + number)
    assert counted() == one <= 3


def test_records_page_names_every_kind_of_record(client: Client, shop: Shop) -> None:
    grant(shop, "CC-SOON", until_on=timezone.now().date() + timedelta(days=9))
    client.force_login(shop.lead)
    page = client.get(reverse("records")).content.decode()
    for name in ("certificates", "suspect-parts", "concessions", "standards-check", "plaques", "unfit", "studies"):
        assert f'href="{reverse(name)}"' in page
    assert "1 end within 30 days" in page
