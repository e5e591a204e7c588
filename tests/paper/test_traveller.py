"""The traveller: issued through the page, complete, frozen, replaced, and refused in words where it cannot be made."""

from __future__ import annotations

import re
import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from shop import loop
from shop.bench.models import WorkOrder
from shop.bench.services import planning, working
from shop.bench.states import State
from shop.boards.traveller import traveller
from shop.paper import pdf, services
from shop.paper.models import Document
from shop.people.models import Person, Plant
from shop.tooling.models import Tool
from shop.tooling.services.spec_checks import LimitDraft
from tests import factories
from tests.bench.orders import Hands
from tests.benching import days_ago, only_line, order_in, raised, stoned_tool
from tests.factories import Built, satin
from tests.measuring import open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def hands(lead: Person, polisher: Person, inspector: Person) -> Hands:
    return Hands(lead, polisher, inspector)


@pytest.fixture
def at_desk(client: Client, lead: Person) -> Client:
    client.force_login(lead)
    return client


def issued(client: Client, order: WorkOrder, **fields: Any) -> Document:
    sent = client.post(reverse("issue-traveller", args=[order.pk]), {"ref": str(uuid.uuid4()), **fields})
    assert sent.status_code == 303, sent.content.decode()
    assert sent.headers["Location"] == reverse("work-order", args=[order.pk]) + "#paper"
    return Document.objects.latest("id")


def pages_of(document: Document) -> list[Any]:
    return list(PdfReader(BytesIO(services.read_file(document.file))).pages)


def text_of(document: Document) -> str:
    return " ".join(" ".join(page.extract_text() for page in pages_of(document)).split())


def mixed_tool(lead: Person, cavities: int, **fields: Any) -> Built:
    """Build a tool whose faces are made in different ways."""
    began = days_ago(30)
    built = factories.build_tool(lead, began, cavities=cavities, **fields)
    for number, face in enumerate(built.faces.values()):
        if number % 4 == 0:
            factories.polished(face, lead, began)
        elif number % 4 == 1:
            factories.satin(face, lead, began)
        elif number % 4 == 2:
            factories.by_plaque(face, lead, began)
        else:
            limit = LimitDraft("Ra", "steel", Decimal("1.2"), Decimal("2.4"), "um")
            factories.specify(face, lead, began, [limit], how_made="spark-eroded", scale="VDI 3400", code="24")
    return built


@pytest.mark.parametrize(("size", "points"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_traveller_says_all_that_the_bench_needs(
    at_desk: Client, hands: Hands, size: str, points: tuple[int, int]
) -> None:
    built = stoned_tool(hands.lead, title="Console trim", customer=factories.customer(name="Lumenor", buy_off=True))
    order = order_in(State.PLANNED, list(built.faces.values()), hands)
    planning.add_line(order=order, job="vents cleaned", by=hands.lead, at=timezone.now())
    document = issued(at_desk, order, paper_size=size)
    (first, *_) = pages_of(document)
    assert (round(first.mediabox.width), round(first.mediabox.height)) == points
    words = text_of(document)
    for said in (order.number, built.tool.number, "Console trim", "Lumenor", "Ivo Brandt", "vents cleaned"):
        assert said in words
    for line in order.lines.open().filter(face__isnull=False):
        assert str(line.face) in words
        for step in line.steps.all():
            assert step.medium in words
            assert step.grain_words in words
    for said in (
        "FEPA F", "scratch or drag was reported", "beside the gate", "at most 0.60 µm", "1.2343, 52 HRC",
        "no gloves at spindles", "nobody under the load", "Steel passed at the bench", "Parts passed at the press",
        "Customer's buy-off", "Released, by another person than the polisher", "Local touch-up",
    ):  # fmt: skip
        assert said in words, words


def test_every_page_says_which_paper_it_is_and_its_number(at_desk: Client, hands: Hands) -> None:
    built = mixed_tool(hands.lead, 16, title="Door panel upper left with grained insert, sixteen cavities, family tool")
    order = raised(list(built.faces.values()), hands.lead, days_ago(2))
    document = issued(at_desk, order, paper_size="A4")
    pages = pages_of(document)
    assert len(pages) > 3
    for number, page in enumerate(pages, start=1):
        assert document.number in page.extract_text()
        assert f"{number} / {len(pages)}" in page.extract_text()
    words = text_of(document)
    for face in built.faces.values():
        assert str(face) in words
    for medium in ("abrasive paper", "glass bead", "texture house", "CAMI 400"):
        assert medium in words


@pytest.mark.parametrize("size", pdf.SIZES)
def test_traveller_of_one_face_fits_on_one_page(at_desk: Client, hands: Hands, size: str) -> None:
    order = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands)
    assert len(pages_of(issued(at_desk, order, paper_size=size))) == 1


def test_traveller_issued_again_replaces_and_both_are_kept(at_desk: Client, hands: Hands) -> None:
    order = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands)
    first = issued(at_desk, order)
    second = issued(at_desk, order)
    assert (first.number, second.number, second.replaces) == (f"{order.number}-T", f"{order.number}-T-2", first)
    words = at_desk.get(reverse("work-order", args=[order.pk])).content.decode()
    assert words.index(second.number) < words.index(f"{first.number}<")
    assert "replaced by a later issue" in words


def test_double_tap_issues_one(at_desk: Client, hands: Hands) -> None:
    order = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands)
    ref = str(uuid.uuid4())
    assert issued(at_desk, order, ref=ref) == issued(at_desk, order, ref=ref)
    assert Document.objects.count() == 1


