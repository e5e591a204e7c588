"""Suspect parts: everything moulded on a failed face since it was last known to be good."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from shop.press.models import InsertShots
from shop.quality.models import Verdict
from shop.refusal import Saying, gettext_noop


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
    since = last_good_at(verdict)
    lots = _lots(verdict, since or _life_began(verdict), at)
    return Suspects(verdict, since, lots, sum(lot.parts for lot in lots), _because(verdict, since))


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


def last_good_at(verdict: Verdict) -> datetime | None:
    """Return when the same parameter at the same place last conformed in this life, before the verdict."""
    good = Verdict.objects.deciding().filter(
        face=verdict.face_id,
        life=verdict.life_id,
        parameter=verdict.parameter,
        spot=verdict.spot_id,
        where=verdict.where,
        outcome=Verdict.Outcome.YES,
        at__lt=verdict.at,
    )
    found: datetime | None = good.order_by("-at").values_list("at", flat=True).first()
    return found


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


def _lots(verdict: Verdict, since: datetime, at: datetime) -> tuple[SuspectLot, ...]:
    # An entry counts the shots up to its own time, so the first one after the good reading is suspect as a whole.
    rows = (
        InsertShots.objects.filter(insert=verdict.face.insert_id, at__gt=since, at__lte=at, shots__gt=0)
        .select_related("entry__run__press", "entry__press", "position", "insert", "resin")
        .order_by("at", "entry_id")
    )
    lots: dict[tuple[object, ...], SuspectLot] = {}
    for row in rows:
        entry = row.entry
        key = (entry.run_id, entry.press_id, entry.lot, entry.colour, row.resin_id, row.position_id)
        had = lots.get(key)
        lots[key] = SuspectLot(
            press=str(entry.press or (entry.run.press if entry.run else "")),
            order_number=entry.run.order_number if entry.run else "",
            lot=entry.lot,
            colour=entry.colour,
            resin=str(row.resin or ""),
            position=row.position.number,
            insert=row.insert.number,
            first_at=had.first_at if had else row.at,
            last_at=row.at,
            parts=row.shots + (had.parts if had else 0),
        )
    return tuple(lots.values())
