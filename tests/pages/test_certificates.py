"""Certificates: what they say, that they are frozen, issued again, cancelled, and refused where nothing is proven."""

from __future__ import annotations

import uuid
from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from shop.bench.models import WorkOrder
from shop.bench.states import State
from shop.boards import certified
from shop.paper import services
from shop.paper.models import Document
from shop.people.models import Person
from shop.quality.services import unfit
from shop.refusal import Refused
from shop.tooling.services import specs
from tests import factories
from tests.bench.orders import Hands, order_at
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, at, cavities=1)
    factories.satin(made.face, lead, at)
    return made


@pytest.fixture
def page(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


@pytest.fixture
def released(lead: Person, polisher: Person, inspector: Person, at: datetime) -> WorkOrder:
    built = factories.build_tool(lead, at - timedelta(days=30))
    limits = [
        factories.LimitDraft("Ra", "steel", None, Decimal("0.6"), "um"),
        factories.LimitDraft("gloss", "part", Decimal(2), Decimal(4), "GU", geometry_deg=60),
    ]
    factories.specify(built.face, lead, at - timedelta(days=30), limits, acceptance="simple")
    return order_at(State.RELEASED, [built.face], Hands(lead, polisher, inspector), at)


def issue(page: Client, name: str, pk: int, **fields: Any) -> Any:
    return page.post(reverse(name, args=[pk]), {"ref": str(uuid.uuid4()), "paper_size": "A4", **fields})


def text_of(document: Document) -> str:
    sheets = PdfReader(BytesIO(services.read_file(document.file))).pages
    return " ".join(" ".join(sheet.extract_text().split()) for sheet in sheets)


def test_certificate_of_a_face_says_all_that_proves_it(page: Client, shop: Shop) -> None:
    shop.shoot(1, 500)
    shop.read(1.5, "3.0", geometry_deg=60)
    assert issue(page, "certificate-face", shop.face.pk).status_code == 303
    document = Document.objects.get(kind="certificate")
    assert document.subject == f"face:{shop.face.pk}"
    [face] = document.snapshot["faces"]
    [verdict] = face["verdicts"]
    assert (verdict["outcome"], verdict["readings"][0]["gauge"]) == ("yes", "G-1")
    assert verdict["readings"][0]["due"] == "4 Mar 2027"
    text = text_of(document)
    for words in ("Conforms to its specification", "G-1 (calibrated until 4 Mar 2027)", "ISO 21920-3:2021",
                  "revision 1", "Steel left", shop.inspector.name, "of 95 % required"):  # fmt: skip
        assert words in text.replace("\u202f", " ").replace("\u00a0", " "), words


def test_certificate_of_a_tool_carries_the_signatures_of_its_release(page: Client, released: WorkOrder) -> None:
    assert issue(page, "certificate-order", released.pk).status_code == 303
    document = Document.objects.get(kind="certificate")
    assert document.subject == f"tool:{released.tool_id}"
    assert [sign["stage"] for sign in document.snapshot["signs"]] == ["steel", "parts", "release"]
    [face] = document.snapshot["faces"]
    assert {(one["what"], one["outcome"]) for one in face["verdicts"]} == {("Ra", "yes"), ("gloss 60°", "yes")}
    assert released.number in text_of(document)


def test_face_certificate_names_the_order_that_released_it(released: WorkOrder, at: datetime) -> None:
    face = released.lines.get().face
    assert face is not None
    found = certified.of_face(face, at + timedelta(days=1))
    assert found.order == released
    assert found.outcome == "yes"


def test_certificate_names_the_concession_and_its_limit(page: Client, shop: Shop) -> None:
    specs.grant_concession(
        face=shop.face, number="CC-7", parameter="gloss", upper=Decimal("5.0"), reason="dark colour",
        until_on=date(2024, 6, 1), by=shop.lead, at=shop.day(1),
    )  # fmt: skip
    shop.read(1.5, "4.5", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk)
    document = Document.objects.get(kind="certificate")
    assert "with the concession" in document.snapshot["statement"]
    assert "CC-7" in document.snapshot["faces"][0]["concessions"][0]


def test_certificate_says_openly_what_is_off_spec(page: Client, shop: Shop) -> None:
    shop.read(1.5, "4.6", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk)
    assert "Does not conform" in text_of(Document.objects.get(kind="certificate"))


def test_issued_certificate_does_not_change_and_a_second_one_replaces_it(page: Client, shop: Shop) -> None:
    shop.read(1.5, "3.0", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk)
    first = Document.objects.get(kind="certificate")
    kept = services.read_file(first.file)
    shop.read(2, "3.2", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk, paper_size="Letter")
    second = Document.objects.get(replaces=first)
    assert second.number == f"{first.number}-2"
    assert services.read_file(first.file) == kept
    assert "3.2" in second.snapshot["faces"][0]["verdicts"][0]["value"]
    shown = page.get(reverse("certificates")).content.decode()
    assert "replaced by a later issue" in shown


def test_certificate_is_in_the_language_of_its_reader(page: Client, shop: Shop, inspector: Person) -> None:
    inspector.language = "de"
    inspector.save(update_fields=["language"])
    shop.read(1.5, "3.0", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk)
    document = Document.objects.get(kind="certificate")
    assert document.language == "de"
    assert document.snapshot["faces"][0]["verdicts"][0]["words"] == "konform"


def test_nothing_measured_is_not_certified(page: Client, shop: Shop) -> None:
    answer = issue(page, "certificate-face", shop.face.pk)
    assert answer.status_code == 422
    assert "nothing to certify" in answer.content.decode()
    assert not Document.objects.exists()


def test_reading_of_an_unfit_gauge_is_not_certified(page: Client, shop: Shop) -> None:
    shop.read(1.5, "3.0", geometry_deg=60)
    unfit.find_unfit(gauge=shop.gloss, why="dropped", by=shop.inspector, at=shop.day(2))
    answer = issue(page, "certificate-face", shop.face.pk)
    assert answer.status_code == 422
    assert "found unfit" in answer.content.decode()
    with pytest.raises(Refused) as refused:
        certified.check(certified.of_face(shop.face, shop.day(3)))
    assert refused.value.code == "certificate.in_doubt"


def test_finding_about_an_unfit_gauge_opens_the_certificates_that_rest_on_it(page: Client, shop: Shop) -> None:
    shop.read(1.5, "3.0", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk)
    finding = unfit.find_unfit(gauge=shop.gloss, why="dropped", by=shop.inspector, at=shop.day(2))
    document = Document.objects.get(kind="certificate")
    shown = page.get(reverse("unfit-finding", args=[finding.pk])).content.decode()
    assert reverse("document", args=[document.number]) in shown


def test_order_that_is_not_released_has_no_certificate(page: Client, released: WorkOrder) -> None:
    WorkOrder.objects.filter(pk=released.pk).update(state=State.PARTS_CHECK, closed_at=None)
    assert issue(page, "certificate-order", released.pk).status_code == 404


def test_certificate_is_cancelled_with_a_reason_and_stays(page: Client, shop: Shop) -> None:
    shop.read(1.5, "3.0", geometry_deg=60)
    issue(page, "certificate-face", shop.face.pk)
    document = Document.objects.get(kind="certificate")
    address = reverse("document-cancel", args=[document.number])
    assert page.post(address, {"why": " "}).status_code == 422
    assert page.post(address, {"why": "wrong part revision"}).status_code == 303
    assert page.post(address, {"why": "again"}).status_code == 422
    assert "wrong part revision" in page.get(reverse("certificates")).content.decode()
    assert page.get(reverse("document", args=[document.number])).status_code == 200


def test_what_a_face_rests_on_takes_a_fixed_number_of_queries(
    shop: Shop, django_assert_num_queries: Any
) -> None:
    for day in range(1, 4):
        shop.read(day, "3.0", geometry_deg=60)
        shop.read(day + 0.2, "3.1", geometry_deg=60, spot=shop.spot("end of fill"))
    with django_assert_num_queries(9):
        found = certified.of_face(shop.face, shop.day(5))
    assert len(found.faces[0].judged) == 2


@pytest.mark.parametrize("role", ["polisher", "press", "engineer", "viewer"])
def test_other_roles_read_but_do_not_issue(client: Client, shop: Shop, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    address = reverse("certificate-face", args=[shop.face.pk])
    shown = client.get(address)
    assert shown.status_code == 200
    assert "Issue the certificate" not in shown.content.decode()
    assert client.post(address, {}).status_code == 403
