"""Suspect parts: everything moulded on a failed face since it was last known to be good."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from shop.people.models import Plant
from shop.quality import suspects as quality
from shop.quality.models import SuspectDecision, Verdict
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Face


@dataclass(frozen=True)
class SuspectLot:
    """What one run moulded of one lot in one cavity while the face was in doubt."""

    press: str
    order_number: str
    lot: str
    colour: str
    resin: str
    position: int
    insert: str
    first_at: datetime
    last_at: datetime
    parts: int
    decision: SuspectDecision | None


@dataclass(frozen=True)
class Suspects:
    """The suspect parts of one verdict; `since` is None where nothing good is known of this finish life."""

    verdict: Verdict
    since: datetime | None
    lots: tuple[SuspectLot, ...]
    parts: int
    because: Saying


def of_verdict(verdict: Verdict, at: datetime) -> Suspects:
    """Return what was moulded on the verdict's face between its last good reading and `at`."""
    found = quality.suspects(verdict.face, verdict, until=at)
    since = found.last_good.at if found.last_good else None
    decided = quality.decisions([verdict.face_id]) if found.lots else {}
    lots = tuple(
        _lot(
            lot,
            decided.get((verdict.face_id, verdict.life_id, lot.run.pk if lot.run else None, lot.position.pk, lot.lot)),
        )
        for lot in found.lots
    )
    return Suspects(verdict, since, lots, found.shots, _because(verdict, since))


def of_verdicts(verdicts: Iterable[Verdict], at: datetime) -> list[Suspects]:
    """Return the suspect parts of each failed verdict, one list a face: that which reaches back furthest."""
    furthest: dict[int, Suspects] = {}
    for verdict in verdicts:
        if verdict.outcome != Verdict.Outcome.NO or verdict.informative:
            continue
        found = of_verdict(verdict, at)
        known = furthest.get(verdict.face_id)
        if known is None or found.parts > known.parts:
            furthest[verdict.face_id] = found
    return list(furthest.values())


@dataclass(frozen=True)
class Worklist:
    """The faces in doubt of a plant, those with parts to decide about first."""

    cases: tuple[WorkCase, ...]
    undecided: int
    lots_undecided: int


@dataclass(frozen=True)
class WorkCase:
    """One face in doubt with its sentence, and the lots that are shown."""

    case: quality.Case
    because: Saying
    lots: tuple[quality.DoubtfulLot, ...]


def worklist(plant: Plant, at: datetime, *, everything: bool = False) -> Worklist:
    """Return the suspect parts of the plant that nobody has decided about, or all, in a fixed number of queries."""
    found = quality.cases(quality.failed(Face.objects.filter(insert__tool__plant=plant)), at)
    rows = []
    for case in found:
        lots = tuple(lot for lot in case.lots if everything or lot.undecided)
        if lots:
            since = case.since if case.last_good else None
            rows.append(WorkCase(case, _because(case.verdict, since), lots))
    rows.sort(key=lambda row: (row.case.undecided == 0, -row.case.verdict.at.timestamp()))
    return Worklist(
        tuple(rows),
        sum(case.undecided for case in found),
        sum(lot.undecided > 0 for case in found for lot in case.lots),
    )


def _life_began(verdict: Verdict) -> datetime:
    # Between two lives, at a steel check, nothing has been moulded on the finish yet.
    return verdict.life.began_at if verdict.life else verdict.at


def _because(verdict: Verdict, since: datetime | None) -> Saying:
    values = {"face": str(verdict.face), "at": since or _life_began(verdict)}
    if since is None:
        return Saying(
            "suspects.since_life_began",
            gettext_noop("{face} has no good reading in this finish life: all parts since {at} are suspect."),
            values,
        )
    template = gettext_noop("{face} was last good on {at}: all parts since are suspect.")
    return Saying("suspects.since_good", template, values)


def _lot(lot: quality.SuspectLot, decision: SuspectDecision | None) -> SuspectLot:
    press = lot.press or (lot.run.press if lot.run else None)
    return SuspectLot(
        press=str(press or ""),
        order_number=lot.run.order_number if lot.run else "",
        lot=lot.lot,
        colour=lot.colour,
        resin=str(lot.resin or ""),
        position=lot.position.number,
        insert=lot.insert.number,
        first_at=lot.first_at,
        last_at=lot.last_at,
        parts=lot.shots,
        decision=decision,
    )
