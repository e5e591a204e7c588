"""Saving what a face must be, asked first whether it can have it."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction

from shop.craft.suitability import NO, Row
from shop.ledger.models import Change
from shop.ledger.services import record_change
from shop.people.models import Person
from shop.quality import suits
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Spec
from shop.tooling.services import specs

ASKED = "spec.cannot_have"
ALL_THE_SAME = "save_all_the_same"
FIELD = "suitability"


@transaction.atomic
def revise(
    *, face: Face, by: Person, at: datetime, answers: Mapping[str, str] | None = None, why_all_the_same: str = "",
    **revised: Any,
) -> Spec:  # fmt: skip
    """Write the next revision of a face's spec; what the face cannot have is asked first.

    Where it is saved all the same, who said so and why is kept in the trail of the revision.
    """
    spec = specs.revise(face=face, by=by, at=at, answers=answers, **revised)
    refusing = [row for row in suits.answer_for(face, spec, spec.limits.all(), at).rows if row.verdict == NO]
    if not refusing or _kept(spec):
        return spec
    if (answers or {}).get(ASKED) != ALL_THE_SAME:
        raise _question(face, refusing)
    if not why_all_the_same.strip():
        raise Refused(
            "spec.why_all_the_same",
            gettext_noop("Nobody has said yet why {face} is to have this finish all the same."),
            next_step=gettext_noop("Say why, in a few words: it stays with the revision."),
            field="why_all_the_same",
            face=str(face),
        )
    topics = ", ".join(dict.fromkeys(row.topic for row in refusing))
    record_change(spec, FIELD, f"no: {topics}", ALL_THE_SAME, by=by, at=at, why=why_all_the_same.strip())
    return spec


def saved_all_the_same(spec: Spec) -> Change | None:
    """Return who saved a revision although the face cannot have it, and why; None where nobody had to."""
    return Change.objects.filter(room=spec._meta.label_lower, row_id=spec.pk, field=FIELD).order_by("id").first()


def _kept(spec: Spec) -> bool:
    return saved_all_the_same(spec) is not None


def _question(face: Face, refusing: list[Row]) -> Refused:
    first = refusing[0]
    more = len(refusing) - 1
    template = (
        gettext_noop("{face} cannot have this finish: {reason} And {more} more, below.")
        if more
        else gettext_noop("{face} cannot have this finish: {reason}")
    )
    return Refused(
        ASKED,
        template,
        next_step=gettext_noop("Change the spec; or say why it is to be saved all the same."),
        question=True,
        choices=((ALL_THE_SAME, gettext_noop("Save it all the same")),),
        face=str(face),
        reason=first.saying,
        more=more,
    )
