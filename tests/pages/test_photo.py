"""A photo is known by its first bytes, kept as what it is, and opened where nothing in it can run."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.pages.photo import image_type
from shop.paper.models import StoredFile
from shop.paper.services import store_file
from shop.people.models import Person, Plant
from shop.press.models import Damage
from tests.benching import stoned_tool
from tests.factories import Built

pytestmark = pytest.mark.django_db

PNG = b"\x89PNG\r\n\x1a\n" + b"\x00" * 20
JPEG = b"\xff\xd8\xff\xe0" + b"\x00" * 20
GIF = b"GIF89a" + b"\x00" * 20
WEBP = b"RIFF\x10\x00\x00\x00WEBPVP8 " + b"\x00" * 8
HEIC = b"\x00\x00\x00\x18ftypheic" + b"\x00" * 12
SVG = b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>'
HTML = b"<!doctype html><script>alert(1)</script>"


@pytest.fixture
def built(lead: Person) -> Built:
    return stoned_tool(lead)


def reported(client: Client, built: Built, content: bytes, name: str, media_type: str) -> Any:
    sent = {
        "kind": "scratch", "note": "at the ejector", "ref": str(uuid.uuid4()),
        "photo": SimpleUploadedFile(name, content, content_type=media_type),
    }  # fmt: skip
    return client.post(reverse("damage", args=[built.tool.pk]), sent)


@pytest.mark.parametrize(
    ("content", "media_type"),
    [(PNG, "image/png"), (JPEG, "image/jpeg"), (GIF, "image/gif"), (WEBP, "image/webp")],
)
def test_photo_is_kept_as_what_it_is_whatever_the_device_calls_it(
    client: Client, press_tech: Person, built: Built, content: bytes, media_type: str
) -> None:
    client.force_login(press_tech)
    assert reported(client, built, content, "scratch.svg", "image/svg+xml").status_code == 303
    kept = StoredFile.objects.get()
    assert (kept.media_type, kept.name.partition(".")[0]) == (media_type, "scratch")
    assert not kept.name.endswith(".svg")
    shown = client.get(reverse("file", args=[kept.sha256]))
    assert (shown.content, shown.headers["Content-Type"]) == (content, media_type)
    assert shown.headers["Content-Security-Policy"] == "default-src 'none'; sandbox"
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.headers["Content-Disposition"].startswith("inline")


@pytest.mark.parametrize("content", [SVG, HTML, HEIC, b"", b"RIFF\x10\x00\x00\x00WAVE", b"%PDF-1.7"])
def test_what_is_no_photo_is_refused_in_words_and_the_note_is_kept(
    client: Client, press_tech: Person, built: Built, content: bytes
) -> None:
    client.force_login(press_tech)
    kept = reported(client, built, content or b" ", "scratch.png", "image/png")
    assert kept.status_code == 422
    assert "JPEG, PNG, WebP or GIF" in kept.content.decode()
    assert "at the ejector" in kept.content.decode()
    assert not StoredFile.objects.exists()
    assert not Damage.objects.exists()
    assert image_type(content) == ""


def test_file_of_another_kind_that_is_kept_is_handed_out_and_not_shown(
    client: Client, press_tech: Person, built: Built
) -> None:
    drawn = store_file(content=SVG, name="old.svg", media_type="image/svg+xml", by=press_tech, at=timezone.now())
    Damage.objects.create(tool=built.tool, kind="scratch", photo=drawn, by=press_tech, at=timezone.now())
    client.force_login(press_tech)
    shown = client.get(reverse("file", args=[drawn.sha256]))
    assert shown.headers["Content-Type"] == "application/octet-stream"
    assert shown.headers["Content-Disposition"] == 'attachment; filename="old.svg"'
    assert "sandbox" in shown.headers["Content-Security-Policy"]


def test_photo_of_another_plant_is_not_found(client: Client, press_tech: Person, built: Built, person_of: Any) -> None:
    client.force_login(press_tech)
    reported(client, built, PNG, "scratch.png", "image/png")
    address = reverse("file", args=[StoredFile.objects.get().sha256])
    client.force_login(person_of("owner", plant=Plant.objects.create(name="Elsewhere")))
    assert client.get(address).status_code == 404