def test_what_was_issued_does_not_change_with_the_tool_or_the_work(at_desk: Client, hands: Hands) -> None:
    order = order_in(State.ON_THE_BENCH, [stoned_tool(hands.lead, title="Console trim").face], hands)
    document = issued(at_desk, order)
    kept, snapshot = services.read_file(document.file), document.snapshot
    Tool.objects.filter(pk=order.tool_id).update(title="Another title")
    working.step_done(step=only_line(order).steps.get(number=1), by=hands.polisher, at=timezone.now())
    shown = at_desk.get(reverse("document", args=[document.number]))
    assert shown.content == kept
    document.refresh_from_db()
    assert document.snapshot == snapshot
    assert "Console trim" in text_of(document)
    again = issued(at_desk, order)
    assert "Another title" in text_of(again)
    assert "Ivo Brandt" in again.snapshot["lines"][0]["steps"][0]["done"]


def test_document_opens_as_pdf_in_the_browser_and_only_for_its_plant(
    at_desk: Client, hands: Hands, person_of: Any
) -> None:
    document = issued(at_desk, order_in(State.RAISED, [stoned_tool(hands.lead).face], hands))
    address = reverse("document", args=[document.number])
    at_desk.force_login(person_of("viewer"))
    shown = at_desk.get(address)
    assert shown.headers["Content-Type"] == "application/pdf"
    assert shown.headers["Content-Disposition"] == f'inline; filename="{document.number}.pdf"'
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.content.startswith(b"%PDF")
    at_desk.force_login(person_of("owner", plant=Plant.objects.create(name="Elsewhere")))
    assert at_desk.get(address).status_code == 404


def test_paper_is_issued_at_the_bench_and_by_sending_the_form(client: Client, hands: Hands, person_of: Any) -> None:
    order = order_in(State.PLANNED, [stoned_tool(hands.lead).face], hands)
    address = reverse("issue-traveller", args=[order.pk])
    for role, status in (("polisher", 303), ("owner", 303), ("press", 403), ("quality", 403), ("viewer", 403)):
        client.force_login(person_of(role))
        assert client.post(address, {"ref": str(uuid.uuid4())}).status_code == status, role
    client.force_login(hands.lead)
    assert client.get(address).status_code == 405


def test_paper_of_a_size_that_is_not_known_is_the_plants_own(at_desk: Client, hands: Hands, plant: Plant) -> None:
    order = order_in(State.RAISED, [stoned_tool(hands.lead).face], hands)
    assert issued(at_desk, order, paper_size="A3").paper_size == plant.paper_size


def test_without_pango_the_page_says_what_to_install_and_a_form_sent_is_answered(
    at_desk: Client, hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = order_in(State.RAISED, [stoned_tool(hands.lead).face], hands)
    monkeypatch.setattr(pdf, "available", lambda: pdf.INSTALL)
    page = at_desk.get(reverse("work-order", args=[order.pk])).content.decode()
    assert "apt-get install libpango-1.0-0" in page
    assert "Issue the traveller" not in page
    sent = at_desk.post(reverse("issue-traveller", args=[order.pk]), {"paper_size": "A4"})
    assert sent.status_code == 422
    assert re.search(r'role="alert".*?apt-get install libpango', sent.content.decode(), re.DOTALL)
    assert not Document.objects.exists()


def test_pictures_on_paper_carry_their_ink_and_mark_the_faces_of_the_visit(hands: Hands) -> None:
    built = stoned_tool(hands.lead, cavities=2)
    order = order_in(State.RAISED, [built.face], hands)
    snapshot = traveller(order, timezone.now(), address="https://shop.example/work-orders/1/")
    (shown,) = snapshot["maps"]
    assert "<style>" in shown["svg"]
    assert 'class="is-chosen"' in shown["svg"]
    assert "<style>" in snapshot["lines"][0]["steel_bar"]
    assert snapshot["qr"].count("<svg") == 1


def test_inserts_that_look_alike_share_one_picture(hands: Hands) -> None:
    built = stoned_tool(hands.lead, cavities=3)
    for face in built.faces.values():
        type(face).objects.filter(pk=face.pk).update(name="show")
    order = order_in(State.RAISED, list(built.faces.values()), hands)
    snapshot = traveller(order, timezone.now(), address="https://shop.example/work-orders/1/")
    assert [one["title"] for one in snapshot["maps"]] == ["1 · 1, 2 · 2, 3 · 3"]


def test_due_order_of_a_house_names_the_house_and_the_day(hands: Hands) -> None:
    order = order_in(State.SENT_OUT, [stoned_tool(hands.lead).face], hands)
    snapshot = traveller(order, timezone.now(), address="x")
    assert (snapshot["order"]["house"], snapshot["order"]["polisher"]) == ("House 0", "Ivo Brandt")
    assert snapshot["order"]["due"] != "–"
    assert timezone.localdate() - timedelta(days=4) <= order.due_on <= timezone.localdate()


def test_face_that_wears_brings_its_trend_along_and_one_that_was_damaged_does_not(
    lead: Person, press_tech: Person, inspector: Person, at: datetime
) -> None:
    shop = open_shop(lead, press_tech, inspector, at)
    satin(shop.face, lead, at)
    for day, value in enumerate((3.0, 3.4, 3.8, 4.3), start=1):
        shop.shoot(day, 5000)
        shop.read(day + 0.1, value)
    loop.brought_up_to_date([shop.face.pk], at=shop.day(5))
    order = WorkOrder.objects.get()
    line = traveller(order, shop.day(5), address="x", reader=lead)["lines"][0]
    assert 'class="drawing trend-chart"' in line["trend"]
    assert "<style>" in line["trend"]
    order.lines.update(cause="damage")
    assert traveller(order, shop.day(5), address="x", reader=lead)["lines"][0]["trend"] == ""
