"""How fast tools and inserts run, and the totals of lists, in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import pytest

from shop.people.models import Person
from shop.press.models import InsertShots, ShotEntry, WorkedShots
from shop.press.rates import shots_per_day
from tests.factories import Built, build_tool
from tests.press.conftest import HOUR


def test_rate_is_over_the_last_28_days_and_in_one_query(
    in_press: Built, log: Callable[..., ShotEntry], lead: Person, at: datetime, django_assert_num_queries: Any
) -> None:
    log(1, count=1000)
    log(24 * 30, count=280)
    log(24 * 40, count=560, blocked=[2])
    idle = build_tool(lead, at)
    now = at + timedelta(days=41)
    with django_assert_num_queries(1):
        assert shots_per_day(tool_ids=[in_press.tool.pk, idle.tool.pk], at=now) == {
            in_press.tool.pk: 30.0,
            idle.tool.pk: 0.0,
        }
    ids = {number: in_press.inserts[number].pk for number in ("1", "2")}
    with django_assert_num_queries(1):
        assert shots_per_day(insert_ids=ids.values(), at=now) == {ids["1"]: 30.0, ids["2"]: 10.0}
    assert shots_per_day(tool_ids=[in_press.tool.pk], at=at + timedelta(days=35), days=7) == {in_press.tool.pk: 40.0}
    with pytest.raises(TypeError):
        shots_per_day(at=now)


def test_totals_at_a_time_are_those_of_the_last_entry_before(
    in_press: Built, log: Callable[..., ShotEntry], at: datetime
) -> None:
    log(1, count=100)
    log(3, count=50)
    insert = in_press.inserts["1"]
    assert [InsertShots.objects.total_at(insert, at + hours * HOUR) for hours in (0, 1, 2, 3)] == [0, 100, 100, 150]
    assert [WorkedShots.objects.total_at(in_press.tool, at + hours * HOUR) for hours in (0, 2, 3)] == [0, 100, 150]


def test_press_log_takes_one_query(
    in_press: Built, log: Callable[..., ShotEntry], django_assert_num_queries: Any
) -> None:
    for hour in range(1, 6):
        log(hour, count=10)
    with django_assert_num_queries(1):
        rows = ShotEntry.objects.of_tool(in_press.tool).for_log()
        shown = [(row.worked.total, row.by.name, row.press.name, row.run.order_number) for row in rows]
    assert (len(shown), shown[0]) == (5, (50, "Ines Roth", "P1", "A-1"))


def test_totals_of_many_take_one_query_each(
    in_press: Built, log: Callable[..., ShotEntry], django_assert_num_queries: Any
) -> None:
    log(1, count=10, blocked=[1])
    log(2, count=10)
    numbers = {insert.pk: number for number, insert in in_press.inserts.items()}
    with django_assert_num_queries(2):
        of_inserts = InsertShots.objects.totals(numbers)
        of_positions = InsertShots.objects.position_totals(place.pk for place in in_press.positions.values())
    assert {numbers[key]: made for key, made in of_inserts.items()} == {"1": 10} | dict.fromkeys("2345678", 20)
    assert sorted(of_positions.values()) == [10] + [20] * 7
