"""News from tooling: concessions, specs, intervals, and inserts that move."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from shop.loop.pieces import faces_of, look
from shop.people.models import Person
from shop.press import working_out
from shop.quality.services import specifying
from shop.tooling.models import Concession, Face, Fitting, Insert, Spec
from shop.tooling.services import inserts, specs
from shop.watch.services import intervals


@transaction.atomic
def concession_granted(*, face: Face, by: Person, at: datetime, **granted: Any) -> Concession:
    """Grant a concession: what it covers is no longer called, and work that nobody accepted is withdrawn."""
    concession = specs.grant_concession(face=face, by=by, at=at, **granted)
    look([face], at=at)
    return concession


@transaction.atomic
def concession_withdrawn(
    *, concession: Concession, why: str, by: Person, at: datetime, ref: UUID | None = None
) -> Concession:
    """Take a concession back: the face is judged by its spec again."""
    withdrawn = specs.withdraw_concession(concession=concession, why=why, by=by, at=at, ref=ref)
    look([concession.face], at=at)
    return withdrawn


@transaction.atomic
def spec_revised(*, face: Face, by: Person, at: datetime, **revised: Any) -> Spec:
    """Revise what a face must be, asked whether it can have that, and look at it by the new limits."""
    spec = specifying.revise(face=face, by=by, at=at, **revised)
    look([face], at=at)
    return spec


@transaction.atomic
def interval_planned(*, face: Face, by: Person, at: datetime, **planned: Any) -> Face:
    """Plan how many shots a finish is to run, and look whether it has run them."""
    face = intervals.plan_interval(face=face, by=by, at=at, **planned)
    look([face], at=at)
    return face


@transaction.atomic
def insert_taken_out(*, insert: Insert, by: Person, at: datetime, why: str = "") -> Insert:
    """Take an insert out as a spare: from then on it makes no shots, and its faces go with it."""
    spare = inserts.take_out(insert=insert, by=by, at=at, why=why)
    working_out.rebuild_if_counted(insert.tool, since=at)
    look(faces_of(insert.tool), at=at)
    return spare


@transaction.atomic
def insert_moved(*, by: Person, at: datetime, **moved: Any) -> Fitting:
    """Fit an insert into a position: its faces, shots, trends and open work go with it."""
    fitting = inserts.fit(by=by, at=at, **moved)
    tool = fitting.position.tool
    # Moved in hindsight, the shots since then were made by what sat there.
    working_out.rebuild_if_counted(tool, since=at)
    look(faces_of(tool), at=at)
    return fitting
