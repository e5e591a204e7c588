"""Tool: its inserts, faces, trends and history; moving it and its inserts; revising specs and granting concessions."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop import loop
from shop.people.models import Person, Plant
from shop.tooling.models import Concession, Fitting, Spec
from shop.watch.models import Call
from tests.factories import add_insert, polished, resin, satin
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db
MOST_QUERIES = 50


@pytest.fixture
def recently() -> datetime:
    """Thirty days ago, since pages work at the clock's time."""
    return timezone.now() - timedelta(days=30)


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, recently: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, recently, cavities=2, spares=1)
    for face in made.built.faces.values():
        satin(face, lead, recently)
    return made


@pytest.fixture
def worn(shop: Shop, inspector: Person) -> Shop:
    for day, value in enumerate((2.4, 2.5, 2.7, 2.8), start=1):
        shop.shoot(day, 5000)
        loop.reading_taken(
            tool=shop.tool, kind="routine", drafts=[shop.draft(value)], by=inspector, at=shop.day(day + 0.5)
        )
    return shop


@pytest.fixture
def signed_in(client: Client, lead: Person) -> Client:
    client.force_login(lead)
    return client


def page(client: Client, shop: Shop, asked: str = "") -> str:
    answer = client.get(reverse("tool", args=[shop.tool.pk]) + asked)
    assert answer.status_code == 200
    return answer.content.decode()


def spec_form(**changed: Any) -> dict[str, Any]:
    return {
        "how_made": "blasted", "scale": "value", "code": "", "plaque": "", "pattern_depth": "",
        "drawing_edition": "ISO 21920-3:2021", "tolerance_rule": "", "acceptance": "guarded",
        "reason": "Customer wants it duller", "ref": str(uuid.uuid4()),
        "limit-0-parameter": "gloss", "limit-0-where": "part", "limit-0-spot": "", "limit-0-lower": "1,8",
        "limit-0-upper": "3,5", "limit-0-angle": "60", "limit-0-cutoff": "", **changed,
    }  # fmt: skip


def test_page_shows_inserts_by_position_and_spares(signed_in: Client, shop: Shop) -> None:
    card = signed_in.get(reverse("tool", args=[shop.tool.pk])).context["card"]
    assert [(row.position.number, row.insert.number) for row in card.fitted] == [(1, "1"), (2, "2")]
    assert [row.insert.number for row in card.spare] == ["3"]


def test_face_is_shown_with_its_trend_bar_spec_and_history(signed_in: Client, worn: Shop) -> None:
    words = page(signed_in, worn, f"?face={worn.face.pk}")
    assert "trend-chart" in words
    assert "finish-bar" in words
    assert "4 readings in this life" in words
    assert "Revision 1" in words
    assert "gloss, gate 2.8\u00a0GU: conforms" in words
    assert "400\u00a0µm of 400\u00a0µm steel left" in words


def test_face_without_readings_says_what_will_stand_there(signed_in: Client, shop: Shop) -> None:
    words = page(signed_in, shop)
    assert "not measured yet" in words
    assert "The trend stands here once this life has readings." in words


def test_readings_of_earlier_lives_stay_on_the_trend(signed_in: Client, worn: Shop, lead: Person) -> None:
    from shop.tooling.services import faces

    faces.end_life(face=worn.face, ended_by="WO-1 full refinish", by=lead, at=worn.day(6))
    faces.begin_life(face=worn.face, began_by="WO-1 full refinish", by=lead, at=worn.day(7))
    worn.shoot(8, 1000)
    loop.reading_taken(tool=worn.tool, kind="routine", drafts=[worn.draft(2.3)], by=worn.inspector, at=worn.day(9))
    answer = signed_in.get(reverse("tool", args=[worn.tool.pk]) + f"?face={worn.face.pk}")
    chart = answer.context["face"].chart
    assert len(chart.points) == 5
    assert [life.name for life in chart.lives] == ["new tool", "WO-1 full refinish"]
    assert chart.points[-1].shots == 21_000


