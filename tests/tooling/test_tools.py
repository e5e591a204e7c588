"""Entering a tool, moving it, its status."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.utils import timezone

from shop.people.models import Person
from shop.tooling.models import Tool
from shop.tooling.services import tools
from tests.factories import build_tool, customer
from tests.tooling.refusing import refused, trail


def draft(by: Person, at: datetime, **given: Any) -> dict[str, Any]:
    basics = {"plant": by.plant, "number": "T-9", "title": "Lens", "customer": customer(), "by": by, "at": at}
    return {**basics, "positions": [(1, "left"), (2, "right")], **given}


def test_tool_is_entered_with_its_positions_and_sets(lead: Person, at: datetime) -> None:
    tool = tools.add_tool(**draft(lead, at, number=" T-9 ", mould_class="101", owner="Customer"))
    assert [(place.number, place.in_set) for place in tool.positions.all()] == [(1, "left"), (2, "right")]
    assert (tool.number, tool.mould_class, tool.place, tool.status) == ("T-9", "101", "rack", "production")
    assert trail(tool) == [("number", "", "T-9", "entered")]


@pytest.mark.parametrize(
    ("positions", "code"),
    [([], "tool.positions_wanted"), ([(0, "")], "tool.positions_wanted"), ([(2, ""), (2, "")], "tool.position_twice")],
)
def test_tool_without_sensible_positions_is_refused(
    lead: Person, at: datetime, positions: list[tuple[int, str]], code: str
) -> None:
    refused(code, tools.add_tool, **draft(lead, at, positions=positions))
    assert not Tool.objects.exists()


def test_tool_number_is_taken_once_in_a_plant(lead: Person, at: datetime) -> None:
    tools.add_tool(**draft(lead, at))
    assert refused("tool.number_taken", tools.add_tool, **draft(lead, at)).field == "number"


def test_moved_tool_leaves_a_trail_and_staying_leaves_none(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool
    tools.move_tool(tool=tool, place="sent out", why="to the texture house", by=lead, at=at)
    tools.move_tool(tool=tool, place="sent out", by=lead, at=at)
    assert (tool.place, trail(tool)[1:]) == ("sent out", [("place", "rack", "sent out", "to the texture house")])
    ahead = timezone.now() + timedelta(hours=1)
    refused("tool.moved_in_future", tools.move_tool, tool=tool, place="rack", by=lead, at=ahead)


def test_disposal_says_why_and_does_not_happen_in_a_press(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool
    done = {"tool": tool, "status": "disposed", "by": lead, "at": at}
    refused("tool.status_without_reason", tools.set_status, **done)
    tools.move_tool(tool=tool, place="in press", by=lead, at=at)
    refused("tool.disposed_in_press", tools.set_status, **done, why="worn out")
    tools.move_tool(tool=tool, place="rack", by=lead, at=at)
    tools.set_status(**done, why="worn out")
    assert trail(tool)[-1] == ("status", "production", "disposed", "worn out")
    refused("tool.disposed", tools.move_tool, tool=tool, place="in press", by=lead, at=at)
    refused("tool.status_without_reason", tools.set_status, **{**done, "status": "production"})
    assert not Tool.objects.alive().in_plant(lead.plant).exists()


def test_repair_needs_no_reason_and_the_same_status_changes_nothing(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool
    tools.set_status(tool=tool, status="repair", by=lead, at=at)
    tools.set_status(tool=tool, status="repair", by=lead, at=at)
    assert [line[:3] for line in trail(tool)[1:]] == [("status", "production", "repair")]


def test_tool_list_takes_one_query_however_long(lead: Person, at: datetime, django_assert_num_queries: Any) -> None:
    for _ in range(3):
        build_tool(lead, at)
    with django_assert_num_queries(1):
        shown = [(tool.customer.name, tool.plant.name) for tool in Tool.objects.seen_by(lead).alive().for_list()]
    assert len(shown) == 3
