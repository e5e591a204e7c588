"""The sheet's folded fields: lay, length, light, faults; and what the inspection says of its conditions."""

from __future__ import annotations

import uuid
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.boards.measure_sheet import Place, measure_sheet
from shop.boards.measured_conditions import rechecked
from shop.people.models import Person
from shop.quality.models import Defect, Inspection, Reading, Verdict
from shop.tooling.models import Plaque, Spec
from shop.tooling.services.spec_checks import LimitDraft
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, timezone.now() - timedelta(days=10), cavities=2)
    first, second = made.built.faces.values()
    limit = LimitDraft("Ra", "steel", None, Decimal("0.4"), "um")
    factories.specify(first, lead, made.start, [limit], drawing_edition=Spec.Edition.ISO_1996)
    factories.by_plaque(second, lead, made.start, factories.plaque(lead, number="PQ-G", copy="master"))
    return made


@pytest.fixture
def signed_in(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def place_of(shop: Shop, parameter: str) -> Place:
    sheet = measure_sheet(shop.tool, Inspection.Kind.ROUTINE, timezone.now())
    return next(place for place in sheet.places if place.limit.parameter == parameter)


def send(client: Client, shop: Shop, **form: Any) -> Any:
    form = {"ref": str(uuid.uuid4()), "gauge_roughness": shop.stylus.pk, **form}
    return client.post(reverse("measure-tool", args=[shop.tool.pk]), form)


def seen(client: Client, sent: Any) -> str:
    assert sent.status_code == 303, sent.content.decode()
    return client.get(sent.headers["Location"]).content.decode()


def test_values_across_and_along_come_with_length_and_cutoff(signed_in: Client, shop: Shop) -> None:
    key = place_of(shop, "Ra").key
    typed = {f"v-{key}-0": "0,30", f"v-{key}-1": "0,34", f"x-{key}-0": "0,15", f"length-{key}": "1,6 mm"}
    page = seen(signed_in, send(signed_in, shop, **typed, **{f"cutoff-{key}": "0.8"}))
    rows = list(Reading.objects.order_by("id").values_list("direction", "evaluation_length_mm", "cutoff_mm"))
    assert rows == [(way, Decimal("1.6"), Decimal("0.8")) for way in ("across", "across", "along")]
    assert Verdict.objects.get().count == 2
    for words in ("across the lay", "evaluation length 1.6\u00a0mm", "Only 2 of 5 sampling lengths", "along the lay"):
        assert words in page
    for words in ("beside those across, which decide",):
        assert words in page


def test_direction_of_the_sheet_holds_where_the_place_says_nothing(signed_in: Client, shop: Shop) -> None:
    key = place_of(shop, "Ra").key
    seen(signed_in, send(signed_in, shop, direction="along", **{f"v-{key}-0": "0.3", f"x-{key}-0": "0.35"}))
    assert list(Reading.objects.order_by("id").values_list("direction", flat=True)) == ["along", "across"]


def test_nothing_said_of_the_lay_stays_unsaid(signed_in: Client, shop: Shop) -> None:
    seen(signed_in, send(signed_in, shop, **{f"v-{place_of(shop, 'Ra').key}-0": "0.3"}))
    reading = Reading.objects.get()
    assert (reading.direction, reading.evaluation_length_mm) == ("", None)


def test_length_below_the_cutoff_is_shown_at_its_value_and_nothing_is_lost(signed_in: Client, shop: Shop) -> None:
    key = place_of(shop, "Ra").key
    typed = {f"v-{key}-0": "0,3", f"length-{key}": "0,4", f"cutoff-{key}": "0.8"}
    sent = send(signed_in, shop, **typed)
    assert sent.status_code == 422
    page = sent.content.decode()
    assert 'value="0,4"' in page
    assert "evaluation length of 0.4\u00a0mm" in page
    assert not Reading.objects.exists()


@pytest.mark.parametrize("length", ["long", "-4", "4 GU"])
def test_length_that_is_none_is_refused(signed_in: Client, shop: Shop, length: str) -> None:
    key = place_of(shop, "Ra").key
    assert send(signed_in, shop, **{f"v-{key}-0": "0.3", f"length-{key}": length}).status_code == 422
    assert not Inspection.objects.exists()


def test_light_of_a_comparison_is_kept_and_offered_the_next_time(signed_in: Client, shop: Shop) -> None:
    key = place_of(shop, "look gloss").key
    page = seen(signed_in, send(signed_in, shop, illuminant="D65", view_angle="45", **{f"v-{key}-0": "1"}))
    assert "light D65 · seen from 45°" in page
    again = signed_in.get(reverse("measure-tool", args=[shop.tool.pk])).content.decode()
    assert '<option value="D65" selected>' in again


def test_faults_are_taken_by_kind_size_and_count(signed_in: Client, shop: Shop) -> None:
    fault = {
        "defect-0-place": f"{shop.face.pk}-{shop.gate.pk}", "defect-0-kind": "pit", "defect-0-size": "0,15",
        "defect-0-count": "3", "defect-1-place": f"{shop.face.pk}-0", "defect-1-kind": "scratch",
        "defect-1-size": "12",
    }  # fmt: skip
    page = seen(signed_in, send(signed_in, shop, **fault))
    assert list(Defect.objects.order_by("id").values_list("kind", "size_mm", "count")) == [
        ("pit", Decimal("0.150"), 3), ("scratch", Decimal(12), 1),
    ]  # fmt: skip
    assert "Faults by lamp and loupe" in page
    assert "0.15\u00a0mm" in page


def test_fault_without_a_size_keeps_the_form(signed_in: Client, shop: Shop) -> None:
    sent = send(
        signed_in, shop, **{"defect-0-place": f"{shop.face.pk}-0", "defect-0-kind": "pit", "defect-0-note": "x"}
    )
    assert sent.status_code == 422
    assert not Inspection.objects.exists()


def test_withdrawn_plaque_is_a_question_on_the_sheet(signed_in: Client, shop: Shop) -> None:
    from shop.tooling.services import plaques

    plaques.withdraw(plaque=Plaque.objects.get(), why="scratched", by=shop.inspector, at=shop.day(1))
    assert "state-withdrawn" in signed_in.get(reverse("measure-tool", args=[shop.tool.pk])).content.decode()
    form = {f"v-{place_of(shop, 'look gloss').key}-0": "0"}
    asked = send(signed_in, shop, **form)
    assert asked.status_code == 422
    assert "plaque.withdrawn=keep_for_information" in asked.content.decode()
    page = seen(signed_in, send(signed_in, shop, answer="plaque.withdrawn=keep_for_information", **form))
    assert "plaque not in date" in page


def test_value_that_belongs_to_another_cutoff_is_said_after_measuring(signed_in: Client, shop: Shop) -> None:
    key = place_of(shop, "Ra").key
    form = {f"v-{key}-0": "0.05", f"cutoff-{key}": "0.8", "answer": "reading.cutoff_not_in_spec=keep_unjudged"}
    page = seen(signed_in, send(signed_in, shop, **form))
    assert "belongs to a cut-off of 0.25 mm, not to 0.8 mm" in page
    assert "measure again" in page
    assert not Verdict.objects.exists()


def test_value_in_its_row_asks_once_for_the_shorter_cutoff_and_then_no_more(shop: Shop) -> None:
    one = shop.draft("0.3", parameter="Ra", cutoff_mm=Decimal("0.8"))
    alone = shop.reading(shop.take(1, one))
    assert [said.code for row in rechecked([alone]) for said in row.sayings] == ["recheck.try_shorter"]
    other = shop.draft("0.28", parameter="Ra", cutoff_mm=Decimal("0.25"))
    both = shop.take(2, one, other, answers={"reading.cutoff_not_in_spec": "keep_unjudged"})
    rows = rechecked(both.readings.select_related("spec", "face", "spot"))
    assert [(row.cutoff_mm, row.stands) for row in rows] == [(Decimal("0.25"), False)]
