"""Answer what the readings ask."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.watch.models import Question

STEP_ANSWERS = (
    Question.Answer.PROCESS,
    Question.Answer.RESIN_LOT,
    Question.Answer.CLEANING,
    Question.Answer.GAUGE,
    Question.Answer.EVENT,
    Question.Answer.WEAR,
)
OUTLIER_ANSWERS = (Question.Answer.RIGHT, Question.Answer.WRONG)


def answers_to(question: Question) -> tuple[Question.Answer, ...]:
    """Return what may be answered."""
    return STEP_ANSWERS if question.kind == Question.Kind.STEP else OUTLIER_ANSWERS


@transaction.atomic
def answer(
    *, question: Question, said: str, by: Person, at: datetime, note: str = "", ref: UUID | None = None  # noqa: ARG001
) -> Question:
    """Keep the answer to a question; a second answer takes the place of the first and both stay in the trail.

    Raises Refused for an answer that does not fit the question.
    """
    held: Question = Question.objects.select_for_update().get(pk=question.pk)
    if said not in answers_to(held):
        raise Refused(
            "question.answer",
            gettext_noop("“{value}” does not answer this."),
            next_step=gettext_noop("Choose one of the answers that are offered."),
            field="answer",
            value=said,
        )
    if (held.answer, held.note) == (said, note.strip()):
        # A second tap says the same.
        return held
    record_change(held, "answer", held.answer, said, by=by, at=at, why=note.strip())
    held.answer, held.note = said, note.strip()
    held.answered_at, held.answered_by = at, by
    held.save(update_fields=["answer", "note", "answered_at", "answered_by"])
    return held
