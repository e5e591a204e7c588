"""Tool or process: what all faces share is told from one going alone, asked about, and answered."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

import numpy as np
import pytest

from shop import loop
from shop.boards import questions as board
from shop.ledger.models import Change
from shop.people import wording
from shop.people.models import Person
from shop.refusal import Refused
from shop.tooling.models import Face
from shop.watch.models import Call, CommonStep, Question, Trend
from shop.watch.path import points_of
from shop.watch.services import calls, questions, trends
from tests.factories import satin
from tests.measuring import Shop, open_shop

CAVITIES = 6
DAYS = 12


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """Six satin faces in one tool."""
    shop = open_shop(lead, press_tech, inspector, at, cavities=CAVITIES)
    for face in shop.built.faces.values():
        satin(face, lead, at)
    return shop


def run(
    shop: Shop, off: Callable[[int, int], float], days: int = DAYS, warm: Callable[[int], int] | None = None
) -> None:
    """Shoot and measure every face day by day; `off` says how far face and day are off their wear."""
    rng = np.random.default_rng(12)
    faces = list(shop.built.faces.values())
    for day in range(1, days + 1):
        shop.shoot(day, 3000)
        drafts = [
            shop.draft(
                f"{2.5 + 1e-5 * 3000 * day + off(n, day) + rng.normal(0, 0.02):.3f}",
                face=face, spot=shop.spot("gate", face),
            )
            for n, face in enumerate(faces)
        ]  # fmt: skip
        given = {"mould_temperature_c": warm(day)} if warm else {}
        shop.take(day + 0.1, *drafts, **given)
    trends.bring_up_to_date(faces, at=shop.day(days + 1))


def words(asked: board.Asked, reader: Person) -> str:
    return wording.say(asked.words, reader)


def test_step_of_all_faces_is_found_taken_off_and_asked_about(shop: Shop) -> None:
    run(shop, lambda _face, day: 0.3 if day == 8 else 0.0)
    step = CommonStep.objects.get(named=True)
    # A step on one of twelve days lifts the faces' lines a little: what is left of it beside them is less.
    assert step.offset == pytest.approx(0.3 * (1 - 1.5 / DAYS), abs=0.05)
    assert step.faces == CAVITIES
    question = Question.objects.get()
    assert (question.kind, question.inspection) == ("common step", step.inspection)
    asked = board.questions(shop.tool.plant).open[0]
    assert "all 6 faces read 0." in words(asked, shop.lead)
    trend = Trend.objects.first()
    assert trend is not None
    points = points_of(trend)
    assert points["step"][7] == pytest.approx(step.offset)
    # With the step left in, the line would scatter several times as far.
    assert trend.residual_sd is not None
    assert trend.residual_sd < 0.04


def test_face_that_goes_alone_makes_no_step_and_is_called_by_the_chart(shop: Shop) -> None:
    run(shop, lambda face, day: 0.1 * (day - 7) if face == 2 and day > 7 else 0.0)
    assert not CommonStep.objects.filter(named=True).exists()
    assert not Question.objects.filter(kind="common step").exists()
    faces = list(shop.built.faces.values())
    looked = calls.look(faces, by=shop.lead, at=shop.day(DAYS + 1))
    called = [call for call in looked.opened if call.cause == Call.Cause.PATTERN]
    assert [call.face for call in called] == [faces[2]]
    assert not called[0].wants_bench_work


def test_chart_waits_while_a_step_of_all_faces_is_asked_about(shop: Shop) -> None:
    run(shop, lambda _face, day: 0.4 if day == DAYS else 0.0)
    assert Question.objects.filter(kind="common step").exists()
    looked = calls.look(Face.objects.all(), by=shop.lead, at=shop.day(DAYS + 1))
    assert [call for call in looked.opened if call.cause == Call.Cause.PATTERN] == []


def test_two_faces_cannot_say_which_of_them_has_moved(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at, cavities=2)
    for face in shop.built.faces.values():
        satin(face, lead, at)
    run(shop, lambda _face, day: 0.3 if day == 8 else 0.0)
    assert not CommonStep.objects.exists()


def test_answer_that_the_steel_changed_keeps_the_new_level(shop: Shop) -> None:
    run(shop, lambda _face, day: 0.4 if day >= 8 else 0.0)
    first = shop.tool.inspections.order_by("at")[7]
    question, _made = Question.objects.get_or_create(
        inspection=first, parameter="gloss", where="part", geometry_deg=60, kind="common step",
        defaults={"tool": shop.tool, "code": "step.above", "asked_at": shop.day(9)},
    )  # fmt: skip
    loop.question_answered(question=question, said="event", note="rust in the rack", by=shop.inspector, at=shop.day(14))
    points = points_of(Trend.objects.get(face=shop.face))
    told = points["value"] - points["step"]
    # What was read before stands 0.4 higher now, and what came after stands as it was read.
    assert -points["step"][:7] == pytest.approx(np.full(7, 0.4), abs=0.1)
    assert np.abs(points["step"][8:]).max() < 0.1
    slope = np.polyfit(points["wear"], told, 1)[0]
    assert slope == pytest.approx(1e-5, rel=0.3)


def test_answer_that_it_is_wear_leaves_the_reading_as_it_is(shop: Shop) -> None:
    run(shop, lambda _face, day: 0.3 if day == 8 else 0.0)
    question = Question.objects.get()
    loop.question_answered(question=question, said="wear", by=shop.inspector, at=shop.day(14))
    assert points_of(Trend.objects.get(face=shop.face))["step"][7] == 0
    assert not CommonStep.objects.filter(named=True).exists()


def test_conditions_that_moved_are_named_so_that_the_process_is_tried_first(shop: Shop) -> None:
    run(shop, lambda _face, day: 0.3 if day == 8 else 0.0, warm=lambda day: 62 if day == 8 else 50)
    moved = board.questions(shop.tool.plant).open[0].moved
    assert [wording.say(one, shop.lead) for one in moved] == ["mould surface 50\u00a0°C, now 62\u00a0°C"]


def test_reading_far_off_its_trend_is_asked_about_and_counts_until_then(shop: Shop) -> None:
    run(shop, lambda face, day: 1.5 if face == 0 and day == 10 else 0.0)
    question = Question.objects.get(kind="outlier")
    assert question.face == shop.face
    assert question.reading is not None
    assert question.reading.value > 4
    assert len(points_of(Trend.objects.get(face=shop.face))) == DAYS
    assert "above where its trend has it" in words(board.questions(shop.tool.plant).open[0], shop.lead)


def test_question_that_later_readings_settle_is_asked_no_more(shop: Shop) -> None:
    run(shop, lambda face, day: 1.5 if face == 0 and day == 10 else 0.0)
    question = Question.objects.get(kind="outlier")
    Question.objects.filter(pk=question.pk).update(inspection=shop.tool.inspections.order_by("at")[2])
    trends.bring_up_to_date(Face.objects.all(), at=shop.day(DAYS + 2))
    question.refresh_from_db()
    assert question.gone_at is not None


def test_answers_fit_their_question_and_stay_in_the_trail(shop: Shop) -> None:
    run(shop, lambda _face, day: 0.3 if day == 8 else 0.0)
    question = Question.objects.get()
    with pytest.raises(Refused, match="does not answer"):
        questions.answer(question=question, said="right", by=shop.inspector, at=shop.day(14))
    for said in ("process", "process", "gauge"):
        questions.answer(question=question, said=said, by=shop.inspector, at=shop.day(14))
    question.refresh_from_db()
    assert (question.answer, question.answered_by) == ("gauge", shop.inspector)
    assert Change.objects.filter(room="watch.question", field="answer").count() == 2


def test_questions_take_a_fixed_number_of_queries(
    shop: Shop, django_assert_num_queries: Callable[[int], object]
) -> None:
    run(shop, lambda face, day: (0.4 if day == 8 else 0.0) + (1.5 if (face, day) == (0, 11) else 0.0))
    with django_assert_num_queries(4):  # type: ignore[attr-defined]
        assert len(board.questions(shop.tool.plant).open) == 2
