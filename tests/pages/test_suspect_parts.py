"""Suspect parts worked off: listed plant-wide, each part once, decided by lot with a name, changed with a reason."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any

import pytest
from django.db import IntegrityError, connection, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.boards import suspects as board
from shop.people.models import Person
from shop.quality import suspects as quality
from shop.quality.models import SuspectDecision
from shop.quality.services import suspects as services
from shop.refusal import Refused
from shop.tooling.models import Face
from tests import factories
from tests.measuring import Shop, open_shop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    made: Shop = open_shop(lead, press_tech, inspector, at, cavities=2)
    for face in made.built.faces.values():
        factories.satin(face, lead, at)
    return made


@pytest.fixture
def failed(shop: Shop) -> Shop:
    """Good at 1.5 days; 700 of L1 and 300 of L2 since; off spec at 3.5 days."""
    shop.shoot(1, 500)
    shop.read(1.5, "3.0", geometry_deg=60)
    shop.shoot(2, 700)
    shop.shoot(3, 300, lot="L2")
    shop.read(3.5, "4.6", geometry_deg=60)
    return shop


@pytest.fixture
def page(client: Client, inspector: Person) -> Client:
    client.force_login(inspector)
    return client


def lots(shop: Shop, days: float = 4) -> list[quality.DoubtfulLot]:
    found = quality.cases(quality.failed(Face.objects.all()), shop.day(days))
    return [lot for case in found for lot in case.lots]


def decide(shop: Shop, *chosen: quality.DoubtfulLot, days: float = 4, **given: Any) -> list[SuspectDecision]:
    asked = {"decision": "hold", "responsible": "Tom Haas", "by": shop.inspector, "at": shop.day(days), **given}
    return services.decide_many(lots=chosen, **asked)


def send(page: Client, *keys: str, **fields: Any) -> Any:
    sent = {"decision": "hold", "responsible": "Tom Haas", "ref": str(uuid.uuid4()), **fields}
    return page.post(reverse("suspect-parts"), {**sent, "lot": list(keys)})


def test_list_names_what_is_in_doubt_by_run_cavity_and_lot(failed: Shop) -> None:
    found = board.worklist(failed.tool.plant, failed.day(4))
    assert (found.undecided, found.lots_undecided) == (1000, 2)
    assert [(lot.lot, lot.position.number, lot.shots) for lot in found.cases[0].lots] == [
        ("L1", 1, 700),
        ("L2", 1, 300),
    ]


def test_parts_behind_two_failed_readings_are_listed_once(failed: Shop) -> None:
    failed.shoot(4, 50, lot="L2")
    failed.read(4.5, "4.8", geometry_deg=60)
    assert [(lot.lot, lot.shots) for lot in lots(failed, 5)] == [("L1", 700), ("L2", 350)]


def test_good_reading_ends_what_is_in_doubt(failed: Shop) -> None:
    failed.shoot(4, 10, lot="L3")
    failed.read(4.2, "3.0", geometry_deg=60)
    failed.shoot(5, 1000, lot="L4")
    assert [lot.lot for lot in lots(failed, 6)] == ["L1", "L2", "L3"]


def test_decision_takes_a_lot_off_the_list_and_stays_on_the_inspection(page: Client, failed: Shop) -> None:
    first, second = lots(failed)
    assert send(page, first.key, decision="scrap").status_code == 303
    [made] = SuspectDecision.objects.all()
    assert (made.shots, made.lot, made.decision, made.by) == (700, "L1", "scrap", failed.inspector)
    shown = page.get(reverse("suspect-parts")).content.decode()
    assert first.key not in shown
    assert second.key in shown
    assert first.key in page.get(reverse("suspect-parts") + "?all").content.decode()
    inspection = page.get(reverse("measure-inspection", args=[made.verdict.inspection_id])).content.decode()
    assert "<strong>scrap</strong>, Tom Haas" in inspection


def test_several_lots_are_decided_at_once_and_a_second_tap_decides_nothing_more(page: Client, failed: Shop) -> None:
    ref = str(uuid.uuid4())
    keys = [lot.key for lot in lots(failed)]
    assert send(page, *keys, ref=ref).status_code == 303
    assert SuspectDecision.objects.count() == 2
    services.decide_many(lots=lots(failed), decision="hold", responsible="Tom Haas", by=failed.inspector,
                         at=failed.day(4), ref=uuid.UUID(ref))  # fmt: skip
    assert SuspectDecision.objects.count() == 2


def test_parts_moulded_since_are_to_decide_again(failed: Shop) -> None:
    decide(failed, *lots(failed))
    failed.shoot(4.5, 40, lot="L2")
    again = next(lot for lot in lots(failed, 5) if lot.lot == "L2")
    assert again.undecided == 40
    [made] = decide(failed, again, days=5)
    assert (made.shots, made.why) == (340, services.MORE_SINCE)
    assert made.supersedes is not None


def test_changing_a_decision_wants_a_reason(failed: Shop) -> None:
    decide(failed, *lots(failed))
    with pytest.raises(Refused, match="wants a reason") as refused:
        decide(failed, lots(failed)[0], decision="scrap")
    assert refused.value.field == "why"
    [made] = decide(failed, lots(failed)[0], decision="scrap", why="sorting found too many")
    assert made.supersedes is not None
    assert quality.decisions([failed.face.pk])[(failed.face.pk, made.verdict.life_id, made.run_id,
                                               made.position_id, "L1")] == made  # fmt: skip


@pytest.mark.parametrize(
    ("given", "code"),
    [({"responsible": " "}, "suspects.name_wanted"), ({"decision": "ship"}, "suspects.ship_says_why")],
)
def test_decision_without_a_name_or_a_reason_to_ship_is_refused(failed: Shop, given: dict[str, str], code: str) -> None:
    with pytest.raises(Refused) as refused:
        decide(failed, lots(failed)[0], **given)
    assert refused.value.code == code
    assert not SuspectDecision.objects.exists()


def test_nothing_ticked_is_refused_and_keeps_what_was_typed(page: Client, failed: Shop) -> None:
    answer = send(page, responsible="Tom Haas of quality")
    assert answer.status_code == 422
    assert "No lot is chosen" in answer.content.decode()
    assert "Tom Haas of quality" in answer.content.decode()


def test_lot_that_is_not_in_doubt_is_not_decided_about(failed: Shop) -> None:
    chosen = lots(failed)[0]
    with pytest.raises(Refused, match="not in doubt"):
        services.decide(
            verdict=chosen.verdict, run=chosen.run, position=chosen.position, lot="L9", decision="hold",
            responsible="Tom Haas", by=failed.inspector, at=failed.day(4),
        )  # fmt: skip


@pytest.mark.parametrize(
    "wrong", [{"responsible": ""}, {"decision": "ship", "reason": ""}, {"why": "a reason, and nothing superseded"}]
)
def test_database_refuses_a_decision_that_says_too_little(failed: Shop, wrong: dict[str, str]) -> None:
    chosen = lots(failed)[0]
    row = {"decision": "hold", "responsible": "Tom Haas", "reason": "", **wrong}
    with pytest.raises(IntegrityError), transaction.atomic():
        SuspectDecision.objects.create(
            verdict=chosen.verdict, run=chosen.run, position=chosen.position, lot=chosen.lot, shots=1,
            by=failed.inspector, at=failed.day(4), void="why" in wrong, **row,
        )  # fmt: skip


def test_list_takes_the_same_queries_for_one_case_and_for_many(failed: Shop) -> None:
    def counted() -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            board.worklist(failed.tool.plant, failed.day(9))
        return len(asked)

    one = counted()
    other = next(face for face in failed.built.faces.values() if face != failed.face)
    for day in range(4, 8):
        failed.shoot(day, 100, lot=f"M{day}")
        failed.read(day + 0.2, "4.7", geometry_deg=60, face=other, spot=failed.spot("gate", other))
    assert counted() == one <= 5


def test_other_plants_parts_are_not_listed(failed: Shop, client: Client, person_of: Any) -> None:
    from shop.people.models import Plant

    stranger = person_of("quality", plant=Plant.objects.create(name="Other", time_zone="Europe/Berlin"))
    client.force_login(stranger)
    assert "No suspect parts wait" in client.get(reverse("suspect-parts")).content.decode()
