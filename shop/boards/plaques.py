"""Plaques as controlled items: how each stands, who uses it, and what was judged by one that is not good."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Max

from shop.boards.measured import grade
from shop.people.models import Plant
from shop.quality.models import Reading, Verdict
from shop.refusal import Saying
from shop.tooling.models import Plaque, PlaqueCheck, Spec
from shop.tooling.plaque_state import PlaqueBook, PlaqueStanding, PlaqueState, last_good_at

MOST_READINGS = 300
# What is wrong comes first; what is withdrawn is history and comes last.
_ORDER = {
    PlaqueState.FAILED: 0,
    PlaqueState.EXPIRED: 1,
    PlaqueState.CHECK_DUE: 2,
    PlaqueState.IN_DATE: 3,
    PlaqueState.WITHDRAWN: 4,
}


@dataclass(frozen=True)
class PlaqueRow:
    """One plaque of the list."""

    plaque: Plaque
    standing: PlaqueStanding
    faces: int
    limits: tuple[Plaque, ...]


@dataclass(frozen=True)
class Judged:
    """One comparison with a plaque, and the verdict that came of it, where there was one."""

    reading: Reading
    words: Saying
    verdict: Verdict | None


@dataclass(frozen=True)
class PlaqueCard:
    """One plaque with all that hangs on it. `last_good` is empty where nobody ever checked it."""

    plaque: Plaque
    standing: PlaqueStanding
    checks: tuple[PlaqueCheck, ...]
    copies: tuple[PlaqueStanding, ...]
    limits: tuple[PlaqueStanding, ...]
    specs: tuple[Spec, ...]
    older_specs: tuple[Spec, ...]
    last_good: datetime | None
    doubted: tuple[Judged, ...]
    more_doubted: int

    @property
    def doubted_faces(self) -> int:
        """Return how many faces were judged by it while it was in doubt."""
        return len({one.reading.face_id for one in self.doubted})

    @property
    def doubted_releases(self) -> int:
        """Return how many of those verdicts a release rested on."""
        return sum(1 for one in self.doubted if one.verdict is not None and one.verdict.for_release)


def plaque_list(plant: Plant, at: datetime) -> list[PlaqueRow]:
    """Return the plant's plaques, those that need somebody first, in a fixed number of queries."""
    book = PlaqueBook(plant)
    states = book.standings(book.plaques, at)
    uses: dict[int, int] = {}
    for spec in _in_force(plant):
        if spec.plaque_id:
            uses[spec.plaque_id] = uses.get(spec.plaque_id, 0) + 1
    limits: dict[int, list[Plaque]] = {}
    for plaque in book.plaques.values():
        if plaque.limit_of_id:
            limits.setdefault(plaque.limit_of_id, []).append(plaque)
    rows = [
        PlaqueRow(
            plaque, states[pk], uses.get(pk, 0), tuple(sorted(limits.get(pk, []), key=lambda one: one.limit_side))
        )
        for pk, plaque in book.plaques.items()
    ]
    return sorted(rows, key=lambda row: (_ORDER[row.standing.state], row.plaque.number))


def plaque_card(plaque: Plaque, at: datetime) -> PlaqueCard:
    """Return one plaque with its checks, copies, limits, specs, and what is in doubt because of it."""
    book = PlaqueBook(plaque.plant)
    standing = book.standings([plaque.pk], at)[plaque.pk]
    checks = list(PlaqueCheck.objects.filter(plaque=plaque).select_related("by", "against").order_by("-at", "-id"))
    holding = [spec for spec in _in_force(plaque.plant) if spec.plaque_id == plaque.pk]
    older = Spec.objects.filter(plaque=plaque).exclude(pk__in=[spec.pk for spec in holding])
    doubted, more = _doubted(plaque, standing, checks)
    others = book.plaques.values()
    return PlaqueCard(
        plaque=plaque,
        standing=standing,
        checks=tuple(checks),
        copies=_stand(book, [one for one in others if one.master_id == plaque.pk], at),
        limits=_stand(book, [one for one in others if one.limit_of_id == plaque.pk], at),
        specs=tuple(holding),
        older_specs=tuple(older.select_related("face__insert__tool").order_by("-at")),
        last_good=last_good_at(standing, checks),
        doubted=doubted,
        more_doubted=more,
    )


def _stand(book: PlaqueBook, plaques: list[Plaque], at: datetime) -> tuple[PlaqueStanding, ...]:
    states = book.standings([one.pk for one in plaques], at)
    return tuple(states[one.pk] for one in sorted(plaques, key=lambda one: (one.limit_side, one.number)))


def _in_force(plant: Plant) -> list[Spec]:
    """Return the latest spec revision of each face of the plant."""
    latest = Spec.objects.filter(face__insert__tool__plant=plant).values("face").annotate(revision=Max("revision"))
    held = {(row["face"], row["revision"]) for row in latest}
    rows = Spec.objects.filter(face__insert__tool__plant=plant, plaque__isnull=False)
    rows = rows.select_related("face__insert__tool").order_by("face__insert__tool__number", "face__insert__number")
    return [spec for spec in rows if (spec.face_id, spec.revision) in held]


def _doubted(plaque: Plaque, standing: PlaqueStanding, checks: list[PlaqueCheck]) -> tuple[tuple[Judged, ...], int]:
    """Return what was judged by a plaque since it was last good, latest first, and how many more there are."""
    if standing.good:
        return (), 0
    since = last_good_at(standing, checks)
    rows = Reading.objects.in_force().filter(plaque=plaque)
    if since is not None:
        rows = rows.filter(at__gt=since)
    count = rows.count()
    readings = list(
        rows.select_related("face__insert__tool", "spot", "inspection__tool", "by").order_by("-at", "-id")[
            :MOST_READINGS
        ]
    )
    verdicts = {
        (verdict.inspection_id, verdict.face_id, verdict.spot_id, verdict.parameter, verdict.where): verdict
        for verdict in Verdict.objects.in_force().filter(inspection__in={one.inspection_id for one in readings})
    }
    found = tuple(
        Judged(
            one,
            grade(one.parameter, float(one.value)),
            verdicts.get((one.inspection_id, one.face_id, one.spot_id, one.parameter, one.where)),
        )
        for one in readings
    )
    return found, count - len(found)
