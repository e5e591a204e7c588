"""The planned interval of a face is set with a reason, once, and leaves a trail."""

from __future__ import annotations

from uuid import uuid4

import pytest

from shop.ledger.models import Change
from shop.refusal import Refused
from shop.watch.models import RefinishInterval
from shop.watch.services.intervals import MOST_SHOTS, plan_interval
from tests.measuring import Shop

pytestmark = pytest.mark.django_db


def trail(shop: Shop) -> list[tuple[str, str, str]]:
    changes = Change.objects.filter(room="tooling.face", row_id=shop.face.pk, field="refinish interval").order_by("pk")
    return list(changes.values_list("old", "new", "why"))


def test_interval_is_planned_changed_and_dropped_and_the_trail_says_why(satin_shop: Shop) -> None:
    who = {"face": satin_shop.face, "by": satin_shop.lead, "at": satin_shop.start}
    for shots, why in ((100_000, "glass-filled"), (80_000, "wore sooner"), (None, "by reading from now on")):
        plan_interval(shots=shots, why=why, **who)
        assert list(RefinishInterval.objects.values_list("shots", flat=True)) == ([shots] if shots else [])
    assert trail(satin_shop) == [
        ("", "100000", "glass-filled"), ("100000", "80000", "wore sooner"), ("80000", "", "by reading from now on"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("shots", "why", "code"),
    [
        (0, "glass-filled", "interval.not_possible"),
        (MOST_SHOTS + 1, "glass-filled", "interval.not_possible"),
        (1000, " ", "interval.reason_wanted"),
        (None, "", "interval.reason_wanted"),
    ],
)
def test_interval_that_cannot_be_is_refused(satin_shop: Shop, shots: int | None, why: str, code: str) -> None:
    with pytest.raises(Refused) as refused:
        plan_interval(face=satin_shop.face, shots=shots, why=why, by=satin_shop.lead, at=satin_shop.start)
    assert refused.value.code == code
    assert not RefinishInterval.objects.exists()


def test_form_that_is_sent_again_later_does_not_bring_the_old_interval_back(satin_shop: Shop) -> None:
    who = {"face": satin_shop.face, "by": satin_shop.lead, "at": satin_shop.start}
    first = {"shots": 100_000, "why": "glass-filled", "ref": uuid4()}
    plan_interval(**first, **who)
    plan_interval(shots=80_000, why="wore sooner", ref=uuid4(), **who)
    plan_interval(**first, **who)
    assert RefinishInterval.objects.get().shots == 80_000
