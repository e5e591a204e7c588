"""Issued documents as lists show them: which counts, which was replaced, which was cancelled and why."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shop.paper.models import Cancellation, Document
from shop.people.models import Plant


@dataclass(frozen=True)
class DocumentRow:
    """One issued document; `counts` where it is neither replaced nor cancelled."""

    document: Document
    cancellation: Cancellation | None
    replaced: bool

    @property
    def counts(self) -> bool:
        """Return whether it is the one to show."""
        return self.cancellation is None and not self.replaced


def of_subject(kind: str, subject: str) -> list[DocumentRow]:
    """Return the issues of one document, the latest first."""
    rows = Document.objects.filter(kind=kind, subject=subject).order_by("-issue")
    return _rows(rows.select_related("by", "file"))


def of_plant(kind: str, plant: Plant, *, most: int) -> list[DocumentRow]:
    """Return the plant's latest documents of a kind, in two queries."""
    rows = Document.objects.filter(kind=kind, by__plant=plant).order_by("-at", "-id")
    return _rows(rows.select_related("by", "file")[:most])


def _rows(documents: Iterable[Document]) -> list[DocumentRow]:
    found = list(documents)
    ids = [document.pk for document in found]
    cancelled = {row.document_id: row for row in Cancellation.objects.filter(document__in=ids).select_related("by")}
    replaced = set(Document.objects.filter(replaces__in=ids).values_list("replaces_id", flat=True))
    return [DocumentRow(one, cancelled.get(one.pk), one.pk in replaced) for one in found]
