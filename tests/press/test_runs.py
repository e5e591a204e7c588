"""A tool goes into a press and comes out of it."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import uuid4

import pytest

from shop.ledger.models import Change
from shop.people.models import Person, Plant
from shop.press.models import Press, Run
from shop.press.services import presses, runs
from shop.refusal import Refused
from shop.tooling.models import Tool
from shop.tooling.services import tools
from tests.factories import Built, build_tool, resin
from tests.press.conftest import HOUR


def start(built: Built, press: Press, by: Person, at: datetime, **given: Any) -> Run:
    return runs.start_run(tool=built.tool, press=press, by=by, at=at, **given)


def trail(row: Any) -> list[tuple[str, str, str]]:
    changes = Change.objects.filter(room=row._meta.label_lower, row_id=row.pk).order_by("id")
    return list(changes.values_list("field", "old", "new"))


def test_run_puts_the_tool_in_press_and_its_end_takes_it_out(
    built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    run = start(built, press, press_tech, at, order_number="A-7", order_shots=5000)
    assert (built.tool.place, Tool.objects.get(pk=built.tool.pk).place) == ("in press", "in press")
    runs.end_run(run=run, by=press_tech, at=at + HOUR, place="bench")
    assert (run.ended_at, Tool.objects.get(pk=built.tool.pk).place) == (at + HOUR, "bench")
    assert trail(built.tool)[1:] == [("place", "rack", "in press"), ("place", "in press", "bench")]
    assert [field for field, _, _ in trail(run)] == ["began_at", "ended_at"]


def test_second_tap_begins_and_ends_one_run(
    built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    begun, over = uuid4(), uuid4()
    run = start(built, press, press_tech, at, order_number="A-7", ref=begun)
    assert start(built, press, press_tech, at + HOUR / 60, order_number="A-7", ref=begun) == run
    with pytest.raises(Refused) as other:
        start(built, press, press_tech, at + HOUR / 60, order_number="A-8", ref=begun)
    assert other.value.code == "ref.other_content"
    runs.end_run(run=run, by=press_tech, at=at + HOUR, place="bench", ref=over)
    again = runs.end_run(run=run, by=press_tech, at=at + 2 * HOUR, place="bench", ref=over)
    assert (again, again.ended_at, Run.objects.count()) == (run, at + HOUR, 1)


def test_run_takes_the_resin_that_the_tool_usually_runs(
    lead: Person, press: Press, press_tech: Person, at: datetime
) -> None:
    usual = resin("PA6 GF30")
    assert start(build_tool(lead, at, resin=usual), press, press_tech, at).resin == usual


def test_tool_runs_in_one_press_and_a_press_holds_one_tool(
    built: Built, press: Press, lead: Person, press_tech: Person, at: datetime
) -> None:
    start(built, press, press_tech, at)
    second = presses.add_press(plant=press.plant, name="P2", by=press_tech, at=at)
    with pytest.raises(Refused) as twice:
        start(built, second, press_tech, at + HOUR)
    assert (twice.value.code, twice.value.values["press"]) == ("run.tool_already_runs", "P1")
    with pytest.raises(Refused) as taken:
        start(build_tool(lead, at), press, press_tech, at + HOUR)
    assert (taken.value.code, taken.value.values["tool"]) == ("run.press_taken", built.tool.number)


def test_run_does_not_begin_before_the_last_one_ended(
    built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    run = start(built, press, press_tech, at)
    with pytest.raises(Refused, match="cannot end"):
        runs.end_run(run=run, by=press_tech, at=at)
    runs.end_run(run=run, by=press_tech, at=at + 3 * HOUR)
    with pytest.raises(Refused) as refused:
        start(built, press, press_tech, at + HOUR)
    assert refused.value.code == "run.before_last_ended"
    with pytest.raises(Refused) as ended:
        runs.end_run(run=run, by=press_tech, at=at + 4 * HOUR)
    assert ended.value.code == "run.ended_before"


def test_disposed_tool_and_a_press_elsewhere_are_refused(
    built: Built, press: Press, lead: Person, press_tech: Person, at: datetime
) -> None:
    abroad = Press.objects.create(plant=Plant.objects.create(name="Elsewhere"), name="P1")
    with pytest.raises(Refused, match="another plant"):
        start(built, abroad, press_tech, at)
    tools.set_status(tool=built.tool, status="disposed", why="worn out", by=lead, at=at)
    with pytest.raises(Refused) as refused:
        start(built, press, press_tech, at)
    assert refused.value.code == "tool.disposed"
    with pytest.raises(Refused) as taken:
        presses.add_press(plant=press.plant, name=" P1 ", by=press_tech, at=at)
    assert taken.value.code == "press.name_taken"


def test_pulled_tool_ends_its_run_and_one_on_the_rack_just_moves(
    built: Built, press: Press, press_tech: Person, at: datetime
) -> None:
    run = start(built, press, press_tech, at)
    assert runs.pull(tool=built.tool, place="bench", by=press_tech, at=at + HOUR).place == "bench"
    run.refresh_from_db()
    assert run.ended_at == at + HOUR
    assert runs.pull(tool=built.tool, place="rack", by=press_tech, at=at + 2 * HOUR).place == "rack"


def test_run_list_takes_one_query(
    built: Built, press: Press, press_tech: Person, at: datetime, django_assert_num_queries: Any
) -> None:
    start(built, press, press_tech, at)
    with django_assert_num_queries(1):
        (run,) = Run.objects.in_plant(press.plant).running().for_list()
        assert (run.tool.number, run.press.name, run.resin) == (built.tool.number, "P1", None)
