"""News from quality: readings, put right or decided about."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from shop.loop.pieces import look
from shop.people.models import Person
from shop.quality.models import Inspection, Reading, UnfitDecision
from shop.quality.services import inspections, unfit
from shop.tooling.models import Face, Tool


@transaction.atomic
def reading_taken(*, tool: Tool, by: Person, at: datetime, **taken: Any) -> Inspection:
    """Take an inspection with its verdicts, and look at the faces that were measured."""
    inspection = inspections.take(tool=tool, by=by, at=at, **taken)
    look(Face.objects.filter(readings__inspection=inspection).distinct(), at=at)
    return inspection


@transaction.atomic
def reading_corrected(*, reading: Reading, value: Decimal, why: str, by: Person, at: datetime, **more: Any) -> Reading:
    """Put a reading right, and look at its face again."""
    corrected = inspections.correct(reading=reading, value=value, why=why, by=by, at=at, **more)
    look([reading.face], at=at)
    return corrected


@transaction.atomic
def unfit_decided(*, readings: Sequence[Reading], by: Person, at: datetime, **decided: Any) -> list[UnfitDecision]:
    """Decide about readings of a gauge that was unfit: what is withdrawn is gone from trend and standing."""
    decisions = unfit.decide_many(readings=readings, by=by, at=at, **decided)
    look([reading.face for reading in readings], at=at)
    return decisions
