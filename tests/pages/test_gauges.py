"""Gauges: the list with states, one gauge's acts, comparisons in pairs, and what a reading is worth."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from shop.boards.gauges import gauge_rows, gauges_of
from shop.people.models import Person, Plant
from shop.quality.models import Calibration, Gauge, GaugeOffset, TileCheck, UnfitFinding
from shop.quality.services import gauges, tiles
from tests.factories import satin
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, timezone.now() - timedelta(days=10), cavities=1)
    satin(made.face, lead, made.start)
    return made


@pytest.fixture
def signed_in(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def send(client: Client, gauge: Gauge, do: str, **fields: Any) -> Any:
    return client.post(reverse("gauge", args=[gauge.pk]), {"do": do, "ref": str(uuid.uuid4()), **fields})


def seen(client: Client, name: str, *args: int, query: str = "") -> str:
    answer = client.get(reverse(name, args=args) + query)
    assert answer.status_code == 200
    return str(answer.content.decode()).replace("\xa0", " ").replace("&nbsp;", " ")


def certificate(**given: str) -> dict[str, str]:
    today = timezone.localdate()
    return {
        "outcome": "passed", "done_on": today.isoformat(), "due_on": (today + timedelta(days=365)).isoformat(),
        "expanded_a": "0,3", "expanded_b": "0.01", "coverage_k": "2", "certificate": "K-4711", **given,
    }  # fmt: skip


def on_tile(**given: str) -> dict[str, str]:
    return {"tile-tile": "T-7", "tile-value": "93,1", "tile-tile_value": "93", "tile-limit": "1", **given}


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_reads_and_only_quality_keeps_gauges(client: Client, shop: Shop, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    keeps = role in ("quality", "owner")
    assert ("Enter a gauge" in seen(client, "gauges")) == keeps
    assert ("Take it out of use" in seen(client, "gauge", shop.gloss.pk)) == keeps
    assert send(client, shop.gloss, "tile", **on_tile()).status_code == (303 if keeps else 403)
    assert client.get(reverse("gauge-offset-new", args=[shop.gloss.pk])).status_code == (200 if keeps else 403)


def test_empty_list_offers_the_first_step(signed_in: Client, inspector: Person) -> None:
    page = seen(signed_in, "gauges")
    assert "Enter the first one below" in page
    assert '<details class="not-printed gauge-new" open>' in page


def test_gauge_is_entered_once_by_a_double_tap_and_asks_for_its_certificate(signed_in: Client) -> None:
    form = {"number": "G-9", "kind": "glossmeter", "resolution": "0,1", "aperture_mm": "9", "owner": "the customer",
            "ref": str(uuid.uuid4())}  # fmt: skip
    for _tap in range(2):
        answer = signed_in.post(reverse("gauges"), form)
        assert answer.status_code == 303
    gauge = Gauge.objects.get(number="G-9")
    assert (gauge.owner, gauge.aperture_mm) == ("the customer", 9)
    assert answer["Location"] == f"/gauges/{gauge.pk}/?do=calibrate#acts"
    assert "never calibrated" in seen(signed_in, "gauges")


def test_gauge_with_a_fault_keeps_what_was_typed(signed_in: Client) -> None:
    for wrong in ({"resolution": "0"}, {"resolution": "often"}, {"kind": "ruler"}, {"tip_um": "2"}):
        form = {"number": "G-9", "kind": "glossmeter", "resolution": "0.1", "serial": "M 88", **wrong}
        answer = signed_in.post(reverse("gauges"), form)
        assert answer.status_code == 422
        assert "M 88" in answer.content.decode()
    assert not Gauge.objects.filter(number="G-9").exists()


def test_list_says_how_each_stands_and_filters_by_its_address(signed_in: Client, shop: Shop) -> None:
    today = timezone.localdate()
    for gauge, days in ((shop.gloss, 20), (shop.stylus, -1)):
        gauges.calibrate(
            gauge=gauge, due_on=today + timedelta(days=days), expanded_a=Decimal("0.1"), by=shop.inspector,
            at=shop.day(2),
        )  # fmt: skip
    states = {row.gauge.number: row.state.value for row in gauge_rows(gauges_of(shop.lead.plant), timezone.now())}
    assert states == {"G-1": "due", "S-1": "overdue", "O-1": "in date"}
    page = seen(signed_in, "gauges")
    assert page.index("S-1") < page.index("G-1") < page.index("O-1")
    only = seen(signed_in, "gauges", query="?state=due")
    assert "G-1" in only
    assert "S-1" not in only
    assert "No gauge fits" in seen(signed_in, "gauges", query="?kind=comparator")
    assert "S-1" in seen(signed_in, "gauges", query="?owner=ours&text=s-1")


def test_retired_gauge_leaves_the_list_and_is_found_by_its_state(signed_in: Client, shop: Shop) -> None:
    assert send(signed_in, shop.gloss, "retire", **{"retire-why": " "}).status_code == 422
    assert send(signed_in, shop.gloss, "retire", **{"retire-why": "worn out"}).status_code == 303
    assert "G-1 is out of use" in seen(signed_in, "gauge", shop.gloss.pk)
    assert "G-1" not in seen(signed_in, "gauges")
    assert "G-1" in seen(signed_in, "gauges", query="?state=retired")
    assert "Take it out of use" not in seen(signed_in, "gauge", shop.gloss.pk)


def test_calibration_is_kept_with_ranges_and_its_certificate_opens(
    signed_in: Client, shop: Shop, settings: Any
) -> None:
    sent = send(signed_in, shop.gloss, "calibrate", **certificate(), **{
        "ranges-0-lower": "0", "ranges-0-upper": "10", "ranges-0-a": "0,1",
        "ranges-2-lower": "10", "ranges-2-upper": "100", "ranges-2-a": "0.5", "ranges-2-b": "0.01",
        "file": SimpleUploadedFile("K-4711.txt", b"%PDF-1.4 made here", content_type="text/plain"),
    })  # fmt: skip
    assert sent.status_code == 303
    kept = Calibration.objects.get(certificate="K-4711")
    assert kept.expanded_a == Decimal("0.3")
    assert [(one.lower, one.expanded_b) for one in kept.ranges.all()] == [(0, 0), (10, Decimal("0.01"))]
    assert kept.file is not None
    page = seen(signed_in, "gauge", shop.gloss.pk)
    address = reverse("file", args=[kept.file.sha256])
    assert address in page
    assert signed_in.get(address)["Content-Type"] == "application/pdf"


@pytest.mark.parametrize(
    "wrong",
    [
        {"due_on": "2001-01-01"},
        {"expanded_a": "-1"},
        {"coverage_k": "0"},
        {"done_on": "2999-01-01", "due_on": "2999-02-01"},
        {"outcome": "perhaps"},
        {"ranges-0-lower": "5"},
        {"ranges-0-lower": "5", "ranges-0-upper": "4", "ranges-0-a": "0.1"},
        {"ranges-0-lower": "5", "ranges-0-upper": "8 kg", "ranges-0-a": "0.1"},
    ],
)
def test_certificate_with_a_fault_keeps_what_was_typed_and_nothing_else(
    signed_in: Client, shop: Shop, wrong: dict[str, str]
) -> None:
    before = Calibration.objects.count()
    sent = send(signed_in, shop.gloss, "calibrate", **certificate(certificate="K-77", **wrong))
    assert sent.status_code == 422
    assert "K-77" in sent.content.decode()
    assert Calibration.objects.count() == before


def test_file_that_is_not_what_its_name_says_is_refused(signed_in: Client, shop: Shop) -> None:
    fake = SimpleUploadedFile("certificate.pdf", b"MZ this is no document", content_type="application/pdf")
    sent = send(signed_in, shop.gloss, "calibrate", **certificate(), file=fake)
    assert sent.status_code == 422
    assert "neither a PDF nor a photo" in sent.content.decode()
    assert not Calibration.objects.filter(certificate="K-4711").exists()


def test_calibration_not_passed_leads_to_what_was_read(signed_in: Client, shop: Shop) -> None:
    sent = send(signed_in, shop.gloss, "calibrate", **certificate(outcome="failed"))
    finding = UnfitFinding.objects.get(gauge=shop.gloss)
    assert sent["Location"] == reverse("unfit-finding", args=[finding.pk])
    assert "failed" in seen(signed_in, "gauges", query="?state=failed")


def test_tile_read_wrong_offers_to_say_unfit_and_a_good_one_does_not(signed_in: Client, shop: Shop) -> None:
    offer = "It is unfit: list what it read"
    assert send(signed_in, shop.gloss, "tile", **on_tile()).status_code == 303
    assert offer not in seen(signed_in, "gauge", shop.gloss.pk)
    assert send(signed_in, shop.gloss, "tile", **on_tile(**{"tile-value": "96"})).status_code == 303
    page = seen(signed_in, "gauge", shop.gloss.pk)
    assert offer in page
    # The figures of the tile are there again, what the gauge reads is typed anew.
    assert 'name="tile-tile_value" type="text" value="93"' in page
    check = TileCheck.objects.get(outcome="unfit")
    sent = send(signed_in, shop.gloss, "unfit", check=str(check.pk))
    finding = UnfitFinding.objects.get()
    assert sent["Location"] == reverse("unfit-finding", args=[finding.pk])
    assert finding.tile_check == check
    assert "found unfit" in seen(signed_in, "gauges")
    assert send(signed_in, shop.gloss, "tile", **on_tile()).status_code == 303
    assert "in date" in seen(signed_in, "gauges", query="?text=G-1")


@pytest.mark.parametrize("wrong", [{"tile-value": "x"}, {"tile-limit": "0"}, {"tile-tile": ""}, {"tile-value": "-3"}])
def test_tile_check_with_a_fault_keeps_what_was_typed(signed_in: Client, shop: Shop, wrong: dict[str, str]) -> None:
    sent = send(signed_in, shop.gloss, "tile", **on_tile(**{"tile-note": "wiped twice"}, **wrong))
    assert sent.status_code == 422
    assert "wiped twice" in sent.content.decode()
    assert not TileCheck.objects.exists()


def test_budget_is_worked_out_at_the_value_that_was_typed(signed_in: Client, shop: Shop) -> None:
    page = seen(signed_in, "gauge", shop.gloss.pk, query="?value=50&what=gloss+60&repeats=1")
    # Calibration 0.1 and resolution 0.029: 0.104, and 0.20 at k = 1.96.
    for words in ("50.0 GU ± 0.20 GU", "0.10 GU", "0.029 GU", "92 %", "8 %", "No study says"):
        assert words in page
    for odd in ("?value=soon", "?value=-1", "?value=3&repeats=x", "?value=3&what=Ra", "?value=3&offset=99", "?value="):
        seen(signed_in, "gauge", shop.gloss.pk, query=odd)


def test_budget_takes_off_the_offset_that_was_chosen(signed_in: Client, shop: Shop) -> None:
    other = other_gauge(shop)
    assert compare(signed_in, shop, other, paste="4.1 4.0\n8.2 8.0\n16.1 16.0\n30.4 30.1").status_code == 303
    kept = GaugeOffset.objects.get()
    page = seen(signed_in, "gauge", shop.gloss.pk, query=f"?value=50&what=gloss+60&offset={kept.pk}")
    assert "49.8 GU" in page
    assert "offset taken off" in page
    # Seen from the other gauge the sign turns.
    assert "50.2 GU" in seen(signed_in, "gauge", other.pk, query=f"?value=50&what=gloss+60&offset={kept.pk}")


def other_gauge(shop: Shop) -> Gauge:
    return gauges.add_gauge(
        plant=shop.lead.plant, number="CG-1", kind="glossmeter", resolution=Decimal("0.1"), owner="the customer",
        by=shop.inspector, at=shop.start,
    )  # fmt: skip


def compare(client: Client, shop: Shop, other: Gauge, **fields: str) -> Any:
    form = {"theirs": str(other.pk), "parameter": "gloss", "angle": "60", "ref": str(uuid.uuid4()), **fields}
    return client.post(reverse("gauge-offset-new", args=[shop.gloss.pk]), form)


def test_comparison_typed_into_the_grid_is_drawn(signed_in: Client, shop: Shop) -> None:
    pairs = {"ours-0": "4,1", "theirs-0": "4,0", "ours-1": "8.2", "theirs-1": "8", "ours-5": "16.1", "theirs-5": "16"}
    assert compare(signed_in, shop, other_gauge(shop), **pairs).status_code == 303
    page = seen(signed_in, "gauge-offset", GaugeOffset.objects.get().pk)
    for words in ("pairs-chart", "3 pairs", "Mean difference", "0.133 GU", "0.033 GU"):
        assert words in page
    assert "+0.133 GU against CG-1" in seen(signed_in, "gauge", shop.gloss.pk)


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"paste": "4.1 4\n8.2"}, "Line 2"),
        ({"paste": "4.1 4\n8.2 8"}, "2 pairs are too few"),
        ({"ours-0": "4.1"}, "Please fill this in"),
        ({"ours-0": "4.1", "theirs-0": "4", "paste": "1 2"}, "Empty one of the two"),
        ({"paste": "1 1\n2 2\n3 3", "angle": "45"}, "Gloss is read at one of"),
        ({"paste": "1 1\n2 2\n3 3", "theirs": ""}, "Please fill this in"),
    ],
)
def test_comparison_with_a_fault_says_where_and_keeps_it(
    signed_in: Client, shop: Shop, fields: dict[str, str], said: str
) -> None:
    sent = compare(signed_in, shop, other_gauge(shop), note="light booth", **fields)
    page = sent.content.decode()
    assert sent.status_code == 422
    assert said in page
    assert "light booth" in page
    assert not GaugeOffset.objects.exists()


def test_inspection_shows_the_budget_behind_its_verdict(signed_in: Client, shop: Shop) -> None:
    inspection = shop.take(2, shop.draft(3.0), shop.draft(3.2))
    page = seen(signed_in, "measure-inspection", inspection.pk)
    for words in ("Uncertainty ± 0.20 GU on G-1", "repeatability at a fixed spot", "Of the mean of 2 readings"):
        assert words in page
    assert "changed since" not in page
    gauges.calibrate(
        gauge=shop.gloss, due_on=timezone.localdate() + timedelta(days=99), expanded_a=Decimal("0.6"),
        by=shop.inspector, at=shop.day(1),
    )  # fmt: skip
    assert "The verdict was given with 0.10 GU" in seen(signed_in, "measure-inspection", inspection.pk)


def test_gauge_of_another_plant_is_not_there(client: Client, shop: Shop, person_of: Any) -> None:
    client.force_login(person_of("quality", plant=Plant.objects.create(name="Elsewhere")))
    for name in ("gauge", "gauge-offset-new"):
        assert client.get(reverse(name, args=[shop.gloss.pk])).status_code == 404
    assert "G-1" not in seen(client, "gauges")


def test_list_has_a_fixed_number_of_queries(shop: Shop) -> None:
    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            gauge_rows(gauges_of(shop.lead.plant), timezone.now())
        return len(caught)

    def check(gauge: Gauge) -> None:
        tiles.check_tile(
            gauge=gauge, tile="T", value=Decimal(5), tile_value=Decimal(5), limit=Decimal(1), by=shop.inspector,
            at=shop.day(3),
        )  # fmt: skip

    check(shop.gloss)
    before = queries()
    check(other_gauge(shop))
    check(shop.stylus)
    assert queries() == before == 3
