"""What was typed: read into values, and kept as it was where it cannot be read."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from uuid import uuid4
from zoneinfo import ZoneInfo

import pytest
from django.http import QueryDict
from django.utils import timezone

from shop.pages.typed import Typed
from shop.tooling.models import Tool


def typed(query: str) -> Typed:
    return Typed(QueryDict(query))


def test_numbers_take_a_decimal_comma_and_another_unit() -> None:
    form = typed("ra=0,8&other=32 uin")
    assert form.decimal("ra") == Decimal("0.8")
    assert form.quantity("other", "um") == Decimal("0.8128")
    assert form.ok


@pytest.mark.parametrize("words", ["abc", "1.234,5.6", "NaN"])
def test_what_is_no_number_is_a_fault_and_stays_as_typed(words: str) -> None:
    form = typed(f"ra={words}")
    assert form.decimal("ra") is None
    assert not form.ok
    assert form.was["ra"] == words
    assert form.fault["ra"]


@pytest.mark.parametrize("words", ["3.5", "-1"])
def test_count_is_a_whole_number(words: str) -> None:
    form = typed(f"count={words}")
    assert form.integer("count") is None
    assert "whole number" in form.fault["count"]


def test_time_is_read_on_the_plants_clock() -> None:
    with timezone.override(ZoneInfo("Europe/Berlin")):
        assert typed("at=2026-07-01T10:00").moment("at") == datetime(2026, 7, 1, 8, 0, tzinfo=UTC)


@pytest.mark.parametrize("words", ["2026-02-30", "soon"])
def test_day_that_does_not_exist_is_a_fault(words: str) -> None:
    form = typed(f"due={words}")
    assert form.day("due") is None
    assert form.fault["due"]
    assert typed("due=2026-02-28").day("due") == date(2026, 2, 28)


def test_all_faults_are_found_and_the_first_of_a_field_stays() -> None:
    form = typed("ra=abc&kind=odd")
    form.decimal("ra")
    form.choice("kind", {"even"})
    form.text("why", required=True)
    form.find_fault("ra", "another")
    assert set(form.fault) == {"ra", "kind", "why"}
    assert "another" not in form.fault["ra"]


def test_answers_to_questions_and_the_numbers_they_ask_for_are_gathered() -> None:
    form = typed("answer=shots.counter_fell=swapped&answer=spec.x=yes&answer.offset=120&answer.bad=x")
    assert form.answered == {"shots.counter_fell": "swapped", "spec.x": "yes", "offset": 120}


def test_form_keeps_its_reference_and_a_new_one_is_made_for_a_blank() -> None:
    ref = uuid4()
    assert typed(f"ref={ref}").reference() == ref
    assert typed("ref=no").reference() is None
    assert Typed.blank().ref != Typed.blank().ref


@pytest.mark.django_db
@pytest.mark.parametrize("words", ["99999", "²", "x"])
def test_row_that_is_not_there_is_a_fault(words: str) -> None:
    form = typed(f"tool={words}")
    assert form.pick("tool", Tool.objects.all()) is None
    assert form.fault["tool"]
