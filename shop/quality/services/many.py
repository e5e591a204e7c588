"""Take many inspections at once, as a file brings them: the same checks and verdicts, with what held fetched once."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Generic, TypeVar
from uuid import UUID

from django.db import transaction

from shop.ledger.models import Receipt
from shop.people.models import Person
from shop.quality.asked import Asked, asked_of, day_in
from shop.quality.models import Inspection, Reading, Verdict
from shop.quality.services import matches
from shop.quality.services.checks import Checked, Going, ReadingDraft, check, not_in_future
from shop.quality.services.inspections import groups_of, plaques_of, reading_row, verdict_row
from shop.quality.worth import Worth, WorthBook
from shop.refusal import Refused
from shop.tooling.models import Concession, Face, FinishLife, Resin, Spec, Tool
from shop.tooling.plaque_state import PlaqueBook, PlaqueStanding

Held = TypeVar("Held")
BATCH = 1000


@dataclass(frozen=True)
class InspectionDraft:
    """One going-over as a file tells it; `refs` and `contents` know each reading again."""

    tool: Tool
    kind: str
    at: datetime
    drafts: Sequence[ReadingDraft]
    refs: Sequence[UUID]
    contents: Sequence[str]
    resin: Resin | None = None
    colour: str = ""
    lot: str = ""
    mould_temperature_c: Decimal | None = None
    hours_since_moulding: Decimal | None = None
    cleaned: bool | None = None
    answers: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Looked:
    """An inspection whose drafts were looked at: those that may be taken, and why the others may not."""

    draft: InspectionDraft
    going: Going
    good: Sequence[Checked]
    faults: Sequence[tuple[int, Refused]]
    worths: Mapping[int, Worth]


class ByTime(Generic[Held]):
    """What held when, for each of many things, found without asking again."""

    def __init__(self, rows: Iterable[tuple[int, datetime, Held]]) -> None:
        """Keep the rows of each thing in the order of their times."""
        self.times: dict[int, list[datetime]] = defaultdict(list)
        self.rows: dict[int, list[Held]] = defaultdict(list)
        for key, from_at, row in sorted(rows, key=lambda one: (one[0], one[1])):
            self.times[key].append(from_at)
            self.rows[key].append(row)

    def at(self, key: int, at: datetime) -> Held | None:
        """Return the latest row of the thing that began by `at`."""
        found = bisect_right(self.times.get(key, []), at)
        return self.rows[key][found - 1] if found else None


class History:
    """What held for many faces at any time: lives, revisions, concessions, calibrations."""

    def __init__(self, face_ids: Iterable[int], gauge_ids: Iterable[int]) -> None:
        """Fetch it all in a fixed number of queries."""
        ids = set(face_ids)
        faces = Face.objects.filter(pk__in=ids).select_related("insert__tool__plant")
        self.faces: dict[int, Face] = {face.pk: face for face in faces}
        lives = FinishLife.objects.filter(face__in=ids).order_by("number")
        self.lives: ByTime[FinishLife] = ByTime((life.face_id, life.began_at, life) for life in lives)
        specs = Spec.objects.filter(face__in=ids).with_limits().order_by("revision")
        self.specs: ByTime[Spec] = ByTime((spec.face_id, spec.at, spec) for spec in specs)
        self.worths = WorthBook(set(gauge_ids))
        self.on_concession = set(Concession.objects.filter(face__in=ids).values_list("face_id", flat=True))
        self.book: PlaqueBook | None = None

    def plaques(
        self, drafts: Sequence[ReadingDraft], asked: Mapping[int, Asked], at: datetime
    ) -> dict[int, PlaqueStanding]:
        """Return how the plaques that drafts were compared with stood at `at`, by id."""
        found = plaques_of(drafts, asked)
        if not found:
            return {}
        if self.book is None:
            self.book = PlaqueBook(found[0].plant)
        return self.book.standings({plaque.pk for plaque in found}, at)

    def asked(self, faces: Iterable[Face], at: datetime) -> dict[int, Asked]:
        """Return what held for the faces at `at`, as `asked_of` does."""
        wanted = {face.pk for face in faces}
        # A concession may end by a count of shots; the few faces that have one are asked for as a single one is.
        found = (
            asked_of([self.faces[pk] for pk in wanted & self.on_concession], at) if wanted & self.on_concession else {}
        )
        for pk in wanted - self.on_concession:
            life, spec = self.lives.at(pk, at), self.specs.at(pk, at)
            if life is not None and life.ended_at is not None and life.ended_at <= at:
                life = None
            found[pk] = Asked(self.faces[pk], life, spec, tuple(spec.limits.all()) if spec else ())
        return found

    def worth(self, drafts: Sequence[ReadingDraft], at: datetime) -> dict[int, Worth]:
        """Return what was known by `at` of each gauge that was used."""
        return self.worths.at({draft.gauge.pk for draft in drafts if draft.gauge}, at)


def look_many(drafts: Sequence[InspectionDraft]) -> list[Looked]:
    """Look at every draft of every inspection, and say of each whether it may be taken."""
    readings = [reading for draft in drafts for reading in draft.drafts]
    history = History((one.face.pk for one in readings), (one.gauge.pk for one in readings if one.gauge))
    return [_look(draft, history) for draft in drafts]


def _look(draft: InspectionDraft, history: History) -> Looked:
    asked = history.asked((one.face for one in draft.drafts), draft.at)
    worths = history.worth(draft.drafts, draft.at)
    going = Going(
        tool=draft.tool,
        kind=Inspection.Kind(draft.kind),
        at=draft.at,
        day=day_in(draft.tool.plant, draft.at),
        asked=asked,
        calibrations={pk: one.calibration for pk, one in worths.items() if one.calibration},
        answers=draft.answers,
        plaques=history.plaques(draft.drafts, asked, draft.at),
    )
    good: list[Checked] = []
    faults: list[tuple[int, Refused]] = []
    for index, reading in enumerate(draft.drafts):
        try:
            not_in_future(draft.at)
            good.append(check(index, reading, going))
        except Refused as refused:
            faults.append((index, refused))
    return Looked(draft, going, good, faults, worths)


@transaction.atomic
def take_many(looked: Sequence[Looked], *, by: Person, at: datetime) -> list[Reading]:
    """Take the good drafts of inspections that were looked at in this same transaction, and judge them."""
    kept = [one for one in looked if one.good]
    inspections = Inspection.objects.bulk_create((_inspection(one.draft, by) for one in kept), batch_size=BATCH)
    made = Reading.objects.bulk_create(
        [reading_row(inspection, good) for inspection, one in zip(inspections, kept, strict=True) for good in one.good],
        batch_size=BATCH,
    )
    readings, verdicts, receipts, taken = iter(made), [], [], []
    for inspection, one in zip(inspections, kept, strict=True):
        own = [next(readings) for _good in one.good]
        taken.append((inspection, own))
        verdicts += [
            verdict_row(group, one.worths, by=by) for group in groups_of(inspection, one.good, own)
        ]
        receipts += [
            Receipt(
                ref=one.draft.refs[good.index],
                kind="bring readings",
                content_sha256=one.draft.contents[good.index],
                made_id=reading.pk,
                by=by,
                at=at,
            )
            for good, reading in zip(one.good, own, strict=True)
        ]
    Verdict.objects.bulk_create(verdicts, batch_size=BATCH)
    matches.judge(taken, by=by)
    Receipt.objects.bulk_create(receipts, batch_size=BATCH)
    return made


def _inspection(draft: InspectionDraft, by: Person) -> Inspection:
    return Inspection(
        tool=draft.tool,
        kind=Inspection.Kind(draft.kind),
        resin=draft.resin,
        colour=draft.colour,
        lot=draft.lot,
        mould_temperature_c=draft.mould_temperature_c,
        hours_since_moulding=draft.hours_since_moulding,
        cleaned=draft.cleaned,
        answers=dict(draft.answers),
        by=by,
        at=draft.at,
    )
