"""Profile: a trace is loaded, evaluated as asked, drawn, and its parameters become readings with the trace kept."""

from __future__ import annotations

import math
import uuid
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.pages import profile as page
from shop.paper.models import StoredFile
from shop.people.models import Person, Plant
from shop.quality.models import Inspection, Reading, Verdict
from shop.refusal import Saying
from shop.standards.profile import Trace
from shop.standards.smd import write_smd
from shop.tooling.models import Spec
from shop.tooling.services.spec_checks import LimitDraft
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db

HEAD = "x [mm]; z [µm]\n"


def sine(points: int = 9600, spacing_um: float = 0.5, amplitude_um: float = 0.5, wave_um: float = 100.0) -> str:
    """A sine of Ra 2 a / pi, as a gauge exports it."""
    rows = (
        f"{at * spacing_um / 1000:.6f}; {amplitude_um * math.sin(2 * math.pi * at * spacing_um / wave_um):.6f}"
        for at in range(points)
    )
    return HEAD + "\n".join(rows)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, media: Path) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, timezone.now() - timedelta(days=10), cavities=1)
    limit = LimitDraft("Ra", "steel", None, Decimal("0.4"), "um")
    factories.specify(made.face, lead, made.start, [limit], drawing_edition=Spec.Edition.ISO_2021)
    return made


@pytest.fixture
def signed_in(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def load(client: Client, content: str | bytes, name: str = "trace.csv", **form: Any) -> Any:
    raw = content.encode() if isinstance(content, str) else content
    return client.post(reverse("profile"), {"do": "load", "trace_file": SimpleUploadedFile(name, raw), **form})


def place_of(shop: Shop) -> str:
    return f"{shop.face.pk}-{shop.gate.pk}"


def offer(client: Client, shop: Shop, **form: Any) -> Any:
    kept = StoredFile.objects.get()
    asked = {
        "do": "offer", "trace": kept.sha256, "cutoff": "0.8", "take": ["Ra", "Rz"], "place": place_of(shop),
        "gauge": shop.stylus.pk, "kind": "routine", "on": "steel", "direction": "across", "ref": str(uuid.uuid4()),
    }  # fmt: skip
    return client.post(reverse("profile"), asked | form)


@pytest.mark.parametrize("role", ["lead", "polisher", "press", "quality", "engineer", "viewer", "owner"])
def test_every_role_looks_and_quality_loads(client: Client, shop: Shop, person_of: Any, role: str) -> None:
    client.force_login(person_of(role))
    assert client.get(reverse("profile")).status_code == 200
    assert load(client, sine()).status_code == (303 if role in ("quality", "owner") else 403)


def test_loaded_trace_is_drawn_with_parameters_and_how_they_came(signed_in: Client, shop: Shop) -> None:
    sent = load(signed_in, sine(), cutoff="0.8", place=place_of(shop))
    assert sent.status_code == 303
    seen = signed_in.get(sent.headers["Location"]).content.decode()
    assert seen.count('class="drawing profile-chart"') == 2
    for words in ("0.318\u00a0µm", "Rsk", "RSm", "Gaussian", "ISO 21920-2", "Take them as readings", "it does"):
        assert words in seen, words
    assert "<svg" in seen
    assert len(seen) < 400_000


def test_conditions_that_the_result_does_not_belong_to_are_said(signed_in: Client, shop: Shop) -> None:
    sent = load(signed_in, sine(), cutoff="0.25", edition="ISO 4287")
    seen = signed_in.get(sent.headers["Location"]).content.decode()
    assert "it does not" in seen
    assert "belongs to a cut-off of 0.8 mm" in seen


def test_newer_edition_without_a_limit_says_that_it_cannot_tell(signed_in: Client, shop: Shop) -> None:
    seen = signed_in.get(load(signed_in, sine()).headers["Location"]).content.decode()
    assert "cannot be told" in seen


def test_offered_parameters_become_readings_with_the_trace(signed_in: Client, shop: Shop) -> None:
    load(signed_in, sine())
    sent = offer(signed_in, shop)
    assert sent.status_code == 303, sent.content.decode()
    readings = {reading.parameter: reading for reading in Reading.objects.all()}
    ra = readings["Ra"]
    assert ra.value == Decimal("0.3181")
    assert (ra.cutoff_mm, ra.evaluation_length_mm, ra.direction) == (Decimal("0.8"), Decimal("4"), "across")
    assert {reading.trace for reading in readings.values()} == {StoredFile.objects.get()}
    assert Verdict.objects.get().parameter == "Ra"
    seen = signed_in.get(sent.headers["Location"]).content.decode()
    assert "the trace" in seen
    kept = signed_in.get(reverse("file", args=[StoredFile.objects.get().sha256]))
    assert (kept.status_code, kept.content.decode()) == (200, sine())


def test_offer_sent_twice_is_one_inspection(signed_in: Client, shop: Shop) -> None:
    load(signed_in, sine())
    ref = str(uuid.uuid4())
    assert [offer(signed_in, shop, ref=ref).status_code for _tap in range(2)] == [303, 303]
    assert Inspection.objects.count() == 1


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"take": []}, "Tick at least one parameter."),
        ({"place": ""}, "Take them as readings"),
        ({"gauge": ""}, "Please fill this in."),
        ({"kind": "whenever"}, "is not one of the choices"),
    ],
)
def test_offer_that_lacks_something_keeps_its_form(
    signed_in: Client, shop: Shop, form: dict[str, Any], words: str
) -> None:
    load(signed_in, sine())
    sent = offer(signed_in, shop, tool=shop.tool.pk, **form)
    assert sent.status_code == 422
    assert words in sent.content.decode()
    assert not Inspection.objects.exists()


