"""The writers of paper: files kept by their hash, documents issued once, issued again, cancelled."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any
from uuid import UUID, uuid4

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import transaction
from django.template.loader import render_to_string
from django.utils import translation

from shop.ledger.services import hold, once
from shop.paper import pdf
from shop.paper.models import Cancellation, Document, StoredFile
from shop.people import wording
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop


def store_file(*, content: bytes, name: str, media_type: str, by: Person, at: datetime) -> StoredFile:
    """Keep a file under its hash; the same content again is the same file.

    Raises
    ------
    Refused
        When there is nothing in it.
    """
    if not content:
        raise Refused(
            "file.empty",
            gettext_noop("{name} is empty."),
            next_step=gettext_noop("Choose the file again."),
            field="file",
            name=name,
        )
    sha256 = hashlib.sha256(content).hexdigest()
    _put_on_disk(_path(sha256), content, sha256)
    stored, _made = StoredFile.objects.get_or_create(
        sha256=sha256,
        defaults={
            "name": Path(name).name[:200], "media_type": media_type[:80], "size": len(content), "stored_by": by,
            "stored_at": at,
        },
    )  # fmt: skip
    return stored


def read_file(stored: StoredFile) -> bytes:
    """Return a file's content, after checking that it is what was stored.

    Raises
    ------
    Refused
        When the file is gone from the disk, or is not what was stored.
    """
    try:
        content = _path(stored.sha256).read_bytes()
    except FileNotFoundError:
        content = b""
    if hashlib.sha256(content).hexdigest() != stored.sha256:
        raise Refused(
            "file.not_as_stored",
            gettext_noop("{name} is missing on the disk or was altered there: its hash is not {sha256}."),
            next_step=gettext_noop("Put the file back from a backup of the files directory."),
            name=stored.name,
            sha256=stored.sha256,
        )
    return content


@once("paper.issue", Document, timed=False)
def issue(
    *,
    kind: str,
    subject: str,
    number: str,
    template: str,
    snapshot: Mapping[str, Any],
    language: str,
    paper_size: str,
    by: Person,
    at: datetime,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Document:
    """Issue a document from a frozen snapshot; one that was issued for the same subject before is replaced.

    The template sees the snapshot's own names, and `document` with number, issue, language, paper size and who
    issued it when; nothing else.

    Raises
    ------
    Refused
        When the number belongs to another subject, or Pango is missing.
    """
    hold(f"{kind} {subject}")
    before = Document.objects.filter(kind=kind, subject=subject).order_by("issue").last()
    edition = before.issue + 1 if before else 1
    its_number = number if edition == 1 else f"{number}-{edition}"
    _check_number_is_free(its_number)
    frozen = _frozen(snapshot, its_number, edition, language=language, paper_size=paper_size, by=by, at=at)
    with wording.reading_as(by), translation.override(language):
        content = pdf.render(render_to_string(template, frozen), paper_size)
    file = store_file(content=content, name=f"{its_number}.pdf", media_type="application/pdf", by=by, at=at)
    return Document.objects.create(
        kind=kind, number=its_number, subject=subject, issue=edition, language=language, paper_size=paper_size,
        snapshot=frozen, file=file, replaces=before, by=by, at=at,
    )  # fmt: skip


@transaction.atomic
def cancel(*, document: Document, why: str, by: Person, at: datetime) -> Cancellation:
    """Take a document out of use; its bytes stay.

    Raises
    ------
    Refused
        Without a reason, or when it is cancelled already.
    """
    why = why.strip()
    if not why:
        raise Refused(
            "document.cancel_says_why",
            gettext_noop("{number} is not cancelled without a reason."),
            next_step=gettext_noop("Say in a few words why it no longer counts."),
            field="why",
            number=document.number,
        )
    hold(f"cancel {document.pk}")
    if earlier := Cancellation.objects.filter(document=document).select_related("by").first():
        raise Refused(
            "document.cancelled_before",
            gettext_noop("{number} was cancelled by {who} at {when}."),
            next_step=gettext_noop("Nothing is left to do."),
            number=document.number,
            who=earlier.by.name,
            when=earlier.at,
        )
    return Cancellation.objects.create(document=document, why=why, by=by, at=at)


def _check_number_is_free(number: str) -> None:
    hold(f"document {number}")
    if taken := Document.objects.filter(number=number).first():
        raise Refused(
            "document.number_taken",
            gettext_noop("Number {number} belongs to another document, issued at {when}."),
            next_step=gettext_noop("Choose another number."),
            field="number",
            number=number,
            when=taken.at,
        )


def _frozen(
    snapshot: Mapping[str, Any], number: str, edition: int, *, language: str, paper_size: str, by: Person, at: datetime
) -> dict[str, Any]:
    """Return the snapshot as it will be read back from the database, so that what is drawn is what is kept."""
    with wording.reading_as(by), translation.override(language):
        document = {
            "number": number, "issue": edition, "language": language, "paper_size": paper_size, "by": by.name,
            "at": wording.moment(at),
        }  # fmt: skip
    frozen: dict[str, Any] = json.loads(json.dumps({**snapshot, "document": document}, cls=DjangoJSONEncoder))
    return frozen


def _path(sha256: str) -> Path:
    return Path(settings.MEDIA_ROOT) / sha256[:2] / sha256


def _put_on_disk(path: Path, content: bytes, sha256: str) -> None:
    """Write all of a file or nothing, also when the power goes; what is there already and right stays."""
    with suppress(FileNotFoundError):
        if hashlib.sha256(path.read_bytes()).hexdigest() == sha256:
            return
    path.parent.mkdir(parents=True, exist_ok=True)
    half = path.with_name(f".{path.name}.{uuid4().hex}")
    with open(half, "wb") as out:
        out.write(content)
        out.flush()
        os.fsync(out.fileno())
    half.replace(path)
