"""Readings along and across the lay, their length, light and trace; faults by lamp and loupe; plaques out of date."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from typing import Any
from uuid import uuid4

import pytest
from django.db import IntegrityError, transaction

from shop.paper.services import store_file
from shop.people.wording import next_step, say
from shop.quality.models import Defect, Inspection, Reading, Verdict
from shop.quality.services import inspections
from shop.quality.services.checks import DefectDraft
from shop.quality.services.many import InspectionDraft, look_many
from shop.refusal import Refused
from shop.tooling.models import Plaque
from shop.tooling.services import plaques
from tests.factories import by_plaque, plaque, polished
from tests.measuring import Shop

KEEP = {"plaque.withdrawn": "keep_for_information"}


def refused(shop: Shop, code: str, *drafts: Any, kind: str = "routine", days: float = 1, **given: Any) -> Refused:
    with pytest.raises(Refused) as caught:
        shop.take(days, *drafts, kind=kind, **given)
    assert caught.value.code == code
    assert say(caught.value)
    assert next_step(caught.value)
    assert not Inspection.objects.exists()
    return caught.value


@pytest.fixture
def polished_shop(shop: Shop) -> Shop:
    polished(shop.face, shop.lead, shop.start, upper_um="0.4")
    return shop


@pytest.fixture
def plaque_shop(shop: Shop) -> Shop:
    by_plaque(shop.face, shop.lead, shop.start, plaque(shop.lead, copy="master"))
    return shop


def governing(shop: Shop) -> Plaque:
    return Plaque.objects.get(specs__face=shop.face)


def test_roughness_across_the_lay_decides_where_both_directions_were_read(polished_shop: Shop) -> None:
    across = [polished_shop.draft(value, parameter="Ra", direction="across") for value in ("0.30", "0.28")]
    along = polished_shop.draft("0.05", parameter="Ra", direction="along")
    taken = polished_shop.take(1, *across, along)
    verdict = Verdict.objects.get(inspection=taken)
    assert (verdict.count, verdict.statistic) == (2, Decimal("0.30"))
    assert [reading.direction for reading in taken.readings.order_by("id")] == ["across", "across", "along"]


def test_what_was_read_along_beside_across_goes_into_no_trend(polished_shop: Shop) -> None:
    across, along = (
        polished_shop.draft(value, parameter="Ra", direction=way)
        for value, way in (("0.3", "across"), ("0.05", "along"))
    )
    polished_shop.take(1, across, along)
    alone = polished_shop.take(2, along)
    assert [(one.inspection_id == alone.pk, one.direction) for one in Reading.objects.usable().order_by("id")] == [
        (False, "across"), (True, "along"),
    ]  # fmt: skip


def test_roughness_read_along_the_lay_alone_is_judged(polished_shop: Shop) -> None:
    polished_shop.take(1, polished_shop.draft("0.05", parameter="Ra", direction="along"))
    assert Verdict.objects.get().count == 1


def test_gloss_along_and_across_is_judged_as_one(satin_shop: Shop) -> None:
    satin_shop.take(1, satin_shop.draft("3.0", direction="across"), satin_shop.draft("2.8", direction="along"))
    assert (Verdict.objects.get().count, Verdict.objects.get().statistic) == (2, Decimal("2.9"))


def test_reading_across_put_right_is_judged_again_without_those_along(polished_shop: Shop) -> None:
    taken = polished_shop.take(
        1,
        polished_shop.draft("0.30", parameter="Ra", direction="across"),
        polished_shop.draft("0.05", parameter="Ra", direction="along"),
    )
    first = taken.readings.get(direction="across")
    put_right = inspections.correct(
        reading=first, value=Decimal("0.5"), why="misread", by=polished_shop.inspector, at=polished_shop.day(2)
    )
    verdict = Verdict.objects.in_force().get()
    assert (verdict.count, verdict.outcome) == (1, "no")
    assert put_right.direction == "across"


def test_conditions_of_a_reading_are_kept_with_it(polished_shop: Shop) -> None:
    trace = store_file(
        content=b"x", name="t.txt", media_type="text/plain", by=polished_shop.inspector, at=polished_shop.start
    )
    draft = polished_shop.draft(
        "0.30", parameter="Ra", cutoff_mm=Decimal("0.8"), evaluation_length_mm=Decimal("1.6"), direction="across",
        trace=trace,
    )  # fmt: skip
    reading = polished_shop.reading(polished_shop.take(1, draft))
    assert (reading.cutoff_mm, reading.evaluation_length_mm) == (Decimal("0.8"), Decimal("1.6"))
    assert reading.trace == trace


def test_light_and_angle_of_a_comparison_are_kept(plaque_shop: Shop) -> None:
    draft = plaque_shop.draft(1, parameter="look gloss", illuminant="D65", view_angle_deg=45)
    reading = plaque_shop.reading(plaque_shop.take(1, draft))
    assert (reading.illuminant, reading.view_angle_deg, reading.gauge_overdue) == ("D65", 45, False)


@pytest.mark.parametrize(
    ("given", "code"),
    [
        ({"direction": "sideways"}, "reading.no_such_direction"),
        ({"evaluation_length_mm": Decimal(0)}, "reading.evaluation_length_impossible"),
        ({"evaluation_length_mm": Decimal(-4)}, "reading.evaluation_length_impossible"),
        ({"evaluation_length_mm": Decimal("NaN")}, "reading.evaluation_length_impossible"),
        (
            {"evaluation_length_mm": Decimal("0.4"), "cutoff_mm": Decimal("0.8")},
            "reading.evaluation_length_below_cutoff",
        ),
    ],
)
def test_conditions_that_cannot_be_are_refused(polished_shop: Shop, given: dict[str, Any], code: str) -> None:
    one = refused(polished_shop, code, polished_shop.draft("0.30", parameter="Ra", **given))
    assert one.field.startswith("drafts-0-")


@pytest.mark.parametrize("given", [{"view_angle_deg": 120}, {"illuminant": "a lamp that nobody could ever name"}])
def test_light_that_cannot_be_is_refused(plaque_shop: Shop, given: dict[str, Any]) -> None:
    refused(plaque_shop, "reading.light_not_possible", plaque_shop.draft(0, parameter="look gloss", **given))


def test_defects_are_kept_beside_readings_or_alone(satin_shop: Shop) -> None:
    pit = DefectDraft(satin_shop.face, "pit", Decimal("0.15"), 3, satin_shop.gate, "near the gate")
    taken = satin_shop.take(1, satin_shop.draft("3.0"), defects=[pit])
    alone = satin_shop.take(2, defects=[DefectDraft(satin_shop.face, "scratch", Decimal("12.5"))])
    assert list(taken.defects.values_list("kind", "size_mm", "count", "note")) == [
        ("pit", Decimal("0.150"), 3, "near the gate")
    ]
    assert (alone.defects.get().count, alone.readings.count()) == (1, 0)


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"kind": "dent"}, "kind"),
        ({"size_mm": Decimal(0)}, "size"),
        ({"size_mm": Decimal("Infinity")}, "size"),
        ({"count": 0}, "count"),
    ],
)
def test_defect_that_cannot_be_is_refused_and_nothing_is_kept(
    satin_shop: Shop, given: dict[str, Any], field: str
) -> None:
    draft = DefectDraft(**{"face": satin_shop.face, "kind": "pit", "size_mm": Decimal("0.1"), **given})
    one = refused(satin_shop, f"defect.{field}", satin_shop.draft("3.0"), defects=[draft])
    assert one.field == f"defects-0-{field}"


def test_nothing_measured_and_no_fault_found_is_no_inspection(satin_shop: Shop) -> None:
    refused(satin_shop, "inspection.empty")


def test_database_refuses_a_defect_without_size_or_count(satin_shop: Shop) -> None:
    taken = satin_shop.take(1, defects=[DefectDraft(satin_shop.face, "pit", Decimal("0.1"))])
    for size, count in ((Decimal(0), 1), (Decimal("0.1"), 0)):
        with pytest.raises(IntegrityError, match="defect_has_size_and_count"), transaction.atomic():
            Defect.objects.create(
                inspection=taken, face=satin_shop.face, kind="pit", size_mm=size, count=count, by=taken.by, at=taken.at
            )


def test_withdrawn_plaque_is_asked_about_and_then_informs_only(plaque_shop: Shop) -> None:
    plaques.withdraw(plaque=governing(plaque_shop), why="scratched", by=plaque_shop.inspector, at=plaque_shop.day(1))
    draft = plaque_shop.draft(0, parameter="look gloss")
    asked = refused(plaque_shop, "plaque.withdrawn", draft, days=2)
    assert asked.question
    assert "scratched" in say(asked)
    taken = plaque_shop.take(2, draft, answers=KEEP)
    assert Verdict.objects.get(inspection=taken).informative
    # Nothing is changed about what was judged while it was good.
    assert not Verdict.objects.get(inspection=plaque_shop.take(0.5, draft)).informative


def test_withdrawn_plaque_releases_nothing_whatever_is_answered(plaque_shop: Shop) -> None:
    plaques.withdraw(plaque=governing(plaque_shop), why="scratched", by=plaque_shop.inspector, at=plaque_shop.day(1))
    draft = plaque_shop.draft(0, parameter="look gloss")
    refused(plaque_shop, "plaque.withdrawn", draft, days=2, kind="parts check", answers=KEEP)


def test_working_copy_of_a_withdrawn_master_goes_with_it(shop: Shop) -> None:
    master = plaque(shop.lead, copy="master")
    copy = plaques.make_copy(master=master, number="PQ-C", by=shop.inspector, at=shop.start)
    by_plaque(shop.face, shop.lead, shop.start, copy)
    plaques.withdraw(plaque=master, why="the house changed the grain", by=shop.inspector, at=shop.day(1))
    refused(shop, "plaque.withdrawn", shop.draft(0, parameter="look gloss"), days=2)


@pytest.mark.parametrize(
    ("happened", "code"), [("expired", "plaque.expired"), ("failed", "plaque.failed"), ("due", "plaque.check_due")]
)
def test_plaque_out_of_date_releases_nothing_and_informs_otherwise(plaque_shop: Shop, happened: str, code: str) -> None:
    sample, by = governing(plaque_shop), plaque_shop.inspector
    if happened == "expired":
        expires_on = (plaque_shop.start + timedelta(days=1)).date()
        plaques.edit(plaque=sample, expires_on=expires_on, by=by, at=plaque_shop.start)
    elif happened == "failed":
        plaques.check(plaque=sample, passed=False, note="faded", by=by, at=plaque_shop.day(1))
    else:
        plaques.edit(plaque=sample, recheck_days=1, by=by, at=plaque_shop.start)
    draft = plaque_shop.draft(0, parameter="look gloss")
    refused(plaque_shop, code, draft, days=4, kind="parts check")
    taken = plaque_shop.take(4, draft)
    assert Reading.objects.get(inspection=taken).gauge_overdue
    assert Verdict.objects.get(inspection=taken).informative


def test_plaque_checked_again_decides_again(plaque_shop: Shop) -> None:
    sample, by = governing(plaque_shop), plaque_shop.inspector
    plaques.check(plaque=sample, passed=False, note="fingerprints", by=by, at=plaque_shop.day(1))
    plaques.check(plaque=sample, passed=True, note="cleaned", by=by, at=plaque_shop.day(2))
    taken = plaque_shop.take(3, plaque_shop.draft(0, parameter="look gloss"), kind="parts check")
    assert not Verdict.objects.get(inspection=taken).informative


def test_file_of_readings_meets_the_same_plaque_rules_at_each_of_its_times(plaque_shop: Shop) -> None:
    plaques.withdraw(plaque=governing(plaque_shop), why="scratched", by=plaque_shop.inspector, at=plaque_shop.day(2))

    def brought(days: float, kind: str) -> InspectionDraft:
        drafts = [plaque_shop.draft(0, parameter="look gloss")]
        return InspectionDraft(plaque_shop.tool, kind, plaque_shop.day(days), drafts, [uuid4()], ["x"])

    looked = look_many([brought(1, "parts check"), brought(3, "parts check"), brought(4, "routine")])
    assert [[fault.code for _at, fault in one.faults] for one in looked] == [
        [], ["plaque.withdrawn"], ["plaque.withdrawn"],
    ]  # fmt: skip
    assert not looked[0].good[0].doubtful
