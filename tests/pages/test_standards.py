"""Standards check in the browser and on paper: recomputed, filtered by address, issued once with its version."""

from __future__ import annotations

import uuid
from dataclasses import replace
from io import BytesIO, StringIO
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from shop import __version__
from shop.boards import printed, standards_check
from shop.paper import services
from shop.paper.models import Document
from shop.people.models import Person

pytestmark = pytest.mark.django_db


@pytest.fixture
def page(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


@pytest.fixture
def few(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a paper carry one area only, where a test asks for no more."""
    rows = tuple(each for each in standards_check.run() if each.check.area == "uncertainty and agreement")
    monkeypatch.setattr(standards_check, "run", lambda: rows)


def words(page: Client, query: str = "") -> str:
    return page.get(reverse("standards-check") + query).content.decode()


def test_page_counts_every_area(page: Client) -> None:
    shown = words(page)
    assert f"All {len(standards_check.every_check())} printed values are met" in shown
    for area in standards_check.by_area(standards_check.run()):
        assert area.area.capitalize() in shown
    assert "<th scope=\"row\">30 HRC" not in shown


def test_page_shows_the_rows_that_its_address_asks_for(page: Client) -> None:
    shown = words(page, "?area=hardness")
    assert "48 rows" in shown
    assert "ASTM E140" in shown
    assert "No row is so" in words(page, "?area=hardness&standing=common+practice")


def test_page_marks_what_is_from_memory(page: Client) -> None:
    shown = words(page, "?standing=from+memory")
    assert "peak flow, two meters" in shown
    assert "<strong>from memory</strong>" in shown
    assert "1000 HRC" not in shown


def test_page_turns_red_where_print_is_not_met(
    page: Client, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    for path in printed.FOLDER.glob("*.csv"):
        text = path.read_text(encoding="utf-8")
        (tmp_path / path.name).write_text(text.replace("30,302,286", "30,999,286"), encoding="utf-8")
    monkeypatch.setattr(printed, "FOLDER", tmp_path)
    shown = words(page, "?outside=1")
    assert "are not met on this installation" in shown
    assert "999 HV" in shown


@pytest.mark.usefixtures("few")
def test_paper_is_issued_with_its_version_and_kept(page: Client, inspector: Person) -> None:
    answer = page.post(reverse("issue-standards-check"), {"ref": str(uuid.uuid4()), "paper_size": "Letter"})
    assert answer.status_code == 303
    document = Document.objects.get(kind="standards")
    text = "\n".join(sheet.extract_text() for sheet in PdfReader(BytesIO(services.read_file(document.file))).pages)
    assert f"Facewright {__version__}" in text
    assert inspector.name in text
    assert "peak flow, two meters" in text
    assert document.number in words(page)


@pytest.mark.usefixtures("few")
def test_paper_sent_twice_is_issued_once(page: Client) -> None:
    sent = {"ref": str(uuid.uuid4()), "paper_size": "A4"}
    for _ in range(2):
        assert page.post(reverse("issue-standards-check"), sent).status_code == 303
    assert Document.objects.count() == 1


def test_command_issues_the_paper_and_writes_a_copy(lead: Person, tmp_path: Path) -> None:
    out, path = StringIO(), tmp_path / "check.pdf"
    call_command("standards_check", "--pdf", str(path), stdout=out)
    document = Document.objects.get()
    assert len(document.snapshot["areas"]) == len(standards_check.AREA_WORDS)
    assert path.read_bytes() == services.read_file(document.file)
    assert document.by.name == "Facewright"
    assert document.file.sha256 in out.getvalue()


def test_command_without_a_plant_says_so(tmp_path: Path) -> None:
    with pytest.raises(CommandError, match="No plant") as ended:
        call_command("standards_check", "--pdf", str(tmp_path / "check.pdf"), stdout=StringIO())
    assert ended.value.returncode == 2


def test_every_area_has_its_word_for_the_catalogues() -> None:
    assert {check.area for check in standards_check.every_check()} == set(standards_check.AREA_WORDS)


def test_asking_lets_only_what_was_asked_for_through() -> None:
    [one, *_rest] = standards_check.run()
    asked: Any = standards_check.Asked(outside=True)
    assert not asked.lets(one)
    assert asked.lets(replace(one, within=False))
