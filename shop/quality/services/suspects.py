"""Decide about suspect parts, lot by lot: hold, sort, ship or scrap, with the name of who answers for it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from uuid import UUID, uuid5

from django.db import transaction

from shop.ledger.services import hold, once
from shop.people.models import Person
from shop.press.models import Run
from shop.quality import suspects
from shop.quality.models import SuspectDecision, Verdict
from shop.quality.services.checks import not_in_future
from shop.quality.suspects import DoubtfulLot
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Position

Decision = SuspectDecision.Decision
# Kept where parts came to a lot after it was decided about; shown with |marked.
MORE_SINCE = gettext_noop("More parts were moulded since.")


@transaction.atomic
def decide_many(
    *,
    lots: Sequence[DoubtfulLot],
    decision: str,
    responsible: str,
    by: Person,
    at: datetime,
    reason: str = "",
    why: str = "",
    ref: UUID | None = None,
) -> list[SuspectDecision]:
    """Decide the same about several lots; all or none."""
    if not lots:
        raise Refused(
            "suspects.none_chosen",
            gettext_noop("No lot is chosen."),
            next_step=gettext_noop("Tick the lots that this decision is about."),
            field="lot",
        )
    return [
        decide(
            verdict=lot.verdict,
            run=lot.run,
            position=lot.position,
            lot=lot.lot,
            decision=decision,
            responsible=responsible,
            reason=reason,
            why=why,
            by=by,
            at=at,
            ref=uuid5(ref, lot.key) if ref else None,
        )
        for lot in sorted(lots, key=lambda one: one.key)
    ]


@once("suspect decision", SuspectDecision, timed=False)
def decide(
    *,
    verdict: Verdict,
    run: Run | None,
    position: Position,
    lot: str,
    decision: str,
    responsible: str,
    by: Person,
    at: datetime,
    reason: str = "",
    why: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> SuspectDecision:
    """Decide about what one run moulded of one lot in one cavity; it is changed by one that supersedes and says why.

    Raises
    ------
    Refused
        Where the lot is not in doubt, nobody answers for it, it is shipped without a reason, or changed without one.
    """
    not_in_future(at)
    if not responsible.strip():
        raise Refused(
            "suspects.name_wanted",
            gettext_noop("Somebody answers for what is decided about suspect parts."),
            next_step=gettext_noop("Enter the name of who is responsible."),
            field="responsible",
        )
    if decision == Decision.SHIP and not reason.strip():
        raise Refused(
            "suspects.ship_says_why",
            gettext_noop("Suspect parts are shipped only with a reason."),
            next_step=gettext_noop("Say why they may go: sorted, accepted by the customer, measured again."),
            field="reason",
        )
    hold(f"suspects {verdict.face_id}")
    there = _in_doubt(verdict, run, position, lot, at)
    old = there.decision
    if old is not None:
        why = _why_changed(old, there, decision, why)
    return SuspectDecision.objects.create(
        verdict=verdict,
        run=run,
        position=position,
        lot=lot,
        shots=there.shots,
        decision=Decision(decision),
        responsible=responsible.strip(),
        reason=reason.strip(),
        supersedes=old,
        why=why.strip() if old else "",
        by=by,
        at=at,
    )


def _in_doubt(verdict: Verdict, run: Run | None, position: Position, lot: str, at: datetime) -> DoubtfulLot:
    """Return the lot as it is in doubt now. Raises Refused where it no longer is."""
    failed = suspects.failed(Face.objects.filter(pk=verdict.face_id))
    for case in suspects.cases([one for one in failed if one.life_id == verdict.life_id], at):
        for one in case.lots:
            if (one.run.pk if one.run else None, one.position.pk, one.lot) == (
                run.pk if run else None,
                position.pk,
                lot,
            ):
                return one
    raise Refused(
        "suspects.not_in_doubt",
        gettext_noop("Lot {lot} of cavity {cavity} is not in doubt: no failed reading reaches it."),
        next_step=gettext_noop("Load the list again and decide about what it shows."),
        field="lot",
        lot=lot or "–",
        cavity=position.number,
    )


def _why_changed(old: SuspectDecision, there: DoubtfulLot, decision: str, why: str) -> str:
    if why.strip():
        return why
    if there.undecided:
        return MORE_SINCE
    raise Refused(
        "suspects.change_wants_why",
        gettext_noop("About lot {lot} of cavity {cavity} it was decided on {at}: {old}. Changing that wants a reason."),
        next_step=gettext_noop("Say why it is decided otherwise now."),
        field="why",
        lot=there.lot or "–",
        cavity=there.position.number,
        at=old.at,
        old=Decision(old.decision),
        wanted=Decision(decision),
    )
