"""What a study's page says: the next step for each way a gauge or people can fail, and figures as printed."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from typing import Any

import pytest

from shop.boards.agreements import agreement_card
from shop.boards.studies import gauge_study_card, study_list
from shop.people import wording
from shop.people.models import Person
from shop.quality.models import Gauge
from shop.quality.services.studies import enter_agreement_study
from tests.quality.studying import study_of, stylus

pytestmark = pytest.mark.django_db
PEOPLE, PARTS = ("Ana", "Ben"), tuple("abcdefghij")


@pytest.fixture
def gauge(inspector: Person, at: datetime) -> Gauge:
    return stylus(inspector, at)


def table(spread: float, repeat: float, person: float, cross: float = 0.0) -> list[list[list[Decimal]]]:
    """Parts so far apart, repeats either side by so much, the second person higher, and higher still on odd parts."""
    return [
        [
            [
                Decimal(str(round(part * spread + who * (person + cross * (-1) ** part) + sign * repeat, 6)))
                for sign in (-1, 1)
            ]
            for who in range(2)
        ]
        for part in range(10)
    ]


@pytest.mark.parametrize(
    ("values", "tolerance", "code"),
    [
        (table(1, 0.01, 0), "1", "study.next_none"),
        (table(0.005, 0.01, 0), "10", "study.next_spread"),
        (table(1, 0.0, 0), "10", "study.next_resolution"),
        (table(1, 0.01, 2), "10", "study.next_people"),
        (table(1, 0.01, 0, cross=2), "10", "study.next_part_to_part"),
        (table(1, 0.5, 0), "10", "study.next_mean_of"),
        (table(1, 0.5, 0), None, "study.next_repeats"),
        (table(1, 5, 0), "1", "study.next_repeats"),
    ],
)
def test_next_step_follows_from_where_the_scatter_lies(
    gauge: Gauge, inspector: Person, at: datetime, values: Any, tolerance: str | None, code: str
) -> None:
    given = Decimal(tolerance) if tolerance else None
    study = study_of(gauge, inspector, at, people=PEOPLE, parts=PARTS, values=values, tolerance=given)
    card = gauge_study_card(study)
    assert card.next.code == code
    assert "{" not in wording.say(card.next)


def test_mean_of_so_many_readings_would_indeed_come_under_the_limit(
    gauge: Gauge, inspector: Person, at: datetime
) -> None:
    study = study_of(gauge, inspector, at, people=PEOPLE, parts=PARTS, values=table(1, 0.5, 0), tolerance=Decimal(10))
    card = gauge_study_card(study)
    found = next(table.side.found for table in card.tables if table.side.chosen)
    assert found is not None
    needed = card.next.values["n"]

    def percent(readings: int) -> float:
        return float(600 * (found.ev**2 / readings + found.av**2) ** 0.5 / 10)

    assert percent(needed) <= float(card.next.values["limit"]) < percent(needed - 1)


def test_interaction_is_said_to_be_kept_or_pooled(gauge: Gauge, inspector: Person, at: datetime) -> None:
    kept = study_of(gauge, inspector, at, people=PEOPLE, parts=PARTS, values=table(1, 0.01, 0, cross=2))
    assert (gauge_study_card(kept).interaction or kept).code == "study.interaction_kept"  # type: ignore[union-attr]
    pooled = gauge_study_card(study_of(gauge, inspector, at)).interaction
    assert pooled is not None
    assert wording.say(pooled).startswith("People do not differ from part to part (p 0.974, at or above 0.25)")


def test_words_of_the_tolerance_come_first(gauge: Gauge, inspector: Person, at: datetime) -> None:
    card = gauge_study_card(study_of(gauge, inspector, at, tolerance=Decimal(30)))
    assert [word for word, _rule in card.fitness] == ["fit", "conditional"]
    assert [word for word, _rule in gauge_study_card(study_of(gauge, inspector, at)).fitness] == ["conditional"]


def test_figures_are_the_readers(gauge: Gauge, inspector: Person, at: datetime, person_of: Any) -> None:
    study = study_of(gauge, inspector, at)
    reader = person_of("viewer", language="de", decimal_sign="comma")
    with wording.reading_as(reader):
        card = gauge_study_card(study)
    name, figure = card.tables[0].lines[0]
    assert (name, figure.deviation, figure.of_study) == ("Repeats, EV", "0,20188", "17,61")
    assert card.table[0][1][0] == ("0,29", "0,41", "0,64")
    assert card.table[1][1][0][0] == "−0,56"
    assert card.averages.comma


def test_list_leaves_out_what_was_put_right(gauge: Gauge, inspector: Person, at: datetime) -> None:
    old = study_of(gauge, inspector, at)
    new = study_of(gauge, inspector, at, supersedes=old, why="misread")
    assert study_list(inspector.plant).of_gauges == (new,)
    assert study_list(inspector.plant, gauge).of_judges == ()


ACCEPT, REJECT = "accept", "reject"


@pytest.mark.parametrize(
    ("ana", "ben", "master", "code"),
    [
        ("aarr", "aarr", "aarr", "agreement.next_none"),
        ("aarr", "aarr", None, "agreement.next_none"),
        ("aaar", "aarr", "aarr", "agreement.next_missed"),
        ("arrr", "aarr", "aarr", "agreement.next_master"),
        ("aaar", "aarr", None, "agreement.next_settle"),
        ("arar", "raar", None, "agreement.next_settle"),
        ("aaaa", "aaaa", None, "agreement.next_mixed"),
    ],
)
def test_next_step_for_people_who_judge_by_eye(
    inspector: Person, at: datetime, ana: str, ben: str, master: str | None, code: str
) -> None:
    word = {"a": ACCEPT, "r": REJECT}
    study = enter_agreement_study(
        plant=inspector.plant, title="haze", categories=[ACCEPT, REJECT], rejects=[REJECT], people=PEOPLE,
        pieces=["1", "2", "3", "4"], judgements=[[[word[a]], [word[b]]] for a, b in zip(ana, ben, strict=True)],
        master=[word[one] for one in master] if master else None, by=inspector, at=at,
    )  # fmt: skip
    card = agreement_card(study)
    assert card.next.code == code
    assert "{" not in wording.say(card.next)
    assert len(card.matrix.names) == (3 if master else 2)
    assert [piece for piece, _words in card.split] == [
        str(n) for n, (a, b) in enumerate(zip(ana, ben, strict=True), start=1) if a != b
    ]
