"""News of what is planned and of what people have told the watch: questions answered, runs planned, rules set."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from shop.loop.pieces import faces_of, look
from shop.people.models import Person
from shop.watch.models import Question
from shop.watch.services import questions


@transaction.atomic
def question_answered(*, question: Question, by: Person, at: datetime, **answered: Any) -> Question:
    """Keep what somebody says of the readings, and look at the tool's faces by it."""
    told = questions.answer(question=question, by=by, at=at, **answered)
    look(faces_of(told.tool), at=at)
    return told
