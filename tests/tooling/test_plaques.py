"""Plaques as controlled items: copies, signatures, limits, checks, withdrawal, and how they stand."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from shop.people.models import Person, Plant
from shop.tooling.models import Plaque, PlaqueCheck
from shop.tooling.plaque_state import PlaqueBook, PlaqueState, last_good_at, standings
from shop.tooling.services import plaques
from tests.factories import plaque
from tests.tooling.refusing import refused, trail

DAY = timedelta(days=1)


@pytest.fixture
def master(inspector: Person, at: datetime) -> Plaque:
    return plaques.add(
        plant=inspector.plant, number="PQ-M", house="Northern Etch", code="G 14", signed_by="Customer", by=inspector,
        at=at,
    )  # fmt: skip


def state(sample: Plaque, at: datetime) -> PlaqueState:
    found = standings([sample], at)[sample.pk]
    assert PlaqueBook(sample.plant).standings([sample.pk], at)[sample.pk].state == found.state
    return found.state


def test_plaque_entered_twice_by_one_form_is_one(inspector: Person, at: datetime) -> None:
    ref = uuid4()
    made = [
        plaques.add(plant=inspector.plant, number="PQ-1", recheck_days=90, by=inspector, at=at, ref=ref)
        for _tap in range(2)
    ]
    assert made[0] == made[1]
    assert Plaque.objects.count() == 1


def test_working_copy_takes_house_code_and_depth_from_its_master(
    master: Plaque, inspector: Person, at: datetime
) -> None:
    copy = plaques.make_copy(master=master, number="PQ-C", place="cell 2", by=inspector, at=at)
    assert (copy.house, copy.code, copy.master, copy.copy, copy.signed_by) == (
        "Northern Etch", "G 14", master, "working", "",
    )  # fmt: skip
    refused("plaque.copy_of_a_copy", plaques.make_copy, master=copy, number="PQ-CC", by=inspector, at=at)
    refused("plaque.name_taken", plaques.make_copy, master=master, number="PQ-C", by=inspector, at=at)


def test_change_of_place_and_signature_leave_their_trail(master: Plaque, inspector: Person, at: datetime) -> None:
    plaques.edit(plaque=master, place="light booth", why="moved", by=inspector, at=at)
    plaques.sign(plaque=master, signed_by="A. Sample", expires_on=date(2027, 1, 1), by=inspector, at=at)
    assert trail(master)[1:] == [
        ("place", "", "light booth", "moved"),
        ("signed_by", "Customer", "A. Sample", "signed"),
        ("expires_on", "", "2027-01-01", "signed"),
    ]
    refused("plaque.signer_wanted", plaques.sign, plaque=master, signed_by=" ", by=inspector, at=at)


@pytest.mark.parametrize("days", [0, -3, 4000])
def test_impossible_rhythm_of_checks_is_refused(master: Plaque, inspector: Person, at: datetime, days: int) -> None:
    refused("plaque.recheck_days", plaques.edit, plaque=master, recheck_days=days, by=inspector, at=at)


def test_limit_is_set_replaced_and_taken_off(master: Plaque, inspector: Person, at: datetime) -> None:
    light, other = plaque(inspector), plaque(inspector)
    plaques.set_limit(plaque=master, side="light", limit=light, by=inspector, at=at)
    plaques.set_limit(plaque=master, side="light", limit=other, by=inspector, at=at)
    assert list(master.limit_plaques.values_list("number", "limit_side")) == [(other.number, "light")]
    plaques.set_limit(plaque=master, side="light", limit=None, by=inspector, at=at)
    assert not master.limit_plaques.exists()
    light.refresh_from_db()
    assert (light.limit_of, light.limit_side) == (None, "")


def test_limit_that_makes_no_sense_is_refused(master: Plaque, inspector: Person, at: datetime) -> None:
    dark = plaque(inspector)
    elsewhere = Plaque.objects.create(plant=Plant.objects.create(name="Elsewhere"), number="X")
    for limit in (master, elsewhere):
        refused(
            "plaque.limit_of_itself", plaques.set_limit, plaque=master, side="dark", limit=limit, by=inspector, at=at
        )
    refused("plaque.no_such_side", plaques.set_limit, plaque=master, side="grey", limit=dark, by=inspector, at=at)
    plaques.set_limit(plaque=master, side="dark", limit=dark, by=inspector, at=at)
    second = plaque(inspector)
    refused("plaque.limit_elsewhere", plaques.set_limit, plaque=second, side="dark", limit=dark, by=inspector, at=at)


def test_failed_check_wants_a_reason(master: Plaque, inspector: Person, at: datetime) -> None:
    refused("plaque.failed_without_reason", plaques.check, plaque=master, passed=False, by=inspector, at=at)
    refused(
        "plaque.checked_against_itself", plaques.check, plaque=master, passed=True, against=master, by=inspector, at=at
    )
    refused(
        "plaque.gloss_impossible", plaques.check, plaque=master, passed=True, gloss_gu=Decimal(-1), by=inspector, at=at
    )  # fmt: skip
    assert not PlaqueCheck.objects.exists()
    plaques.check(plaque=master, passed=False, note="faded", gloss_gu=Decimal("2.4"), by=inspector, at=at)
    assert state(master, at + DAY) == PlaqueState.FAILED


def test_withdrawn_plaque_is_left_alone_and_says_why(master: Plaque, inspector: Person, at: datetime) -> None:
    refused("plaque.withdrawn_without_reason", plaques.withdraw, plaque=master, why=" ", by=inspector, at=at)
    plaques.withdraw(plaque=master, why="scratched", by=inspector, at=at)
    for call, given in (
        (plaques.withdraw, {"why": "again"}),
        (plaques.edit, {"place": "bin"}),
        (plaques.sign, {"signed_by": "A"}),
        (plaques.check, {"passed": True}),
    ):
        said = refused("plaque.withdrawn_already", call, plaque=master, by=inspector, at=at, **given)
        assert "scratched" in said.plain()


def test_state_goes_from_in_date_to_due_to_expired(inspector: Person, at: datetime) -> None:
    sample = plaques.add(
        plant=inspector.plant, number="PQ-2", recheck_days=30, expires_on=(at + 60 * DAY).date(), by=inspector, at=at
    )
    assert state(sample, at) == PlaqueState.CHECK_DUE
    plaques.check(plaque=sample, passed=True, by=inspector, at=at)
    assert state(sample, at + 30 * DAY) == PlaqueState.IN_DATE
    assert state(sample, at + 31 * DAY) == PlaqueState.CHECK_DUE
    assert state(sample, at + 61 * DAY) == PlaqueState.EXPIRED


def test_withdrawal_reaches_the_copies_from_its_moment_on(master: Plaque, inspector: Person, at: datetime) -> None:
    copy = plaques.make_copy(master=master, number="PQ-C", by=inspector, at=at)
    plaques.withdraw(plaque=master, why="grain changed", by=inspector, at=at + DAY)
    assert state(copy, at) == PlaqueState.IN_DATE
    assert state(copy, at + 2 * DAY) == PlaqueState.WITHDRAWN
    assert standings([copy], at + 2 * DAY)[copy.pk].because == "grain changed"


def test_what_is_in_doubt_reaches_back_to_the_last_good_check(master: Plaque, inspector: Person, at: datetime) -> None:
    for days in (0, 5):
        plaques.check(plaque=master, passed=True, by=inspector, at=at + days * DAY)
    plaques.check(plaque=master, passed=False, note="faded", by=inspector, at=at + 9 * DAY)
    standing = standings([master], at + 10 * DAY)[master.pk]
    assert last_good_at(standing, list(master.checks.all())) == at + 5 * DAY
    assert last_good_at(standing, []) is None


def test_database_holds_what_a_plaque_must_be(master: Plaque, inspector: Person, at: datetime) -> None:
    other = plaque(inspector)
    broken = {
        "plaque_limit_has_a_side": {"limit_of": other, "limit_side": ""},
        "plaque_withdrawn_says_why": {"withdrawn_at": at, "withdrawn_because": ""},
    }
    for constraint, fields in broken.items():
        with pytest.raises(IntegrityError, match=constraint), transaction.atomic():
            Plaque.objects.filter(pk=master.pk).update(**fields)
    with pytest.raises(IntegrityError, match="plaque_check_failed_says_why"), transaction.atomic():
        PlaqueCheck.objects.create(plaque=master, passed=False, by=inspector, at=at)
