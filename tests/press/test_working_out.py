"""Adding entry by entry, in any order, means the same as working the whole ledger out."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shop.people.models import Person
from shop.press import working_out
from shop.press.models import ShotEntry
from shop.press.services import shots
from shop.refusal import Refused
from shop.tooling.services import inserts
from tests.conftest import AT
from tests.factories import Built
from tests.press.conftest import worked

pytestmark = pytest.mark.django_db

hours = st.integers(1, 400)
some = st.lists(st.integers(1, 8), max_size=3)
acts = st.lists(
    st.one_of(
        st.tuples(st.just("count"), hours, st.integers(0, 300), some),
        st.tuples(st.just("counter"), hours, st.integers(0, 2000), some),
        st.tuples(st.just("fit"), hours, st.integers(1, 10), st.integers(1, 8)),
        st.tuples(st.just("void"), hours, st.integers(0, 20), some),
        st.tuples(st.just("correct"), hours, st.integers(0, 300), some),
    ),
    min_size=3,
    max_size=14,
)
ANSWERS = {
    "shots.first_counter": "count_from_zero",
    "shots.rate_impossible": "really_made",
    "shots.counted_otherwise": "on_top",
}


def act(built: Built, by: Person, what: str, hour: int, number: int, more: Any) -> None:
    at = AT + timedelta(hours=hour)
    log = {"tool": built.tool, "by": by, "at": at, "answers": ANSWERS}
    if what == "count":
        shots.log(**log, source="by hand", count=number, blocked=more)
    elif what == "counter":
        shots.log(**log, source="mould counter", counter=number, blocked=more)
    elif what == "fit":
        inserts.fit(insert=built.inserts[str(number)], position=built.positions[more], by=by, at=at)
        working_out.rebuild_if_counted(built.tool, since=at)
    else:
        entries = list(ShotEntry.objects.of_tool(built.tool))
        if not entries:
            return
        entry, now = entries[number % len(entries)], AT + timedelta(hours=500)
        if what == "void":
            shots.void(entry=entry, why="wrong", by=by, at=now)
        else:
            shots.correct(entry=entry, happened_at=at, blocked=more, why="wrong", by=by, at=now)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(acts)
def test_entry_by_entry_is_the_same_as_all_over_again(
    in_press: Built, press_tech: Person, drawn: list[tuple[str, int, int, Any]]
) -> None:
    with transaction.atomic():
        for step in drawn:
            # What the rooms refuse leaves nothing behind, and that is part of what is tested.
            try:
                act(in_press, press_tech, *step)
            except Refused:
                continue
        as_it_came = worked(in_press)
        working_out.rebuild(in_press.tool)
        assert worked(in_press) == as_it_came
        transaction.set_rollback(True)
