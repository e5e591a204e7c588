"""What an unfit gauge touched: readings, verdicts, signatures and certificates, face by face."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

import pytest

from shop.bench.services import passing
from shop.bench.states import State
from shop.boards import unfit as board
from shop.boards.measured import measured
from shop.paper.models import Document
from shop.paper.services import store_file
from shop.people.models import Person
from shop.quality.models import Gauge, UnfitFinding
from shop.quality.services import unfit
from tests.bench.orders import Hands, check, faces_of, order_at
from tests.benching import LIMITS
from tests.factories import build_tool, satin, specify
from tests.measuring import Shop, open_shop

HOUR = timedelta(hours=1)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    made = open_shop(lead, press_tech, inspector, at, cavities=3)
    for face in made.built.faces.values():
        satin(face, lead, at)
    return made


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


def found(shop: Shop, day: float, gauge: Gauge | None = None) -> UnfitFinding:
    at = shop.day(day)
    return unfit.find_unfit(gauge=gauge or shop.gloss, why="dropped", by=shop.inspector, at=at)


def every(shop: Shop, value: str) -> list[Any]:
    return [shop.draft(value, face=face) for face in shop.built.faces.values()]


def test_walk_groups_by_face_what_is_open_first(shop: Shop) -> None:
    shop.take(1, *every(shop, "3.0"))
    shop.take(2, shop.draft("4.6"))
    finding = found(shop, 3)
    first = board.walk(finding)
    assert [(str(face.face), face.undecided) for face in first.faces] == [
        ("1 show 1", 2), ("2 show 2", 1), ("3 show 3", 1),
    ]  # fmt: skip
    assert (first.count, first.undecided, first.outcome_counts) == (4, 4, {"conforms": 3, "off spec": 1})
    given = {"decision": "stands", "reason": "far inside", "by": shop.inspector, "at": shop.day(4)}
    unfit.decide_many(finding=finding, readings=[row.reading for row in first.faces[0].rows], **given)
    second = board.walk(finding)
    assert [str(face.face) for face in second.faces] == ["2 show 2", "3 show 3", "1 show 1"]
    assert (second.decided, second.decision_counts) == (2, {"stands": 2})


def test_withdrawn_reading_stays_on_the_record_without_its_verdict(shop: Shop) -> None:
    shop.take(1, shop.draft("3.0"))
    finding = found(shop, 2)
    (row,) = board.walk(finding).rows
    given = {"decision": "withdraw", "reason": "off", "by": shop.inspector, "at": shop.day(3)}
    unfit.decide(finding=finding, reading=row.reading, **given)
    (kept,) = board.walk(finding).rows
    assert kept.withdrawn
    assert kept.verdict is not None
    assert kept.verdict.void


def test_signatures_that_rest_on_the_readings_are_named_up_to_the_release(hands: Hands, at: datetime) -> None:
    built = build_tool(hands.lead, at - timedelta(days=30), cavities=2)
    for face in built.faces.values():
        specify(face, hands.lead, at - timedelta(days=30), LIMITS, acceptance="simple")
    order = order_at(State.PARTS_CHECK, [built.face], hands, at)
    check(order.tool, "parts check", dict.fromkeys(faces_of(order), "3.0"), hands.inspector, at + HOUR)
    passing.pass_parts(order=order, passed=True, by=hands.inspector, at=at + HOUR)
    passing.release(order=order, by=hands.inspector, at=at + 2 * HOUR)
    steel, gloss = (
        unfit.find_unfit(gauge=Gauge.objects.get(kind=kind), why="dropped", by=hands.inspector, at=at + 3 * HOUR)
        for kind in ("stylus", "glossmeter")
    )
    assert [one.passing.stage for one in board.walk(gloss).signatures] == ["parts", "release"]
    touched = board.walk(steel).signatures
    assert [one.passing.stage for one in touched] == ["steel", "parts", "release"]
    assert {one.faces for one in touched} == {(str(built.face),)}


def test_certificates_of_the_faces_issued_since_are_named(shop: Shop) -> None:
    shop.take(2, shop.draft("3.0"))

    def issued(number: str, subject: str, day: float, **given: Any) -> Document:
        file = store_file(
            content=number.encode(), name="c.pdf", media_type="application/pdf", by=shop.inspector, at=shop.day(day)
        )
        return Document.objects.create(
            kind="certificate", number=number, subject=subject, language="en", paper_size="A4", snapshot={}, file=file,
            by=shop.inspector, at=shop.day(day), **given,
        )  # fmt: skip

    other = list(shop.built.faces.values())[1]
    before = issued("C-1", f"face:{shop.face.pk}", 1)
    issued("C-2", f"face:{shop.face.pk}", 3, issue=2, replaces=before)
    issued("C-3", f"face:{other.pk}", 3)
    issued("C-4", f"tool:{shop.tool.pk}", 3)
    assert [document.number for document in board.walk(found(shop, 4)).documents] == ["C-2", "C-4"]


def test_list_says_how_much_is_still_to_decide_and_puts_it_first(shop: Shop) -> None:
    shop.take(1, *every(shop, "3.0"))
    shop.take(1, shop.draft("0.4", parameter="Ra"))
    gloss, steel = found(shop, 2), found(shop, 3, shop.stylus)
    rows = board.findings(shop.lead.plant)
    assert [(row.finding, row.readings, row.undecided, row.faces) for row in rows] == [
        (steel, 1, 1, 1), (gloss, 3, 3, 3),
    ]  # fmt: skip
    given = {"by": shop.inspector, "at": shop.day(4), "reason": "seen"}
    unfit.decide_many(
        finding=steel, readings=[row.reading for row in board.walk(steel).rows], decision="measure again", **given
    )
    first, last = board.findings(shop.lead.plant)
    assert (first.finding, last.finding) == (gloss, steel)
    assert (last.undecided, last.again) == (0, 1)


def test_list_and_walk_take_a_fixed_number_of_queries(shop: Shop, django_assert_num_queries: Any) -> None:
    shop.take(1, shop.draft("3.0"))
    finding = found(shop, 2)
    with django_assert_num_queries(5):
        board.findings(shop.lead.plant)
    with django_assert_num_queries(6):
        walked = board.walk(finding)
        assert not walked.documents
    for day in (1.2, 1.4, 1.6):
        shop.take(day, *every(shop, "3.0"))
    found(shop, 3)
    with django_assert_num_queries(5):
        assert len(board.findings(shop.lead.plant)) == 2
    with django_assert_num_queries(6):
        assert board.walk(finding).count == 10


def test_inspection_marks_the_verdict_in_doubt_until_it_is_decided(shop: Shop) -> None:
    taken = shop.take(1, *every(shop, "3.0")[:2])
    finding = found(shop, 2)
    assert all(row.doubts for row in measured(taken, shop.day(3)).found)
    (first, *_others) = [row.reading for row in board.walk(finding).rows]
    given = {"decision": "stands", "reason": "far inside", "by": shop.inspector, "at": shop.day(3)}
    unfit.decide(finding=finding, reading=first, **given)
    rows = measured(taken, shop.day(4)).found
    assert [bool(row.doubts) for row in rows if row.verdict.face_id == first.face_id] == [False]
    assert [bool(row.doubts) for row in rows if row.verdict.face_id != first.face_id] == [True]
