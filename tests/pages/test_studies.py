"""Studies in the browser's terms: typed or pasted, refused with everything kept, and what their pages say."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.people.models import Person, Plant
from shop.quality.models import Gauge, GaugeStudy
from tests.quality.studying import handbook, study_of, stylus

pytestmark = pytest.mark.django_db
NEW = "/studies/new/"


@pytest.fixture
def gauge(inspector: Person, at: datetime) -> Gauge:
    return stylus(inspector, at)


@pytest.fixture
def quality(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def head(gauge: Gauge, **more: Any) -> dict[str, Any]:
    return {
        "gauge": gauge.pk, "parameter": "Ra", "unit": "um", "method": "anova", "people": "A\nB\nC", "rows": "10",
        "trials": "3", "ref": str(uuid.uuid4()), "do": "work out", **more,
    }  # fmt: skip


def cells(comma: bool = False) -> dict[str, str]:
    _parts, _people, values = handbook()
    return {
        f"v-{a}-{b}-{c}": value.replace(".", ",") if comma else value
        for a, row in enumerate(values) for b, cell in enumerate(row) for c, value in enumerate(cell)
    }  # fmt: skip


def pasted(mark: str = "\t", comma: bool = False) -> str:
    parts, people, values = handbook()
    rows = [["Part", *(f"{name} {trial}" for name in people for trial in (1, 2, 3))]]
    for part, row in zip(parts, values, strict=True):
        typed = [value.replace(".", ",") if comma else value for cell in row for value in cell]
        rows.append([part, *typed])
    return "\r\n".join(mark.join(row) for row in rows)


def seen(client: Client, form: dict[str, Any], to: str = NEW) -> str:
    sent = client.post(to, form)
    assert sent.status_code == 303, sent.content.decode()
    return client.get(sent["Location"]).content.decode()


def refused(client: Client, form: dict[str, Any], to: str = NEW) -> str:
    sent = client.post(to, form)
    assert sent.status_code == 422
    assert not GaugeStudy.objects.exists()
    return str(sent.content.decode())


PRINTED = ("0.20188", "0.22963", "0.30575", "1.10456", "1.14610", "26.68", "27.86", "88.3619", "3.1673", "0.3590",
           "2.7589", "0.434")  # fmt: skip


def test_printed_example_through_the_grid_gives_the_printed_figures(quality: Client, gauge: Gauge) -> None:
    page = seen(quality, head(gauge, **cells(comma=True)))
    assert [figure for figure in PRINTED if f">{figure}<" not in page] == []
    kept = GaugeStudy.objects.get()
    assert (kept.ndc, str(kept.percent_grr), kept.fitness) == (4, "27.86", "conditional")
    assert ">5</td>" in page
    assert ">4</td>" in page


@pytest.mark.parametrize(("mark", "comma"), [("\t", True), (";", True), (",", False), ("\t", False)])
def test_printed_example_pasted_gives_the_printed_figures(
    quality: Client, gauge: Gauge, mark: str, comma: bool
) -> None:
    page = seen(quality, head(gauge, paste=pasted(mark, comma), people="", rows="", trials=""))
    assert [figure for figure in PRINTED if f">{figure}<" not in page] == []
    assert GaugeStudy.objects.get().people == ["A", "B", "C"]


def test_pasted_table_is_put_into_the_grid_to_be_looked_at(quality: Client, gauge: Gauge) -> None:
    page = quality.post(NEW, head(gauge, do="paste", paste=pasted(), people="X", rows="2")).content.decode()
    assert f'name="v-9-2-2" value="{cells()["v-9-2-2"]}"' in page
    assert "A\nB\nC</textarea>" in page
    assert not GaugeStudy.objects.exists()


def test_pasted_table_does_not_write_over_typed_values_unasked(quality: Client, gauge: Gauge) -> None:
    form = head(gauge, do="paste", paste=pasted(), **{"v-0-0-0": "7.77"})
    page = refused(quality, form)
    assert 'value="7.77"' in page
    assert "The grid has values already" in page
    assert 'value="7.77"' not in quality.post(NEW, {**form, "replace": "yes"}).content.decode()


def test_fault_in_a_pasted_table_names_line_column_value_and_keeps_the_text(quality: Client, gauge: Gauge) -> None:
    text = pasted().replace("-0.56", "-0.5O6")
    page = refused(quality, head(gauge, paste=text))
    assert '<td class="number">3</td><td>A 1</td><td>-0.5O6</td>' in page
    assert "is not read as a number" in page
    assert "-1.36" in page


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"v-2-1-0": "rough"}, "B, 3, trial 1: “rough” is not read as a number."),
        ({"v-2-1-0": ""}, "B, 3, trial 1: nothing is entered."),
        ({"v-2-1-0": "1.2.3"}, "“1.2.3” is not read as a number."),
        ({"gauge": ""}, "Please fill this in."),
        ({"gauge": "99999"}, "is not one of the choices"),
        ({"parameter": "look gloss"}, "is not one of the choices"),
        ({"parameter": "gloss"}, "does not read gloss"),
        ({"unit": "GU"}, "Ra is not read in that unit."),
        ({"angle": "60"}, "belongs to gloss"),
        ({"people": ""}, "Name the people, one a line."),
        ({"people": "A\nB\nA"}, "A stands twice among the people."),
        ({"people": "A\nB"}, "Values stand outside this grid."),
        ({"rows": "ten"}, "is not read as a number"),
        ({"rows": "1"}, "1 is too few"),
        ({"rows": "9"}, "Values stand outside this grid."),
        ({"trials": "1"}, "from 2 to 10 are possible"),
        ({"rows": "900"}, "at most 1200 are possible"),
        ({"row_names": "x\n" * 11}, "11 names stand here for 10 rows."),
        ({"tolerance": "-1"}, "A tolerance of -1 is none"),
        ({"tolerance": "wide"}, "is not read as a number"),
        ({"tolerance": "2 GU"}, "One field needs another look."),
        ({"at": "yesterday"}, "A date and time, please"),
        ({"at": "2199-01-01T10:00"}, "is in the future"),
        ({"method": "eye"}, "is not one of the choices"),
    ],
)
def test_bad_input_is_a_sentence_and_everything_stays(
    quality: Client, gauge: Gauge, changed: dict[str, str], sentence: str
) -> None:
    page = refused(quality, {**head(gauge, note="in the booth"), **cells(), **changed})
    assert sentence in page.replace("&#x27;", "'")
    assert "in the booth" in page
    for name, value in cells().items():
        assert f'name="{name}" value="{changed.get(name, value)}"' in page


def test_empty_grid_is_one_sentence_not_ninety(quality: Client, gauge: Gauge) -> None:
    page = refused(quality, head(gauge))
    assert "The grid is empty" in page
    assert "nothing is entered" not in page


def test_smaller_grid_keeps_what_was_typed_outside_it(quality: Client, gauge: Gauge) -> None:
    page = quality.post(NEW, {**head(gauge, do="lay out", rows="5"), **cells()}).content.decode()
    assert '<input type="hidden" name="v-9-2-2"' in page
    assert '<input type="text" name="v-4-2-2"' in page


def test_grid_runs_down_the_columns_in_the_order_of_the_keyboard(quality: Client, gauge: Gauge) -> None:
    page = quality.get(NEW).content.decode()
    places = [page.index(f'name="{name}"') for name in ("v-0-0-0", "v-1-0-0", "v-9-0-0", "v-0-0-1", "v-0-1-0")]
    assert places == sorted(places)


def test_study_is_put_right_from_its_own_values(quality: Client, gauge: Gauge, inspector: Person, at: datetime) -> None:
    old = study_of(gauge, inspector, at)
    start = quality.get(f"{NEW}?puts_right={old.pk}").content.decode()
    assert 'name="v-0-0-1" value="0.41"' in start
    form = {**head(gauge, puts_right=old.pk), **cells(), "v-0-0-0": "0.30"}
    assert quality.post(NEW, form).status_code == 422
    page = seen(quality, {**form, "why": "misread"})
    assert "Takes the place of an earlier one: misread" in page
    assert "put right by" in quality.get(reverse("study", args=[old.pk])).content.decode()
    listed = quality.get("/studies/").content.decode()
    assert reverse("study", args=[old.pk]) not in listed


def test_list_is_of_one_gauge_by_its_address(quality: Client, gauge: Gauge, inspector: Person, at: datetime) -> None:
    other = stylus(inspector, at, "RT-2")
    kept = study_of(gauge, inspector, at)
    assert reverse("study", args=[kept.pk]) in quality.get(f"/studies/?gauge={gauge.pk}").content.decode()
    assert "was never studied" in quality.get(f"/studies/?gauge={other.pk}").content.decode()


def test_list_asks_the_database_as_often_for_many_as_for_one(
    quality: Client, gauge: Gauge, inspector: Person, at: datetime, django_assert_max_num_queries: Any
) -> None:
    for _number in range(5):
        study_of(gauge, inspector, at)
    with django_assert_max_num_queries(8):
        quality.get("/studies/")


def test_page_names_cells_beyond_the_limit_of_the_range(
    quality: Client, gauge: Gauge, inspector: Person, at: datetime
) -> None:
    page = seen(quality, {**head(gauge), **cells(), "v-3-1-0": "3.00"})
    assert "B at part 4: range" in page
    assert "Look at B at part 4 first" in page


def test_method_that_cannot_say_anything_says_so_beside_the_other(quality: Client, gauge: Gauge) -> None:
    values = {f"v-{row}-0-{trial}": str(row % 7 + trial / 10) for row in range(21) for trial in range(2)}
    page = seen(quality, {**head(gauge, people="A", rows="21", trials="2"), **values})
    assert "<h3>average and range</h3>" in page
    assert "One person measured" in page


def test_viewer_reads_a_study_and_enters_none(
    client: Client, viewer: Person, gauge: Gauge, inspector: Person, at: datetime
) -> None:
    kept = study_of(gauge, inspector, at)
    client.force_login(viewer)
    page = client.get(reverse("study", args=[kept.pk])).content.decode()
    assert "Put it right" not in page
    assert client.post(NEW, {**head(gauge), **cells()}).status_code == 403


def test_study_of_another_plant_is_not_there(client: Client, person_of: Any, gauge: Gauge, inspector: Person,
                                             at: datetime) -> None:  # fmt: skip
    kept = study_of(gauge, inspector, at)
    client.force_login(person_of("owner", plant=Plant.objects.create(name="Südwerk", time_zone="Europe/Berlin")))
    assert client.get(reverse("study", args=[kept.pk])).status_code == 404
