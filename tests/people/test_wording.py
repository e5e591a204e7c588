"""Values and sentences in the reader's language, units and time."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from django.template import Context, Template
from django.utils import translation

from shop.people import wording
from shop.people.models import Person, Plant, Role
from shop.refusal import Refused, Saying, Word
from shop.units import Quantity

ROUGH = Saying("x", "Ra {value} is above {limit}.", {"value": Quantity(Decimal("0.8"), "um"), "limit": "it"})


@pytest.fixture
def inch_reader(person_of: Callable[..., Person]) -> Person:
    return person_of("press", units="inch")


def shown(source: str, **context: object) -> str:
    return Template(source).render(Context(context))


@pytest.mark.django_db
def test_saying_is_worded_in_the_readers_units(lead: Person, inch_reader: Person) -> None:
    assert wording.say(ROUGH, lead) == "Ra 0.80\u00a0µm is above it."
    assert wording.say(ROUGH, inch_reader) == "Ra 31.5\u00a0µin is above it."


@pytest.mark.django_db
def test_plant_with_a_decimal_comma_reads_commas(lead: Person) -> None:
    lead.plant.decimal_comma = True
    with wording.reading_as(lead):
        assert wording.say(ROUGH) == "Ra 0,80\u00a0µm is above it."
        assert shown("{{ v|number }} {{ v|qty:'GU' }}", v=Decimal("3.4")) == "3,4 3,4\u00a0GU"
    assert shown("{{ v|number }}", v=Decimal("3.4")) == "3.4"


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("of_the_plant", "own", "shown_as"), [(True, "point", "3.4"), (False, "comma", "3,4"), (True, "", "3,4")]
)
def test_own_decimal_sign_comes_before_the_plants(lead: Person, of_the_plant: bool, own: str, shown_as: str) -> None:
    lead.plant.decimal_comma, lead.decimal_sign = of_the_plant, own
    with wording.reading_as(lead):
        assert wording.number(Decimal("3.4")) == shown_as
        assert shown("{{ v|qty:'GU' }}", v=Decimal("3.4")) == f"{shown_as}\u00a0GU"


@pytest.mark.django_db
def test_reader_is_remembered_only_while_reading(lead: Person, inch_reader: Person) -> None:
    with wording.reading_as(inch_reader):
        assert shown("{{ v|qty:'um' }}", v=Decimal("0.8")) == "31.5\u00a0µin"
        with wording.reading_as(lead):
            assert wording.reader() == lead
        assert wording.reader() == inch_reader
    assert wording.reader() is None
    assert shown("{{ v|qty:'um' }}", v=0.8) == "0.80\u00a0µm"
    with wording.reading_as(None):
        assert wording.reader() is None


@pytest.mark.django_db
def test_reading_goes_on_in_the_readers_language_and_on_the_plants_clock(
    person_of: Callable[..., Person], plant: Plant
) -> None:
    plant.time_zone = "America/Chicago"
    reader = person_of("quality", language="de", plant=plant)
    at = datetime(2024, 5, 1, 2, 30, tzinfo=UTC)
    with wording.reading_as(reader):
        assert translation.get_language() == "de"
        assert shown("{{ at|moment }} {{ at|day }}", at=at) == "30. April 2024, 21:30 30. April 2024"
    assert translation.get_language() == "en"
    assert shown("{{ at|moment }}", at=at) == "1 May 2024, 02:30"


def test_dates_cannot_be_misread() -> None:
    assert wording.day(date(2026, 11, 25)) == "25 Nov 2026"


@pytest.mark.parametrize(
    ("language", "day", "moment", "count"),
    [
        ("en", "25 Nov 2026", "25 Nov 2026, 14:05", "1\u202f234\u00a0shots"),
        ("de", "25. Nov. 2026", "25. Nov. 2026, 14:05", "1\u202f234\u00a0Schuss"),
        ("es", "25 nov 2026", "25 nov 2026, 14:05", "1\u202f234\u00a0inyecciones"),
    ],
)
def test_dates_and_units_are_written_as_each_language_has_them(
    language: str, day: str, moment: str, count: str
) -> None:
    with translation.override(language):
        assert wording.day(date(2026, 11, 25)) == day
        assert wording.moment(datetime(2026, 11, 25, 14, 5, tzinfo=UTC)) == moment
        assert wording.shots(1234) == count


def test_a_marked_word_among_the_values_is_worded_too() -> None:
    said = Saying(
        "x",
        "{name} {value} is not in the table, which holds {known}.",
        {"name": Word("Draft"), "value": 99, "known": "Draft"},
    )
    with translation.override("de"):
        assert wording.say(said).startswith("Schräge 99 steht nicht in der Tabelle")
        assert wording.say(said).endswith("Draft enthält.")


def test_nothing_is_shown_as_a_dash() -> None:
    source = "{{ v|qty:'um' }}{{ v|number }}{{ v|shots }}{{ v|day }}{{ v|moment }}[{{ v|say }}{{ v|next_step }}]"
    assert shown(source, v=None) == "–––––[]"


def test_shots_are_grouped() -> None:
    assert shown("{{ n|shots }}", n=1234567) == "1\u202f234\u202f567\u00a0shots"


def test_values_of_every_kind_are_worded() -> None:
    said = Saying(
        "x", "{role}, {day}, {many}, {inner}, {number}",
        {
            "role": Role.PRESS, "day": date(2026, 11, 25), "many": [1, 2], "number": Decimal("2.50"),
            "inner": Saying("y", "Ra {value} is above {limit}.", ROUGH.values),
        },
    )  # fmt: skip
    assert shown("{{ said|say }}", said=said) == "press tech, 25 Nov 2026, 1, 2, Ra 0.80\u00a0µm is above it., 2.50"


def test_refusal_is_worded_with_its_next_step_and_choices() -> None:
    refused = Refused(
        "x", "{value} fell.", next_step="Is {value} right?", question=True,
        choices=(("new_job", "A job from {value} began"),), value=Quantity(Decimal(7), "shots"),
    )  # fmt: skip
    assert shown("{{ r|say }} {{ r|next_step }}", r=refused) == "7\u00a0shots fell. Is 7\u00a0shots right?"
    assert wording.choices(refused) == [("new_job", "A job from 7\u00a0shots began")]


def test_what_is_worded_is_escaped_on_the_page() -> None:
    assert shown("{{ s|say }}", s=Saying("x", "{name}", {"name": "<b>"})) == "&lt;b&gt;"


@pytest.mark.parametrize(("role", "allowed"), [("press", "True"), ("viewer", "False")])
def test_templates_ask_the_table_of_roles(role: str, allowed: str) -> None:
    assert shown("{{ p|may_do:'log shots' }}", p=Person(role=role)) == allowed


def test_number_and_its_unit_are_never_parted_at_the_end_of_a_line() -> None:
    said = Saying("x", "{chance} of {shots}, until 10 %.", {
        "chance": Quantity(Decimal(16), "percent"), "shots": Quantity(Decimal(10186), "shots"),
    })  # fmt: skip
    assert wording.say(said) == "16\u00a0% of 10\u202f186\u00a0shots, until 10\u00a0%."
