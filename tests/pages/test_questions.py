"""Questions: seen by all, answered by quality in one tap."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.people.models import Person
from shop.watch.models import Question
from tests.factories import satin
from tests.measuring import Shop, open_shop
from tests.watch.test_questions import run


@pytest.fixture
def stepped(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """Six faces that stepped together on one day, when the mould was warmer."""
    shop = open_shop(lead, press_tech, inspector, at, cavities=6)
    for face in shop.built.faces.values():
        satin(face, lead, at)
    run(shop, lambda _face, day: 0.3 if day == 8 else 0.0, warm=lambda day: 62 if day == 8 else 50)
    return shop


def test_quality_sees_what_moved_and_answers_in_one_tap(client: Client, stepped: Shop) -> None:
    client.force_login(stepped.inspector)
    page = client.get(reverse("questions")).content.decode()
    assert "Try the process first:" in page
    assert "mould surface 50" in page
    question = Question.objects.get()
    sent = client.post(reverse("questions"), {"question": question.pk, "answer": "process"})
    assert sent.status_code == 303
    question.refresh_from_db()
    assert question.answer == "process"
    page = client.get(reverse("questions")).content.decode()
    assert "Answered lately" in page
    assert "process: temperature, cycle, pressure" in page


def test_press_tech_sees_the_question_and_has_nothing_to_tap(client: Client, stepped: Shop) -> None:
    client.force_login(stepped.press_tech)
    page = client.get(reverse("questions")).content.decode()
    assert "read 0." in page
    assert 'name="answer"' not in page
    sent = client.post(reverse("questions"), {"question": Question.objects.get().pk, "answer": "process"})
    assert sent.status_code == 403


def test_answer_that_does_not_fit_is_refused_in_words(client: Client, stepped: Shop) -> None:
    client.force_login(stepped.inspector)
    sent = client.post(reverse("questions"), {"question": Question.objects.get().pk, "answer": "nonsense"})
    assert sent.status_code == 422
    assert "does not answer this" in sent.content.decode()


def test_measure_says_how_many_questions_wait(client: Client, stepped: Shop) -> None:
    client.force_login(stepped.inspector)
    assert "One question about readings waits" in client.get(reverse("measure")).content.decode()


def test_plant_without_questions_says_what_belongs_here(client: Client, person_of: Callable[..., Any]) -> None:
    client.force_login(person_of("quality"))
    assert "Nothing is asked." in client.get(reverse("questions")).content.decode()
