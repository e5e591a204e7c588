"""What an unfit gauge touched: the readings since its last good check, their verdicts, signatures and certificates."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from django.db.models import QuerySet

from shop.bench.models import Passing
from shop.boards.measured import in_words
from shop.paper.models import Document
from shop.people.models import Plant
from shop.quality import doubt
from shop.quality.models import Inspection, Reading, UnfitDecision, UnfitFinding, Verdict
from shop.refusal import Saying
from shop.tooling.models import Face


@dataclass(frozen=True)
class FindingRow:
    """One finding as the list shows it."""

    finding: UnfitFinding
    readings: int
    undecided: int
    again: int
    faces: int


@dataclass(frozen=True)
class Row:
    """One reading in doubt, the verdict it went into, and what was decided."""

    reading: Reading
    verdict: Verdict | None
    words: Saying | None
    decision: UnfitDecision | None

    @property
    def withdrawn(self) -> bool:
        """Return whether the reading was taken back, which is final."""
        return self.decision is not None and self.decision.decision == UnfitDecision.Decision.WITHDRAW


@dataclass(frozen=True)
class FaceRows:
    """The readings in doubt on one face."""

    face: Face
    rows: tuple[Row, ...]

    @property
    def undecided(self) -> int:
        """Return how many of them wait for a decision."""
        return sum(row.decision is None for row in self.rows)


@dataclass(frozen=True)
class Signature:
    """A signature that rests on readings in doubt."""

    passing: Passing
    faces: tuple[str, ...]


@dataclass(frozen=True)
class Walk:
    """One finding with everything it touches."""

    finding: UnfitFinding
    span: doubt.Span
    faces: tuple[FaceRows, ...]
    signatures: tuple[Signature, ...]
    documents: tuple[Document, ...]

    @property
    def rows(self) -> list[Row]:
        """Return every reading, face by face."""
        return [row for face in self.faces for row in face.rows]

    @property
    def count(self) -> int:
        """Return how many readings there are."""
        return len(self.rows)

    @property
    def undecided(self) -> int:
        """Return how many wait for a decision."""
        return sum(face.undecided for face in self.faces)

    @property
    def decided(self) -> int:
        """Return how many are decided."""
        return self.count - self.undecided

    @property
    def outcome_counts(self) -> dict[str, int]:
        """Return how many readings carried each verdict."""
        return _counted(row.verdict.get_outcome_display() for row in self.rows if row.verdict)

    @property
    def decision_counts(self) -> dict[str, int]:
        """Return how many readings were decided each way."""
        return _counted(row.decision.get_decision_display() for row in self.rows if row.decision)


def findings(plant: Plant) -> tuple[FindingRow, ...]:
    """Return the plant's findings, those with something to decide first; a fixed number of queries."""
    found = list(UnfitFinding.objects.filter(gauge__plant=plant).select_related("gauge", "by").order_by("-at", "-id"))
    spans = doubt.spans(found)
    seen = list(doubt.listed({one.gauge_id for one in found}).values_list("pk", "gauge_id", "at", "face_id"))
    decided = {pk: one.decision for pk, one in doubt.decisions_on([pk for pk, *_rest in seen]).items()}
    rows = []
    for one in found:
        own = [(pk, face) for pk, gauge, at, face in seen if gauge == one.gauge_id and spans[one.pk].holds(at)]
        said = [decided.get(pk) for pk, _face in own]
        again = said.count(UnfitDecision.Decision.AGAIN)
        rows.append(FindingRow(one, len(own), said.count(None), again, len({face for _pk, face in own})))
    return tuple(sorted(rows, key=lambda row: row.undecided == 0))


def walk(finding: UnfitFinding) -> Walk:
    """Return everything the finding touches, in a fixed number of queries."""
    span = doubt.spans([finding])[finding.pk]
    readings = list(
        doubt.readings_of(finding, span)
        .select_related("inspection__tool", "face__insert__tool", "spot", "gauge", "by")
        .order_by("at", "id")
    )
    decided = doubt.decisions_on([reading.pk for reading in readings])
    verdicts = _verdicts({reading.inspection_id for reading in readings})
    rows = [_row(reading, verdicts.get(doubt.key_of_reading(reading)), decided.get(reading.pk)) for reading in readings]
    rows.sort(key=lambda row: (row.reading.face.insert.tool.number, str(row.reading.face), row.reading.face_id))
    faces = [
        FaceRows(own[0].reading.face, tuple(own))
        for own in (list(group) for _face, group in groupby(rows, key=lambda row: row.reading.face_id))
    ]
    return Walk(
        finding=finding,
        span=span,
        faces=tuple(sorted(faces, key=lambda face: face.undecided == 0)),
        signatures=tuple(_signatures(readings)),
        documents=tuple(_documents(readings)),
    )


def _row(reading: Reading, verdict: Verdict | None, decision: UnfitDecision | None) -> Row:
    return Row(reading, verdict, in_words(verdict) if verdict else None, decision)


def _verdicts(inspections: Iterable[int]) -> dict[tuple[Any, ...], Verdict]:
    """Return the last verdict of each group of readings, those taken away among them."""
    last = Verdict.objects.filter(inspection__in=inspections, superseded_by__isnull=True)
    return {doubt.key_of_verdict(one): one for one in last.select_related("limit", "spec")}


STAGES = {
    Inspection.Kind.STEEL_CHECK: Passing.Stage.STEEL,
    Inspection.Kind.PARTS_CHECK: Passing.Stage.PARTS,
    Inspection.Kind.FIRST_OFF: Passing.Stage.PARTS,
}


def _signatures(readings: Sequence[Reading]) -> Iterable[Signature]:
    """Yield what was signed on these readings, and what was signed on those signatures, up to the release."""
    releasing = [reading for reading in readings if reading.inspection.kind in STAGES]
    passings = list(
        Passing.objects.filter(passed=True, order__lines__face__in={reading.face_id for reading in releasing})
        .select_related("order__tool", "by")
        .prefetch_related("order__lines")
        .distinct()
        .order_by("id")
    )
    resting: dict[int, set[str]] = {}
    for reading in releasing:
        first = _first(passings, reading)
        for passing in passings if first else ():
            if first and passing.order_id == first.order_id and passing.pk >= first.pk:
                resting.setdefault(passing.pk, set()).add(str(reading.face))
    for passing in passings:
        if passing.pk in resting:
            yield Signature(passing, tuple(sorted(resting[passing.pk])))


def _first(passings: Sequence[Passing], reading: Reading) -> Passing | None:
    """Return the signature that the reading went into: the first of its stage, since, on an order with its face."""
    stage = STAGES[Inspection.Kind(reading.inspection.kind)]
    for passing in passings:
        faces = {line.face_id for line in passing.order.lines.all()}
        if passing.stage == stage and passing.at >= reading.at and reading.face_id in faces:
            return passing
    return None


def _documents(readings: Sequence[Reading]) -> QuerySet[Document]:
    """Return the certificates of these faces, and of their tools, that were issued since they were measured."""
    since: datetime | None = min((reading.at for reading in readings), default=None)
    subjects = {f"face:{reading.face_id}" for reading in readings}
    subjects |= {f"tool:{reading.inspection.tool_id}" for reading in readings}
    issued = Document.objects.filter(kind=Document.Kind.CERTIFICATE, subject__in=subjects)
    if since is not None:
        issued = issued.filter(at__gte=since)
    return issued.select_related("by", "cancellation", "replaced_by").order_by("at", "id")


def _counted(words: Iterable[str]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for word in words:
        counts[word] = counts.get(word, 0) + 1
    return counts
