"""Files are what was stored, and a document is issued once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from pypdf import PdfReader

from shop.paper import pdf, services
from shop.paper.models import Document, StoredFile
from shop.people.models import Person
from shop.refusal import Refused

SHEET = """{% load static %}<html lang="{{ document.language }}"><head><title>{{ document.number }}</title></head>
<body><h1>{{ document.number }} issue {{ document.issue }}</h1>
<p>{{ tool }} takes {{ depth }}</p><p>{{ document.by }} {{ document.at }}</p></body></html>"""


@pytest.fixture(autouse=True)
def sheets(settings: Any, tmp_path: Path) -> Path:
    """A directory of templates for this test."""
    directory = tmp_path / "templates"
    directory.mkdir()
    (directory / "sheet.html").write_text(SHEET)
    options = {**settings.TEMPLATES[0], "DIRS": [directory], "OPTIONS": {}}
    settings.TEMPLATES = [options]
    return directory


def issue(by: Person, at: datetime, **changed: Any) -> Document:
    return services.issue(
        **{
            "kind": "traveller", "subject": "bench:1", "number": "WO-0001", "template": "sheet.html",
            "snapshot": {"tool": "T-1 Cover", "depth": "12 µm"}, "language": "en", "paper_size": "A4", "by": by,
            "at": at, **changed,
        }
    )  # fmt: skip


def text_of(document: Document) -> str:
    return "\n".join(page.extract_text() for page in PdfReader(BytesIO(services.read_file(document.file))).pages)


@pytest.mark.django_db
def test_stored_file_is_read_back_as_it_was(lead: Person, polisher: Person, at: datetime) -> None:
    stored = services.store_file(content=b"\x89PNG", name="../../gate.png", media_type="image/png", by=lead, at=at)
    assert services.read_file(stored) == b"\x89PNG"
    assert (stored.name, stored.size, stored.stored_by, stored.stored_at) == ("gate.png", 4, lead, at)
    again = services.store_file(content=b"\x89PNG", name="other.png", media_type="image/png", by=polisher, at=at)
    assert again == stored
    assert StoredFile.objects.count() == 1


@pytest.mark.django_db
def test_file_altered_on_disk_is_not_handed_out(lead: Person, at: datetime, media: Path) -> None:
    stored = services.store_file(content=b"good", name="a.txt", media_type="text/plain", by=lead, at=at)
    [kept] = [path for path in media.rglob("*") if path.is_file()]
    kept.write_bytes(b"evil")
    with pytest.raises(Refused, match="altered") as refused:
        services.read_file(stored)
    assert refused.value.code == "file.not_as_stored"
    kept.unlink()
    with pytest.raises(Refused, match="missing"):
        services.read_file(stored)
    services.store_file(content=b"good", name="a.txt", media_type="text/plain", by=lead, at=at)
    assert services.read_file(stored) == b"good"


@pytest.mark.django_db
def test_empty_file_is_refused(lead: Person, at: datetime) -> None:
    with pytest.raises(Refused, match="empty"):
        services.store_file(content=b"", name="a.txt", media_type="text/plain", by=lead, at=at)


@pytest.mark.django_db
@pytest.mark.parametrize(("size", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_document_is_drawn_on_the_paper_asked_for(
    lead: Person, at: datetime, size: str, points: tuple[int, int]
) -> None:
    document = issue(lead, at, paper_size=size)
    [page] = PdfReader(BytesIO(services.read_file(document.file))).pages
    assert (round(page.mediabox.width), round(page.mediabox.height)) == points
    assert "Source-Sans-Pro" in "".join(font["/BaseFont"] for font in fonts_of(page))
    assert text_of(document).split("\n") == [
        "WO-0001 issue 1", "T-1 Cover takes 12 µm", "Vera Lind 4 Mar 2024, 09:00",
    ]  # fmt: skip


@pytest.mark.django_db
def test_document_issued_again_replaces_and_both_are_kept(lead: Person, at: datetime) -> None:
    first = issue(lead, at)
    second = issue(lead, at + timedelta(days=1), snapshot={"tool": "T-1 Cover", "depth": "15 µm"})
    assert (second.number, second.issue, second.replaces) == ("WO-0001-2", 2, first)
    assert "12 µm" in text_of(first)
    assert "15 µm" in text_of(second)
    assert issue(lead, at).number == "WO-0001-3"


@pytest.mark.django_db
def test_document_sent_twice_is_issued_once(lead: Person, at: datetime) -> None:
    ref = uuid4()
    assert issue(lead, at, ref=ref) == issue(lead, at + timedelta(seconds=1), ref=ref)
    assert Document.objects.count() == 1


@pytest.mark.django_db
def test_number_of_another_document_is_refused(lead: Person, at: datetime) -> None:
    issue(lead, at)
    with pytest.raises(Refused) as refused:
        issue(lead, at, subject="bench:2")
    assert refused.value.code == "document.number_taken"


@pytest.mark.django_db(transaction=True)
def test_documents_issued_at_the_same_moment_get_numbers_of_their_own(lead: Person, at: datetime) -> None:
    issue(lead, at)

    def print_it(_: int) -> tuple[str, int]:
        try:
            document = issue(lead, at)
            return document.number, document.issue
        finally:
            connection.close()

    with ThreadPoolExecutor(3) as desks:
        numbers = sorted(desks.map(print_it, range(3)))
    assert numbers == [("WO-0001-2", 2), ("WO-0001-3", 3), ("WO-0001-4", 4)]


@pytest.mark.django_db
def test_document_is_cancelled_once_with_a_reason(lead: Person, polisher: Person, at: datetime) -> None:
    document = issue(lead, at)
    with pytest.raises(Refused) as refused:
        services.cancel(document=document, why="  ", by=lead, at=at)
    assert refused.value.code == "document.cancel_says_why"
    assert services.cancel(document=document, why="wrong tool", by=lead, at=at).document == document
    with pytest.raises(Refused, match="Vera Lind"):
        services.cancel(document=document, why="again", by=polisher, at=at)
    assert "12 µm" in text_of(document)


@pytest.mark.django_db
def test_issue_that_replaces_nothing_is_refused_by_the_database(lead: Person, at: datetime) -> None:
    first = issue(lead, at)
    with pytest.raises(IntegrityError, match="document_reissue_replaces"), transaction.atomic():
        Document.objects.create(
            kind="traveller", number="X", subject="bench:1", issue=2, language="en", paper_size="A4", snapshot={},
            file=first.file, by=lead, at=at,
        )  # fmt: skip


@pytest.mark.django_db
@pytest.mark.parametrize(
    "wish",
    ['<img src="http://127.0.0.1:1/x.png">', '<img src="file:///etc/hostname">', '<img src="/static/not/there.png">',
     '<link rel="stylesheet" href="//elsewhere.invalid/x.css">', '<img src="/static/../settings.py">'],
)  # fmt: skip
def test_document_that_asks_for_something_else_is_not_issued(
    lead: Person, at: datetime, sheets: Path, wish: str
) -> None:
    (sheets / "greedy.html").write_text(f"<html><head><title>x</title></head><body>{wish}</body></html>")
    with pytest.raises(pdf.FetchedElsewhereError):
        issue(lead, at, template="greedy.html")
    assert not Document.objects.exists()


@pytest.mark.django_db
def test_document_may_show_what_the_product_ships(lead: Person, at: datetime, sheets: Path) -> None:
    (sheets / "own.html").write_text(
        '{% load static %}<html><head><title>x</title><link rel="stylesheet" href="{% static "shop/print.css" %}">'
        '</head><body><img alt="" src="data:image/gif;base64,R0lGODlhAQABAIAAAAAAAP///yH5BAEAAAAALAAAAAABAAEAAAIBRAA7">'
        "</body></html>"
    )
    assert issue(lead, at, template="own.html").pk


@pytest.mark.django_db
def test_without_pango_paper_says_what_to_install(
    lead: Person, at: datetime, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pdf, "available", lambda: pdf.INSTALL)
    with pytest.raises(Refused) as refused:
        issue(lead, at)
    assert refused.value.code == "paper.no_pango"
    assert "apt-get install libpango-1.0-0" in refused.value.plain()


def fonts_of(page: Any) -> list[Any]:
    return [font.get_object() for font in page["/Resources"]["/Font"].values()]