def test_roughness_of_the_steel_stands_on_its_trend_whatever_the_resin(
    signed_in: Client, shop: Shop, inspector: Person
) -> None:
    polished(shop.face, shop.lead, shop.start, "0.5")
    abs_resin = resin("ABS")
    for day in range(1, 5):
        shop.shoot(day, 5000)
        draft = shop.draft(Decimal("0.1"), parameter="Ra")
        loop.reading_taken(
            tool=shop.tool, kind="routine", drafts=[draft], resin=abs_resin, by=inspector, at=shop.day(day + 0.5)
        )
    answer = signed_in.get(reverse("tool", args=[shop.tool.pk]) + f"?face={shop.face.pk}")
    assert len(answer.context["face"].chart.points) == 4


def test_htmx_gets_the_chosen_face_alone(signed_in: Client, worn: Shop) -> None:
    address = reverse("tool", args=[worn.tool.pk]) + f"?face={worn.face.pk}"
    words = signed_in.get(address, headers={"HX-Request": "true"}).content.decode()
    assert 'id="face"' in words
    assert "<html" not in words


def test_page_takes_no_more_queries_for_a_larger_tool(
    signed_in: Client, worn: Shop, lead: Person, recently: datetime, django_assert_max_num_queries: Any
) -> None:
    address = reverse("tool", args=[worn.tool.pk]) + f"?face={worn.face.pk}"
    with django_assert_max_num_queries(MOST_QUERIES) as few:
        signed_in.get(address)
    for number in range(10, 20):
        add_insert(worn.built, str(number), lead, recently)
    with django_assert_max_num_queries(MOST_QUERIES) as many:
        signed_in.get(address)
    assert len(many) == len(few)


def test_insert_moves_into_another_position_and_what_sat_there_comes_out(signed_in: Client, shop: Shop) -> None:
    spare = shop.built.inserts["3"]
    answer = signed_in.post(
        reverse("tool-insert-move", args=[shop.tool.pk, spare.pk]), {"position": "1", "insert_why": "Insert 1 is worn"}
    )
    assert answer.status_code == 303
    sits = {
        one.position.number: one.insert.number for one in Fitting.objects.now().select_related("position", "insert")
    }
    assert sits == {1: "3", 2: "2"}


def test_insert_comes_out_as_a_spare(signed_in: Client, shop: Shop) -> None:
    signed_in.post(reverse("tool-insert-move", args=[shop.tool.pk, shop.built.insert.pk]), {"position": "spare"})
    assert not Fitting.objects.now().filter(insert=shop.built.insert).exists()


def test_insert_is_not_moved_where_it_sits_and_the_form_stays(signed_in: Client, shop: Shop) -> None:
    address = reverse("tool-insert-move", args=[shop.tool.pk, shop.built.insert.pk])
    answer = signed_in.post(address, {"position": "1", "insert_why": "By mistake"})
    assert answer.status_code == 422
    words = answer.content.decode()
    assert "sits in position 1 already" in words
    assert "By mistake" in words
    assert signed_in.post(address, {"position": "77"}).status_code == 422


def test_tool_is_moved_by_those_who_move_tools(client: Client, person_of: Any, shop: Shop) -> None:
    address = reverse("tool-move", args=[shop.tool.pk])
    for role, status in (("viewer", 403), ("polisher", 403), ("press", 303)):
        client.force_login(person_of(role))
        assert client.post(address, {"place": "at toolmaker", "why": "Weld"}).status_code == status
    shop.tool.refresh_from_db()
    assert shop.tool.place == "at toolmaker"


def test_spec_form_starts_from_the_revision_that_holds(signed_in: Client, shop: Shop) -> None:
    words = signed_in.get(reverse("spec", args=[shop.face.pk])).content.decode()
    assert 'name="limit-0-upper" type="text" value="4"' in words
    assert '<option value="blasted" selected>' in words


def test_editing_a_spec_makes_a_revision_with_its_reason(signed_in: Client, shop: Shop) -> None:
    form = spec_form()
    assert signed_in.post(reverse("spec", args=[shop.face.pk]), form).status_code == 303
    assert signed_in.post(reverse("spec", args=[shop.face.pk]), form).status_code == 303  # the same tap again
    specs = list(Spec.objects.filter(face=shop.face).order_by("revision"))
    assert [(one.revision, one.reason) for one in specs] == [(1, "first issue"), (2, "Customer wants it duller")]
    assert str(specs[1].limits.get().upper) == "3.5000"


