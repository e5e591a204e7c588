"""Suspect parts: what a face moulded between its last good reading and the one that failed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shop.press.models import InsertShots, Press, Run
from shop.quality.models import Verdict
from shop.tooling.models import Face, Insert, Position, Resin


@dataclass(frozen=True)
class SuspectLot:
    """What one run moulded of one lot in one cavity while the face was in doubt."""

    run: Run | None
    press: Press | None
    position: Position
    insert: Insert
    lot: str
    colour: str
    resin: Resin | None
    shots: int
    first_at: datetime
    last_at: datetime


@dataclass(frozen=True)
class Suspects:
    """The suspect parts of a failed verdict; `last_good` is None where this finish was never proven good."""

    face: Face
    verdict: Verdict
    last_good: Verdict | None
    since: datetime | None
    lots: tuple[SuspectLot, ...]

    @property
    def shots(self) -> int:
        """Return the shots in all."""
        return sum(lot.shots for lot in self.lots)


def suspects(face: Face, verdict: Verdict, *, until: datetime | None = None) -> Suspects:
    """Return what is in doubt behind a failed verdict, by run, cavity and lot.

    Only a good reading of the same parameter at the same place clears parts. An entry counts what was moulded
    up to its own time, so the first one after the good reading and the one that runs past the failed reading
    are in doubt as a whole. With `until`, so is what the finish moulded after the reading up to then.
    """
    if verdict.life is None:
        return Suspects(face, verdict, None, None, ())
    of_this_place = Verdict.objects.filter(
        life=verdict.life_id, parameter=verdict.parameter, spot=verdict.spot_id, where=verdict.where
    )
    last_good = of_this_place.last_good(face, verdict.at)
    since = last_good.at if last_good else verdict.life.began_at
    entries = InsertShots.objects.filter(insert=face.insert_id, at__gt=since, shots__gt=0)
    if verdict.life.ended_at is not None:
        entries = entries.filter(at__lte=verdict.life.ended_at)
    past = entries.filter(at__gte=verdict.at).order_by("at").values_list("at", flat=True).first()
    return Suspects(face, verdict, last_good, since, _lots(entries, max(past or verdict.at, until or verdict.at)))


def _lots(entries: object, until: datetime) -> tuple[SuspectLot, ...]:
    rows = (
        entries.filter(at__lte=until)  # type: ignore[attr-defined]
        .select_related("entry__run__press", "entry__press", "position__tool", "insert", "resin")
        .order_by("at", "entry_id")
    )
    lots: dict[tuple[object, ...], SuspectLot] = {}
    for row in rows:
        entry = row.entry
        key = (entry.run_id, entry.press_id, row.position_id, entry.lot, entry.colour, row.resin_id)
        had = lots.get(key)
        lots[key] = SuspectLot(
            run=entry.run,
            press=entry.press,
            position=row.position,
            insert=row.insert,
            lot=entry.lot,
            colour=entry.colour,
            resin=row.resin,
            shots=row.shots + (had.shots if had else 0),
            first_at=had.first_at if had else row.at,
            last_at=row.at,
        )
    return tuple(lots.values())
