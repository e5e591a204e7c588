"""Studies of people who judge by eye: typed or pasted, refused with everything kept, and what their pages say."""

from __future__ import annotations

import uuid
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from shop.boards.printed import printed
from shop.people.models import Person
from shop.quality.models import AgreementStudy
from tests.factories import plaque

pytestmark = pytest.mark.django_db
NEW = "/studies/by-eye/new/"


@pytest.fixture
def quality(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def head(**more: Any) -> dict[str, Any]:
    return {
        "title": "grain of the grip", "categories": "accept\nreject", "rejects": "reject", "people": "Ana\nBen",
        "rows": "4", "trials": "1", "weights": "none", "ref": str(uuid.uuid4()), "do": "work out", **more,
    }  # fmt: skip


def cells(ana: str = "arar", ben: str = "arrr", master: str = "") -> dict[str, str]:
    word = {"a": "accept", "r": "reject"}
    given = {f"v-{row}-{who}-0": word[one] for who, said in enumerate((ana, ben)) for row, one in enumerate(said)}
    return given | {f"m-{row}": word[one] for row, one in enumerate(master)}


def seen(client: Client, form: dict[str, Any]) -> str:
    sent = client.post(NEW, form)
    assert sent.status_code == 303, sent.content.decode()
    return str(client.get(sent["Location"]).content.decode())


def refused(client: Client, form: dict[str, Any]) -> str:
    sent = client.post(NEW, form)
    assert sent.status_code == 422
    assert not AgreementStudy.objects.exists()
    return str(sent.content.decode())


def test_study_through_the_grid_gives_kappa_and_what_was_missed(quality: Client, inspector: Person) -> None:
    given = head(master="yes", plaque=plaque(inspector).pk)
    page = seen(quality, {**given, **cells(master="arrr")})
    assert "Kappa 0.50" in page
    assert "1 of 3, 33.3" in page
    assert "Ana let pieces pass that the master rejects" in page
    assert "<strong>3</strong> 1 × accept, 1 × reject" in page


@pytest.mark.parametrize(
    ("example", "kappa"), [("attributes_a_b", "0.86"), ("attributes_a_c", "0.78"), ("attributes_b_c", "0.79")]
)
def test_printed_cross_table_pasted_gives_the_printed_kappa(quality: Client, example: str, kappa: str) -> None:
    judged = [
        (row["first"], row["second"])
        for row in printed("kappa_tables").rows if row["example"] == example for _n in range(int(row["count"]))
    ]  # fmt: skip
    text = "\n".join(["piece\tAna\tBen", *(f"{n}\t{a}\t{b}" for n, (a, b) in enumerate(judged, start=1))])
    page = seen(quality, head(categories="0\n1", rejects="", paste=text, people="", rows="", trials=""))
    assert f"Kappa {kappa}" in page
    assert f'<th scope="row">Ana – Ben</th><td class="number" data-label="Kappa">{kappa}</td>' in page


def test_weighted_printed_example_gives_the_printed_kappa(quality: Client) -> None:
    rows = [row for row in printed("kappa_tables").rows if row["example"] == "skin_condition"]
    judged = [(row["first"], row["second"]) for row in rows for _n in range(int(row["count"]))]
    text = "\n".join(["piece;Ana;Ben", *(f"{n};{a};{b}" for n, (a, b) in enumerate(judged, start=1))])
    page = seen(quality, head(categories="0\n1\n2\n3", rejects="", weights="linear", paste=text))
    assert "Kappa 0.51" in page
    assert "0.38 to 0.64" in page
    assert str(AgreementStudy.objects.get().kappa) == "0.5082"


@pytest.mark.parametrize(
    ("changed", "sentence"),
    [
        ({"title": ""}, "Please fill this in."),
        ({"title": "x" * 121}, "At most 120 characters"),
        ({"categories": "accept"}, "is not one of: accept"),
        ({"categories": "accept\nreject\naccept"}, "3 categories"),
        ({"categories": ""}, "Ana, 1, trial 1"),
        ({"rejects": "never"}, "never is said to reject"),
        ({"v-1-1-0": ""}, "Ben, 2, trial 1: nothing is entered."),
        ({"v-1-1-0": "maybe"}, "Ben, 2, trial 1: “maybe” is not one of: accept, reject"),
        ({"people": "Ana\nAna"}, "Ana stands twice among the people."),
        ({"row_names": "a\na"}, "a stands twice among the pieces."),
        ({"weights": "heavy"}, "is not one of the choices"),
        ({"master": "yes"}, "1, master: nothing is entered."),
        ({"plaque": "999999"}, "is not one of the choices"),
        ({"trials": "0"}, "from 1 to 10 are possible"),
        ({"rows": "3"}, "Values stand outside this grid."),
    ],
)
def test_bad_input_is_a_sentence_and_everything_stays(quality: Client, changed: dict[str, str], sentence: str) -> None:
    page = refused(quality, {**head(note="under D65"), **cells(), **changed})
    assert sentence.replace("categories", "") in page.replace("categories", "")
    assert "under D65" in page
    assert page.count("selected>accept") + page.count('value="accept"') >= 2
    if changed.get("v-1-1-0"):
        assert "<option selected>maybe</option>" in page


def test_pasted_judgement_of_no_category_is_named_and_kept(quality: Client) -> None:
    page = refused(quality, head(paste="piece;Ana;Ben\n1;accept;maybe\n2;reject;reject"))
    assert '<td class="number">2</td><td>Ben</td><td>maybe</td><td>is not one of: accept, reject</td>' in page


def test_pasted_master_goes_into_the_grid(quality: Client) -> None:
    text = "piece;Ana;Ben;master\n1;accept;reject;accept\n2;reject;reject;reject"
    page = quality.post(NEW, head(do="paste", paste=text)).content.decode()
    assert 'name="m-1"' in page
    assert 'value="yes" checked' in page


@pytest.mark.parametrize("name", ["accept", "graded", "two-sided", "other"])
def test_form_starts_from_a_set_of_categories(quality: Client, name: str) -> None:
    page = quality.get(f"{NEW}?set={name}").content.decode()
    assert ("clearly off" in page.split('name="categories"')[1].split("</textarea>")[0]) == (name == "graded")


def test_pieces_of_one_category_show_nothing_and_the_page_says_so(quality: Client) -> None:
    page = seen(quality, {**head(), **cells("aaaa", "aaaa")})
    assert "All pieces fell into one category" in page
    assert AgreementStudy.objects.get().kappa is None


def test_study_is_put_right_for_a_reason(quality: Client) -> None:
    seen(quality, {**head(master="yes"), **cells(master="arar")})
    old = AgreementStudy.objects.get()
    start = quality.get(f"{NEW}?puts_right={old.pk}").content.decode()
    assert 'name="m-3"' in start
    form = {**head(puts_right=old.pk), **cells("arar", "arar")}
    assert quality.post(NEW, form).status_code == 422
    assert "Takes the place of an earlier one: wrong sheet" in seen(quality, {**form, "why": "wrong sheet"})
    assert reverse("agreement", args=[old.pk]) not in quality.get("/studies/").content.decode()


def test_viewer_reads_and_enters_none(client: Client, quality: Client, viewer: Person) -> None:
    seen(quality, {**head(), **cells()})
    client.force_login(viewer)
    kept = AgreementStudy.objects.get()
    assert "Put it right" not in client.get(reverse("agreement", args=[kept.pk])).content.decode()
    assert client.post(NEW, {**head(), **cells()}).status_code == 403
