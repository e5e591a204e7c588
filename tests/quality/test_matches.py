"""Faces that must agree: what a group may be, and how it is judged by the one gauge that read its faces."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from math import sqrt
from typing import Any

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from shop.boards import matches as board
from shop.ledger.models import Change
from shop.people.models import Person
from shop.quality import matching
from shop.quality.models import Calibration, CalibrationRange, GaugeStudy, Inspection, MatchGroup, MatchVerdict, Reading
from shop.quality.services import gauges, inspections, matches, unfit
from shop.quality.services.checks import ReadingDraft
from shop.refusal import Refused
from tests.factories import build_tool, satin
from tests.measuring import Shop, open_shop
from tests.quality.test_constraints import breaks, copy_of


@pytest.fixture
def buttons(lead: Person, press_tech: Person, inspector: Person, at: datetime) -> Shop:
    """A tool of four satin faces."""
    made = open_shop(lead, press_tech, inspector, at, cavities=4)
    for face in made.built.faces.values():
        satin(face, lead, at)
    return made


def group_of(shop: Shop, **given: Any) -> MatchGroup:
    asked = {
        "tool": shop.tool, "name": "four buttons", "parameter": "gloss", "where": "part", "geometry_deg": 60,
        "tolerance": Decimal("0.5"), "unit": "GU", "faces": list(shop.built.faces.values()), "by": shop.lead,
        "at": shop.start,
    }  # fmt: skip
    return matches.define(**{**asked, **given})


def drafts(shop: Shop, *values: str, **given: Any) -> list[ReadingDraft]:
    faces = shop.built.faces.values()
    return [
        shop.draft(value, face=face, spot=shop.spot("gate", face), **given)
        for face, value in zip(faces, values, strict=False)
    ]


def refused(shop: Shop, **given: Any) -> str:
    with pytest.raises(Refused) as caught:
        group_of(shop, **given)
    return caught.value.code


# The group


def test_group_says_what_must_agree_and_leaves_a_trail(buttons: Shop) -> None:
    group = group_of(buttons, name=" four buttons ")
    assert (group.name, group.unit, group.faces.count()) == ("four buttons", "GU", 4)
    assert "0.5000 GU" in Change.objects.get(room="quality.matchgroup", field="faces").new


def test_roughness_group_keeps_its_tolerance_in_micrometres(buttons: Shop) -> None:
    group = group_of(buttons, parameter="Ra", where="steel", tolerance=Decimal(8), unit="uin", geometry_deg=60)
    assert (group.tolerance, group.unit, group.geometry_deg) == (Decimal("0.2032"), "um", None)


@pytest.mark.parametrize(
    ("code", "given"),
    [
        ("match.name_wanted", {"name": " "}),
        ("match.two_faces", {"faces": []}),
        ("match.by_eye", {"parameter": "look gloss"}),
        ("match.gloss_on_part", {"where": "steel"}),
        ("match.angle_wanted", {"geometry_deg": None}),
        ("match.angle_wanted", {"geometry_deg": 45}),
        ("match.tolerance_none", {"tolerance": Decimal("-0.5")}),
        ("match.tolerance_none", {"tolerance": Decimal("0.00001")}),
    ],
)
def test_group_that_says_nothing_is_refused(buttons: Shop, code: str, given: dict[str, Any]) -> None:
    assert refused(buttons, **given) == code
    assert not MatchGroup.objects.exists()


def test_group_is_of_one_tool_and_its_name_stands_once(buttons: Shop) -> None:
    other = build_tool(buttons.lead, buttons.start)
    assert refused(buttons, faces=[buttons.face, other.face]) == "match.face_elsewhere"
    assert refused(buttons, faces=[buttons.face, buttons.face]) == "match.two_faces"
    group_of(buttons)
    assert refused(buttons) == "match.name_taken"


def test_group_is_ended_once_with_a_reason_and_judged_no_more(buttons: Shop) -> None:
    group = group_of(buttons)
    given = {"group": group, "by": buttons.lead, "at": buttons.day(1)}
    with pytest.raises(Refused, match="only with a reason"):
        matches.end(why=" ", **given)
    matches.end(why="one part now", **given)
    with pytest.raises(Refused, match="was ended"):
        matches.end(why="again", **given)
    buttons.take(2, *drafts(buttons, "3.0", "3.6"))
    assert not MatchVerdict.objects.exists()
    buttons.take(0.5, *drafts(buttons, "3.0", "3.6"))
    assert MatchVerdict.objects.count() == 1, "measured while the group was in force"


# The verdict


def test_faces_far_apart_do_not_match_and_the_two_are_named(buttons: Shop) -> None:
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.1", "3.9"))
    verdict = MatchVerdict.objects.get()
    assert (verdict.outcome, verdict.difference) == ("no", Decimal("0.90000"))
    assert [str(end.face) for end in (verdict.lowest, verdict.highest)] == ["1 show 1", "3 show 3"]
    assert verdict.missing == ["4 show 4"]
    assert verdict.by == buttons.inspector


def test_uncertainty_is_that_of_a_difference_on_one_gauge(buttons: Shop) -> None:
    # U = 0.2 GU of the certificate is common to both and cancels: two roundings of 0.1 GU are left.
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.1"))
    verdict = MatchVerdict.objects.get()
    assert float(verdict.standard_uncertainty) == pytest.approx(sqrt(2) * 0.1 / sqrt(12), abs=1e-6)
    assert (verdict.outcome, verdict.required) == ("yes", Decimal("0.950"))


def test_difference_near_the_tolerance_is_not_proven(buttons: Shop) -> None:
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.00", "3.48"))
    verdict = MatchVerdict.objects.get()
    assert verdict.outcome == "not proven"
    assert Decimal("0.5") < verdict.conformance < Decimal("0.95")


def test_what_grows_with_the_value_and_what_the_study_found_count(buttons: Shop) -> None:
    gauges.calibrate(
        gauge=buttons.gloss, due_on=buttons.day(300).date(), expanded_a=Decimal("0.2"), expanded_b=Decimal("0.1"),
        by=buttons.inspector, at=buttons.day(0.1),
    )  # fmt: skip
    GaugeStudy.objects.create(
        gauge=buttons.gloss, parameter="gloss", geometry_deg=60, unit="GU", people=["a"], parts=["1"], values=[],
        repeatability=Decimal("0.06"), repeatability_df=60, percent_grr=9, fitness="fit", by=buttons.inspector,
        at=buttons.day(0.2),
    )  # fmt: skip
    group_of(buttons)
    # Two readings on each face: the repeatability of their means is that much smaller.
    buttons.take(1, *drafts(buttons, "3.0", "3.2"), *drafts(buttons, "3.0", "3.2"))
    resolution, repeats, grows = 0.1 / sqrt(12), 0.06 / sqrt(2), 0.1 * 0.2 / 2
    expected = sqrt(2 * resolution**2 + 2 * repeats**2 + grows**2)
    assert float(MatchVerdict.objects.get().standard_uncertainty) == pytest.approx(expected, abs=1e-6)


def test_study_in_microinches_counts_in_the_groups_own_unit(buttons: Shop) -> None:
    GaugeStudy.objects.create(
        gauge=buttons.stylus, parameter="Ra", unit="uin", people=["a"], parts=["1"], values=[],
        repeatability=Decimal(2), repeatability_df=60, percent_grr=9, fitness="fit", by=buttons.inspector,
        at=buttons.day(0.2),
    )  # fmt: skip
    group = group_of(buttons, parameter="Ra", where="steel", geometry_deg=None, unit="um")
    found = matching.Apart(
        gauge=buttons.stylus, lowest=Reading(), highest=Reading(), low=0.4, high=0.4, repeats=1, missing=()
    )
    step = float(buttons.stylus.resolution) / sqrt(12)
    expected = sqrt(2 * step**2 + 2 * (2 * 0.0254) ** 2)
    assert found.judged(group, 0.95, buttons.day(1)).standard_uncertainty == pytest.approx(expected, rel=1e-6)


def test_nothing_is_common_where_the_certificate_has_a_range_for_each(buttons: Shop) -> None:
    last = Calibration.objects.get(gauge=buttons.gloss)
    for lower, upper, a in ((0, 3, "0.1"), ("3.0001", 10, "0.4")):
        CalibrationRange.objects.create(
            calibration=last, lower=lower, upper=upper, expanded_a=Decimal(a), by=buttons.inspector, at=buttons.start
        )
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.2"))
    expected = sqrt(0.05**2 + 0.2**2 + 2 * 0.1**2 / 12)
    assert float(MatchVerdict.objects.get().standard_uncertainty) == pytest.approx(expected, abs=1e-6)


def test_faces_are_compared_at_the_same_spot(buttons: Shop) -> None:
    group_of(buttons)
    first, second = list(buttons.built.faces.values())[:2]
    elsewhere = buttons.draft("3.9", face=second, spot=buttons.spot("end of fill", second))
    buttons.take(1, buttons.draft("3.0", face=first, spot=buttons.spot("gate", first)), elsewhere)
    assert not MatchVerdict.objects.exists()
    found = board.of_inspection(Inspection.objects.get())
    assert [said.code for said in found.unjudged] == ["match.no_common_spot"]


def test_different_gauges_are_said_and_not_judged(buttons: Shop) -> None:
    other = gauges.add_gauge(
        plant=buttons.lead.plant, number="G-2", kind="glossmeter", resolution=Decimal("0.1"), by=buttons.inspector,
        at=buttons.start,
    )  # fmt: skip
    due_on: date = buttons.day(300).date()
    gauges.calibrate(gauge=other, due_on=due_on, expanded_a=Decimal("0.2"), by=buttons.inspector, at=buttons.start)
    group_of(buttons)
    one, two = drafts(buttons, "3.0", "3.9")
    taken = buttons.take(1, one, buttons.draft("3.9", face=two.face, spot=two.spot, gauge=other))
    assert not MatchVerdict.objects.exists()
    found = board.of_inspection(taken)
    assert [said.code for said in found.unjudged] == ["match.two_gauges"]


def test_gauge_out_of_date_does_not_judge_a_match(buttons: Shop) -> None:
    gauges.calibrate(
        gauge=buttons.gloss, due_on=buttons.day(1).date(), expanded_a=Decimal("0.2"), by=buttons.inspector,
        at=buttons.day(0.5),
    )  # fmt: skip
    group_of(buttons)
    taken = buttons.take(5, *drafts(buttons, "3.0", "3.9"))
    assert not MatchVerdict.objects.exists()
    assert [said.code for said in board.of_inspection(taken).unjudged] == ["match.gauge_overdue"]


def test_one_face_alone_and_another_parameter_judge_nothing(buttons: Shop) -> None:
    group_of(buttons)
    taken = buttons.take(1, *drafts(buttons, "3.0"))
    assert not MatchVerdict.objects.exists()
    assert board.of_inspection(taken) == board.InInspection((), ())


def test_equal_faces_agree(buttons: Shop) -> None:
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.0"))
    verdict = MatchVerdict.objects.get()
    assert (verdict.outcome, verdict.difference) == ("yes", 0)
    assert verdict.lowest.face != verdict.highest.face


def test_inspections_brought_by_a_file_are_judged_too(buttons: Shop) -> None:
    import uuid

    from shop.quality.services.many import InspectionDraft, look_many, take_many

    group_of(buttons)
    wanted = drafts(buttons, "3.0", "3.9")
    draft = InspectionDraft(
        tool=buttons.tool, kind="routine", at=buttons.day(1), drafts=wanted, refs=[uuid.uuid4() for _ in wanted],
        contents=["a", "b"],
    )  # fmt: skip
    with transaction.atomic():
        take_many(look_many([draft]), by=buttons.inspector, at=timezone.now())
    assert MatchVerdict.objects.get().outcome == "no"


# How it is shown


def test_verdict_whose_reading_was_put_right_or_is_in_doubt_says_so(buttons: Shop) -> None:
    group_of(buttons)
    taken = buttons.take(1, *drafts(buttons, "3.0", "3.9"))
    (row,) = board.of_tool(buttons.tool)
    assert row.last is not None
    assert (row.last.in_doubt, row.last.overtaken) == (False, False)
    unfit.find_unfit(gauge=buttons.gloss, why="dropped", by=buttons.inspector, at=buttons.day(2))
    inspections.correct(
        reading=taken.readings.order_by("id")[1], value=Decimal("3.1"), why="misread", by=buttons.inspector,
        at=buttons.day(3),
    )  # fmt: skip
    (matched,) = board.of_inspection(taken).matched
    assert (matched.in_doubt, matched.overtaken) == (True, True)


def test_groups_of_a_tool_take_a_fixed_number_of_queries(buttons: Shop, django_assert_num_queries: Any) -> None:
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.9"))
    with django_assert_num_queries(7):
        board.of_tool(buttons.tool)
    for number in range(4):
        group_of(buttons, name=f"group {number}")
    buttons.take(2, *drafts(buttons, "3.0", "3.9"))
    with django_assert_num_queries(7):
        assert len(board.of_tool(buttons.tool)) == 5


# The database


@pytest.mark.parametrize(
    "changed", [{"difference": -1}, {"standard_uncertainty": -1}, {"conformance": -1}, {"conformance": Decimal("1.1")}]
)
def test_match_verdict_that_cannot_be_is_refused(buttons: Shop, changed: dict[str, Any]) -> None:
    group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.1"))
    other = group_of(buttons, name="again")
    breaks("match_figures_possible", copy_of(MatchVerdict.objects.get(), group_id=other.pk, **changed))


def test_group_and_verdict_stand_once(buttons: Shop) -> None:
    group = group_of(buttons)
    buttons.take(1, *drafts(buttons, "3.0", "3.1"))
    breaks("match_group_name_once", copy_of(group))
    breaks("match_tolerance_positive", copy_of(group, name="other", tolerance=0))
    breaks("match_verdict_once", copy_of(MatchVerdict.objects.get()))
    for alter in (lambda rows: rows.update(difference=0), lambda rows: rows._raw_delete("default")):
        with pytest.raises(IntegrityError), transaction.atomic():
            alter(MatchVerdict.objects.all())