def test_spec_without_a_reason_comes_back_with_everything_typed(signed_in: Client, shop: Shop) -> None:
    answer = signed_in.post(reverse("spec", args=[shop.face.pk]), spec_form(reason=""))
    assert answer.status_code == 422
    words = answer.content.decode()
    assert 'name="limit-0-lower" type="text" value="1,8"' in words
    assert "Please fill this in." in words
    assert Spec.objects.filter(face=shop.face).count() == 1


def test_lower_roughness_on_a_polish_is_asked_about_and_kept_when_confirmed(signed_in: Client, shop: Shop) -> None:
    ra = {
        "limit-0-parameter": "Ra",
        "limit-0-where": "steel",
        "limit-0-angle": "",
        "limit-0-lower": "0.01",
        "limit-0-upper": "0.05",
    }
    form = spec_form(how_made="polished", **ra)
    asked = signed_in.post(reverse("spec", args=[shop.face.pk]), form)
    assert asked.status_code == 422
    assert 'name="answer" value="spec.lower_on_polish=yes_keep"' in asked.content.decode()
    answered = signed_in.post(reverse("spec", args=[shop.face.pk]), form | {"answer": "spec.lower_on_polish=yes_keep"})
    assert answered.status_code == 303


def test_concession_is_granted_and_stands_beside_the_face(signed_in: Client, shop: Shop) -> None:
    until = (timezone.now() + timedelta(days=20)).date().isoformat()
    form = {
        "number": "C-17", "parameter": "gloss", "lower": "", "upper": "4,6", "reason": "Until the new grain",
        "until_on": until, "until_insert_shots": "", "until_quantity": "", "ref": str(uuid.uuid4()),
    }  # fmt: skip
    assert signed_in.post(reverse("concession", args=[shop.face.pk]), form).status_code == 303
    assert Concession.objects.get().number == "C-17"
    assert "C-17" in page(signed_in, shop, f"?face={shop.face.pk}")


def test_concession_without_an_end_is_refused_and_kept(signed_in: Client, shop: Shop) -> None:
    form = {"number": "C-18", "parameter": "gloss", "upper": "4,6", "reason": "Because", "ref": str(uuid.uuid4())}
    answer = signed_in.post(reverse("concession", args=[shop.face.pk]), form)
    assert answer.status_code == 422
    assert 'value="C-18"' in answer.content.decode()
    assert not Concession.objects.exists()


@pytest.fixture
def conceded(shop: Shop, lead: Person) -> Concession:
    return loop.concession_granted(
        face=shop.face, number="C-19", parameter="gloss", upper=Decimal("4.6"), reason="Until the new grain",
        until_on=(timezone.now() + timedelta(days=20)).date(), by=lead, at=shop.day(20),
    )  # fmt: skip


def test_concession_is_withdrawn_from_its_note_once_and_the_history_says_why(
    signed_in: Client, shop: Shop, conceded: Concession
) -> None:
    address = reverse("concession-withdraw", args=[conceded.pk])
    assert address in page(signed_in, shop, f"?face={shop.face.pk}")
    assert "4.6\u00a0GU" in signed_in.get(address).content.decode()
    form = {"why": "Customer took it back", "ref": str(uuid.uuid4())}
    assert [signed_in.post(address, form).status_code for _tap in range(2)] == [303, 303]
    assert not Concession.objects.in_force().exists()
    assert Concession.objects.get(void=True).why == "Customer took it back"
    words = page(signed_in, shop, f"?face={shop.face.pk}")
    assert "Concession C-19 withdrawn: Customer took it back" in words
    assert address not in words
    assert signed_in.get(address).status_code == 404