def test_offer_under_other_conditions_is_asked_about(signed_in: Client, shop: Shop) -> None:
    load(signed_in, sine())
    asked = offer(signed_in, shop, cutoff="0.25", take=["Ra"])
    assert asked.status_code == 422
    assert "reading.cutoff_not_in_spec=keep_unjudged" in asked.content.decode()
    sent = offer(signed_in, shop, cutoff="0.25", take=["Ra"], answer="reading.cutoff_not_in_spec=keep_unjudged")
    assert sent.status_code == 303
    assert not Reading.objects.get().conditions_agree


BAD: list[tuple[str, str | bytes, str]] = [
    ("t.csv", "", "empty"),
    ("t.csv", HEAD + "0.000; 1\n0.001; 2\n0.002; NaN\n0.003; 1\n", "Line 4"),
    ("t.csv", HEAD + "0.000; 1\n0.001; two\n0.002; 1\n", "Line 3 reads two"),
    ("t.csv", HEAD + "".join(f"{at if at < 10 else at + 4}e-3; 1\n" for at in range(30)), "Between points 10 and 11"),
    ("t.csv", HEAD + "".join(f"{at * at}e-4; 1\n" for at in range(30)), "spacing is uneven"),
    ("t.csv", "0.000; 1\n0.001; 2\n0.002; 1\n", "does not name the units"),
    ("t.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "another kind of file"),
    ("t.smd", sine(20), "first line does not name ISO 5436"),
    ("t.csv", "no numbers here at all\n", "No row of numbers"),
]


@pytest.mark.parametrize(("name", "content", "words"), BAD)
def test_bad_file_is_named_with_its_place_and_nothing_is_kept(
    signed_in: Client, shop: Shop, name: str, content: str | bytes, words: str
) -> None:
    sent = load(signed_in, content, name, cutoff="2.5", place=place_of(shop))
    assert sent.status_code == 422
    seen = sent.content.decode()
    assert words in seen
    assert '<option value="2.5" selected>' in seen
    assert not StoredFile.objects.exists()


def test_ten_million_points_and_too_many_megabytes_are_refused(
    signed_in: Client, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    sent = load(signed_in, "spacing = 0.5 µm\nz [µm]\n" + "1\n" * 10_000_000)
    assert sent.status_code == 422
    assert "more than" in sent.content.decode()
    monkeypatch.setattr(page, "MOST_MB", 0)
    assert "a trace may have" in load(signed_in, sine()).content.decode()
    assert not StoredFile.objects.exists()


def test_trace_too_short_for_the_cutoff_is_kept_and_asked_for_another(signed_in: Client, shop: Shop) -> None:
    sent = load(signed_in, sine(2000), cutoff="2.5")
    shown = signed_in.get(sent.headers["Location"])
    assert shown.status_code == 422
    assert "one sampling length needs" in shown.content.decode()
    shorter = signed_in.get(reverse("profile"), {"trace": StoredFile.objects.get().sha256, "cutoff": "0.08"})
    assert shorter.status_code == 200


def test_smd_and_decimal_comma_are_read_alike(signed_in: Client, shop: Shop) -> None:
    heights = np.array([float(row.split(";")[1]) for row in sine().splitlines()[1:]])
    smd = write_smd(Trace(heights, 0.5, Saying("x", "x", {})), "trace")
    for content, name in ((smd, "t.smd"), (sine().replace(".", ","), "t.txt")):
        seen = signed_in.get(load(signed_in, content, name).headers["Location"]).content.decode()
        assert "0.318\u00a0µm" in seen


def test_trace_of_another_plant_is_not_there(client: Client, signed_in: Client, shop: Shop, person_of: Any) -> None:
    load(signed_in, sine())
    kept = StoredFile.objects.get()
    client.force_login(person_of("quality", plant=Plant.objects.create(name="Elsewhere")))
    assert client.get(reverse("profile"), {"trace": kept.sha256}).status_code == 404
    assert client.get(reverse("profile"), {"trace": "0" * 64}).status_code == 404
    assert client.get(reverse("file", args=[kept.sha256])).status_code == 404


def test_loading_without_a_file_says_so(signed_in: Client, shop: Shop) -> None:
    sent = signed_in.post(reverse("profile"), {"do": "load"})
    assert sent.status_code == 422
    assert "Choose the file of the trace." in sent.content.decode()
