"""The plant's planning is brought again and again: what is over stays known, what is gone is cancelled."""

from __future__ import annotations

from datetime import datetime, timedelta

from shop.bring.answer import Brought
from shop.bring.service import bring
from shop.people.models import Person
from shop.press.models import PlannedRun
from tests.factories import build_tool

HEAD = "tool,press,order,shots,starts,ends,resin,colour,sets\n"


def plan(tool: str, at: datetime, *orders: int) -> str:
    """Return a plan of runs of two days, the first from the second day on, four days apart."""
    rows = []
    for order in orders:
        starts = at + timedelta(days=2 + 4 * order)
        ends = starts + timedelta(days=2)
        rows.append(f"{tool},,O-{order},1000,{starts:%Y-%m-%d %H:%M},{ends:%Y-%m-%d %H:%M},,,\n")
    return HEAD + "".join(rows)


def take(text: str, by: Person, at: datetime, *, good_rows: bool = False) -> Brought:
    return bring("plan", text.encode(), plant=by.plant, by=by, at=at, good_rows=good_rows)


def standing() -> list[str]:
    return list(PlannedRun.objects.standing().order_by("starts_at").values_list("order_number", flat=True))


def test_plan_sent_again_after_its_first_run_ended_is_known(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool.number
    assert take(plan(tool, at, 0, 1), lead, at).taken == 2
    later = take(plan(tool, at, 0, 1, 2), lead, at + timedelta(days=5))
    assert (later.taken, later.known, later.bad) == (1, 2, [])
    assert standing() == ["O-0", "O-1", "O-2"]


def test_run_that_a_new_plan_leaves_out_is_cancelled(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool.number
    take(plan(tool, at, 0, 1), lead, at)
    assert take(plan(tool, at, 0), lead, at).bad == []
    assert standing() == ["O-0"]


def test_mistyped_tool_cancels_no_run(lead: Person, at: datetime) -> None:
    tool = build_tool(lead, at).tool.number
    take(plan(tool, at, 0, 1), lead, at)
    mistyped = plan(tool, at, 0, 1).replace(f"{tool},,O-1", "T-none,,O-1")
    for good_rows in (False, True):
        brought = take(mistyped, lead, at, good_rows=good_rows)
        assert [(fault.line, fault.column) for fault in brought.bad] == [(3, "tool")]
        assert standing() == ["O-0", "O-1"]