def test_withdrawn_concession_calls_what_it_let_off(signed_in: Client, shop: Shop, conceded: Concession) -> None:
    shop.shoot(21, 100)
    loop.reading_taken(
        tool=shop.tool, kind="routine", drafts=[shop.draft(4.3)], by=shop.inspector, at=shop.day(21.5)
    )
    assert not Call.objects.open().exists()
    signed_in.post(reverse("concession-withdraw", args=[conceded.pk]), {"why": "Customer took it back"})
    assert Call.objects.open().get().cause == "off spec"


def test_concession_is_not_withdrawn_without_a_reason_or_twice(
    signed_in: Client, shop: Shop, conceded: Concession
) -> None:
    address = reverse("concession-withdraw", args=[conceded.pk])
    assert signed_in.post(address, {"why": " "}).status_code == 422
    assert Concession.objects.in_force().get() == conceded
    signed_in.post(address, {"why": "Customer took it back"})
    again = signed_in.post(address, {"why": "I too"})
    assert again.status_code == 422
    assert "was withdrawn before" in again.content.decode()


def test_interval_is_planned_on_the_page_and_calls_the_face_that_has_run_it(
    signed_in: Client, shop: Shop, engineer: Person
) -> None:
    shop.shoot(1, 5000)
    signed_in.force_login(engineer)
    address = reverse("face-interval", args=[shop.face.pk])
    assert address in page(signed_in, shop, f"?face={shop.face.pk}")
    form = {"shots": "4 000", "interval_why": "glass-filled", "ref": str(uuid.uuid4())}
    sent = signed_in.post(address, form)
    assert sent.headers["Location"] == reverse("tool", args=[shop.tool.pk]) + f"?face={shop.face.pk}#face"
    assert Call.objects.open().get().cause == "interval"
    words = page(signed_in, shop, f"?face={shop.face.pk}")
    assert "Nora Falk: glass-filled" in words
    assert signed_in.post(address, {"shots": "", "interval_why": "by reading"}).status_code == 303
    assert not Call.objects.open().exists()
    assert "none; called by reading and forecast" in page(signed_in, shop, f"?face={shop.face.pk}")


def test_interval_without_a_reason_or_of_no_shots_is_not_taken_and_kept(signed_in: Client, shop: Shop) -> None:
    address = reverse("face-interval", args=[shop.face.pk])
    for form, said in (
        ({"shots": "4000", "interval_why": ""}, "Please fill this in."),
        ({"shots": "0", "interval_why": "a slip"}, "is not between 1 shot and"),
    ):
        kept = signed_in.post(address, form)
        assert kept.status_code == 422
        assert said in kept.content.decode()
        assert f'value="{form["shots"]}"' in kept.content.decode()
    assert not Call.objects.exists()


def test_concession_of_another_plant_is_not_there(client: Client, person_of: Any, conceded: Concession) -> None:
    elsewhere = Plant.objects.create(name="Westmühl")
    client.force_login(person_of("lead", plant=elsewhere))
    assert client.post(reverse("concession-withdraw", args=[conceded.pk]), {"why": "x"}).status_code == 404


def test_page_says_why_the_tool_may_not_simply_run(signed_in: Client, shop: Shop, press_tech: Person) -> None:
    loop.damage_called(
        tool=shop.tool, face=shop.face, kind="scratch", note="Beside the gate", by=press_tech, at=shop.day(1)
    )
    head = page(signed_in, shop).split('<dl class="pairs tool-pairs">')[0]
    assert "with conditions" in head
    assert "Beside the gate" in head


def test_head_names_the_worst_face_and_the_map_marks_it(signed_in: Client, worn: Shop) -> None:
    answer = signed_in.get(reverse("tool", args=[worn.tool.pk]))
    worst = answer.context["row"].worst.face
    assert f'Worst face: <a href="?face={worst.pk}#face">' in answer.content.decode()
    assert [one.chosen for one in answer.context["card"].drawn.drawn.faces] == [True]


def test_phone_has_a_trend_of_its_own_with_words_of_full_size(signed_in: Client, worn: Shop) -> None:
    answer = signed_in.get(reverse("tool", args=[worn.tool.pk]) + f"?face={worn.face.pk}")
    card = answer.context["face"]
    assert card.small_chart.width < card.chart.width
    assert card.small_chart.points == card.chart.points
    assert answer.content.decode().count("trend-chart") == 2
