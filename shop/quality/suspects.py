"""Suspect parts: what a face moulded between its last good reading and the one that failed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from shop.press.models import InsertShots, Press, Run
from shop.quality.models import SuspectDecision, Verdict
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


@dataclass(frozen=True)
class DoubtfulLot:
    """What one run moulded of one lot in one cavity in doubt, with the decision that holds for it, if there is one."""

    verdict: Verdict
    run: Run | None
    position: Position
    insert: Insert
    lot: str
    press: Press | None
    colour: str
    resin: Resin | None
    shots: int
    first_at: datetime
    last_at: datetime
    decision: SuspectDecision | None

    @property
    def key(self) -> str:
        """Return by what a form names it."""
        return f"{self.verdict.pk}-{self.run.pk if self.run else 0}-{self.position.pk}-{self.lot}"

    @property
    def undecided(self) -> int:
        """Return how many of its parts nobody has decided about: all, or what was moulded since."""
        return max(0, self.shots - (self.decision.shots if self.decision else 0))


@dataclass(frozen=True)
class Case:
    """One face in doubt in one finish life: the first verdict that failed, and the lots behind it."""

    verdict: Verdict
    since: datetime
    last_good: bool
    lots: tuple[DoubtfulLot, ...]

    @property
    def shots(self) -> int:
        """Return the parts in all."""
        return sum(lot.shots for lot in self.lots)

    @property
    def undecided(self) -> int:
        """Return the parts that nobody has decided about."""
        return sum(lot.undecided for lot in self.lots)


@dataclass(frozen=True)
class _Reach:
    """How far a failed verdict reaches: from the last good one of its place to the next good one, or to now."""

    verdict: Verdict
    since: datetime
    last_good: bool
    until: datetime


def failed(faces: QuerySet[Any]) -> list[Verdict]:
    """Return the verdicts in force that say off spec, decide, and belong to a finish life."""
    rows = Verdict.objects.deciding().filter(face__in=faces, outcome=Verdict.Outcome.NO, life__isnull=False)
    return list(rows.select_related("face__insert__tool", "spot", "life", "limit", "inspection").order_by("at", "id"))


def cases(verdicts: Sequence[Verdict], at: datetime) -> list[Case]:
    """Return what is in doubt behind failed verdicts, each part once, in a fixed number of queries."""
    reaches = _reaches(verdicts, at)
    if not reaches:
        return []
    entries = _entries(reaches)
    decided = decisions({reach.verdict.face_id for reach in reaches})
    found: dict[tuple[int, int | None], tuple[_Reach, dict[tuple[Any, ...], list[InsertShots]]]] = {}
    for reach in sorted(reaches, key=lambda one: (one.since, one.verdict.at)):
        place = (reach.verdict.face_id, reach.verdict.life_id)
        _first, lots = found.setdefault(place, (reach, {}))
        seen = {row.pk for rows in lots.values() for row in rows}
        for row in _in_doubt(reach, entries.get(reach.verdict.face.insert_id, [])):
            if row.pk not in seen:
                lots.setdefault((row.entry.run_id, row.position_id, row.entry.lot), []).append(row)
    return [
        Case(reach.verdict, reach.since, reach.last_good, tuple(_doubtful(reach.verdict, lots, decided)))
        for reach, lots in found.values()
    ]


def decisions(face_ids: Iterable[int]) -> dict[tuple[Any, ...], SuspectDecision]:
    """Return the decisions in force on these faces by face, life, run, cavity and lot."""
    rows = SuspectDecision.objects.filter(
        verdict__face__in=list(face_ids), superseded_by__isnull=True, void=False
    ).select_related("by", "verdict")
    return {
        (row.verdict.face_id, row.verdict.life_id, row.run_id, row.position_id, row.lot): row
        for row in rows.order_by("at", "id")
    }


def _reaches(verdicts: Sequence[Verdict], at: datetime) -> list[_Reach]:
    rows = Verdict.objects.deciding().filter(face__in={one.face_id for one in verdicts}, outcome=Verdict.Outcome.YES)
    good: dict[tuple[Any, ...], list[datetime]] = {}
    for face, life, parameter, spot, where, when in rows.order_by("at").values_list(
        "face", "life", "parameter", "spot", "where", "at"
    ):
        good.setdefault((face, life, parameter, spot, where), []).append(when)
    found = []
    for one in verdicts:
        if one.life is None:
            continue
        times = good.get((one.face_id, one.life_id, one.parameter, one.spot_id, one.where), [])
        before = [when for when in times if when < one.at]
        after = [when for when in times if when > one.at]
        until = min([after[0] if after else at, one.life.ended_at or at])
        found.append(_Reach(one, before[-1] if before else one.life.began_at, bool(before), max(until, one.at)))
    return found


def _entries(reaches: Sequence[_Reach]) -> dict[int, list[InsertShots]]:
    rows = InsertShots.objects.filter(
        insert__in={reach.verdict.face.insert_id for reach in reaches},
        at__gt=min(reach.since for reach in reaches),
        shots__gt=0,
    )
    found: dict[int, list[InsertShots]] = {}
    for row in rows.select_related("entry__run__press", "entry__press", "position", "insert", "resin").order_by(
        "at", "entry_id"
    ):
        found.setdefault(row.insert_id, []).append(row)
    return found


def _in_doubt(reach: _Reach, entries: Sequence[InsertShots]) -> list[InsertShots]:
    """Return the entries in doubt; the one that runs past the failed reading is in doubt as a whole."""
    ended = reach.verdict.life.ended_at if reach.verdict.life else None
    lived = [row for row in entries if row.at > reach.since and (ended is None or row.at <= ended)]
    past = next((row.at for row in lived if row.at >= reach.verdict.at), reach.verdict.at)
    return [row for row in lived if row.at <= max(past, reach.until)]


def _doubtful(
    verdict: Verdict,
    lots: Mapping[tuple[Any, ...], list[InsertShots]],
    decided: Mapping[tuple[Any, ...], SuspectDecision],
) -> Iterator[DoubtfulLot]:
    for (run, position, lot), rows in lots.items():
        first, last = rows[0], rows[-1]
        yield DoubtfulLot(
            verdict=verdict,
            run=first.entry.run,
            position=first.position,
            insert=first.insert,
            lot=lot,
            press=first.entry.press or (first.entry.run.press if first.entry.run else None),
            colour=first.entry.colour,
            resin=first.resin,
            shots=sum(row.shots for row in rows),
            first_at=first.at,
            last_at=last.at,
            decision=decided.get((verdict.face_id, verdict.life_id, run, position, lot)),
        )
