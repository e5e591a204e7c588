"""News of what is planned and of what people have told the watch: questions answered, runs planned, rules set."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import transaction

from shop.loop.pieces import faces_of, look
from shop.people.models import Person
from shop.press.models import PlannedRun
from shop.press.services import planned
from shop.tooling.models import Tool
from shop.watch.models import Question
from shop.watch.services import questions


@transaction.atomic
def question_answered(*, question: Question, by: Person, at: datetime, **answered: Any) -> Question:
    """Keep what somebody says of the readings, and look at the tool's faces by it."""
    told = questions.answer(question=question, by=by, at=at, **answered)
    look(faces_of(told.tool), at=at)
    return told


@transaction.atomic
def run_planned(*, tool: Tool, by: Person, at: datetime, **asked: Any) -> PlannedRun:
    """Plan a run, and date the tool's faces by it."""
    run = planned.plan_run(tool=tool, by=by, at=at, **asked)
    look(faces_of(tool), at=at, refit=False)
    return run


@transaction.atomic
def planned_run_cancelled(*, run: PlannedRun, by: Person, at: datetime, why: str) -> PlannedRun:
    """Cancel a planned run, and date the tool's faces without it."""
    gone = planned.cancel_run(run=run, by=by, at=at, why=why)
    look(faces_of(gone.tool), at=at, refit=False)
    return gone
