"""The database itself refuses calls and trends that must not be."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.watch.models import Call, Evidence, RefinishInterval, Standing, Trend
from shop.watch.services import trends
from tests.measuring import Shop


def breaks(constraint: str, make: Any, **given: Any) -> None:
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        make(**given)
    said = str(caught.value)
    assert constraint in said or "UNIQUE constraint failed" in said


def test_one_open_call_per_face_and_cause(satin_shop: Shop) -> None:
    given = {"tool": satin_shop.tool, "face": satin_shop.face, "cause": "off spec", "opened_at": satin_shop.start}
    first = Call.objects.create(**given)
    breaks("one_open_call_per_cause", Call.objects.create, **given)
    Call.objects.filter(pk=first.pk).update(closed_at=satin_shop.day(1))
    Call.objects.create(**given)
    assert Call.objects.count() == 2


def test_one_open_damage_call_of_a_tool_without_a_face(satin_shop: Shop) -> None:
    given = {"tool": satin_shop.tool, "face": None, "cause": "damage", "opened_at": satin_shop.start}
    Call.objects.create(**given)
    breaks("one_open_call_per_cause", Call.objects.create, **given)


def test_only_damage_is_called_without_a_face_and_a_call_closes_after_it_opened(satin_shop: Shop) -> None:
    given = {"tool": satin_shop.tool, "opened_at": satin_shop.day(2)}
    breaks("only_damage_is_called_without_a_face", Call.objects.create, face=None, cause="forecast", **given)
    early = satin_shop.day(2) - timedelta(seconds=1)
    breaks("call_closes_after_it_opened", Call.objects.create, face=None, cause="damage", closed_at=early, **given)


def test_one_trend_of_a_kind_even_without_spot(satin_shop: Shop) -> None:
    satin_shop.shoot(1, 100)
    satin_shop.read(1.1, "3.0", spot=None)
    trends.bring_up_to_date([satin_shop.face], at=satin_shop.day(2))
    kept = Trend.objects.get()
    given = {one.attname: getattr(kept, one.attname) for one in Trend._meta.concrete_fields if one.name != "id"}
    breaks("one_trend_of_a_kind", Trend.objects.create, **given)
    Trend.objects.create(**{**given, "geometry_deg": 85})


def test_one_standing_and_one_interval_a_face_and_the_interval_is_positive(satin_shop: Shop) -> None:
    face = satin_shop.face
    Standing.objects.create(face=face, worked_out_at=satin_shop.start)
    breaks("watch_standing_face_id", Standing.objects.create, face=face, worked_out_at=satin_shop.start)
    breaks("interval_positive", RefinishInterval.objects.create, face=face, shots=0)
    RefinishInterval.objects.create(face=face, shots=1)
    breaks("watch_refinishinterval_face_id", RefinishInterval.objects.create, face=face, shots=2)


def test_evidence_is_neither_altered_nor_deleted(satin_shop: Shop) -> None:
    call = Call.objects.create(tool=satin_shop.tool, cause="damage", opened_at=satin_shop.start)
    Evidence.objects.create(call=call, code="damage.reported", by=satin_shop.lead, at=satin_shop.start)
    for alter in (lambda rows: rows.update(code="other"), lambda rows: rows._raw_delete("default")):
        with pytest.raises(IntegrityError), transaction.atomic():
            alter(Evidence.objects.all())
    assert Evidence.objects.get().code == "damage.reported"
