"""Whether a face can have a finish, by its records and the plant's gauges; and a spec that is saved all the same."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from shop import loop
from shop.craft.suitability import CARE, NO, YES, Answer
from shop.people.models import Person
from shop.quality import suits
from shop.quality.models import CalibrationRange, Gauge, GaugeStudy
from shop.quality.services import gauges, specifying
from shop.refusal import Refused
from shop.tooling.models import Face, Spec
from shop.tooling.reading import spec_at
from shop.tooling.services.spec_checks import LimitDraft
from tests.factories import Built, build_tool, specify

NARROW = LimitDraft("gloss", "part", Decimal("2.8"), Decimal("3.2"), "GU", geometry_deg=60)
DAY = timedelta(days=1)


@pytest.fixture
def built(lead: Person, at: datetime) -> Built:
    return build_tool(lead, at - 30 * DAY, cavities=1)


@pytest.fixture
def face(built: Built) -> Face:
    return built.faces["show 1"]


@pytest.fixture
def glossmeter(lead: Person, at: datetime) -> Callable[..., Gauge]:
    def made(number: str, u: str, *, due: int = 90, passed: bool = True) -> Gauge:
        gauge = gauges.add_gauge(
            plant=lead.plant, number=number, kind="glossmeter", resolution=Decimal("0.01"), by=lead, at=at - DAY
        )
        gauges.calibrate(
            gauge=gauge, due_on=(at + due * DAY).date(), expanded_a=Decimal(u), passed=passed, by=lead, at=at - DAY
        )
        return gauge

    return made


def asked(face: Face, at: datetime, **spec: Any) -> Answer:
    fields = {"how_made": "blasted", "scale": "value", "drawing_edition": "ISO 21920-3:2021", "acceptance": "guarded"}
    limits = spec.pop("limits", [NARROW])
    return suits.answer_for(face, Spec(face=face, **{**fields, **spec}), limits, at)


def of(answer: Answer, topic: str) -> list[Any]:
    return [row for row in answer.rows if row.topic == topic]


def test_tolerance_is_held_against_the_best_gauge_in_date(
    face: Face, at: datetime, glossmeter: Callable[..., Gauge]
) -> None:
    glossmeter("G-1", "0.30")
    (coarse,) = of(asked(face, at), "tolerance")
    assert coarse.verdict == NO
    assert coarse.saying.code == "suits.proof.never"
    glossmeter("G-2", "0.18")
    (finer,) = of(asked(face, at), "tolerance")
    assert (finer.verdict, finer.saying.code) == (CARE, "suits.proof.widens")
    glossmeter("G-3", "0.04")
    assert of(asked(face, at), "tolerance")[0].verdict == YES


def test_what_a_study_found_counts_as_it_will_in_the_verdict(
    face: Face, at: datetime, lead: Person, glossmeter: Callable[..., Gauge]
) -> None:
    gauge = glossmeter("G-1", "0.04")
    assert of(asked(face, at), "tolerance")[0].verdict == YES
    GaugeStudy.objects.create(
        gauge=gauge, parameter="gloss", geometry_deg=60, unit="GU", people=["a"], parts=["1"], values=[],
        repeatability=Decimal("0.15"), repeatability_df=60, percent_grr=45, fitness="not fit", by=lead, at=at - DAY,
    )  # fmt: skip
    assert of(asked(face, at), "tolerance")[0].saying.code == "suits.proof.never"


@pytest.mark.parametrize("how", [{"due": -1}, {"passed": False}])
def test_gauge_out_of_date_or_failed_proves_nothing_and_is_said(
    face: Face, at: datetime, glossmeter: Callable[..., Gauge], how: dict[str, Any]
) -> None:
    glossmeter("G-1", "0.04", **how)
    answer = asked(face, at)
    assert [row.saying.code for row in of(answer, "how measured") if row.verdict == CARE] == ["suits.no_gauge"]
    assert "suits.proof.yes" not in {row.saying.code for row in answer.rows}


def test_uncertainty_is_that_of_the_range_the_limit_lies_in(
    face: Face, at: datetime, lead: Person, glossmeter: Callable[..., Gauge]
) -> None:
    gauge = glossmeter("G-1", "0.04")
    CalibrationRange.objects.create(
        calibration=gauge.calibrations.get(), lower=0, upper=10, expanded_a=Decimal("0.30"), by=lead, at=at
    )
    assert of(asked(face, at), "tolerance")[0].verdict == NO


def test_face_is_asked_with_what_its_records_say(face: Face, at: datetime) -> None:
    ask = suits.ask_of(face)
    assert (ask.steel, ask.hardness_hrc, ask.coating, ask.draft_deg) == ("1.2343", 52.0, "none", 2.0)
    assert (ask.area_cm2, ask.steel_left_um) == (25.0, 400.0)
    deep = asked(face, at, how_made="etched", pattern_depth_um=Decimal(450), limits=[])
    assert of(deep, "steel left")[0].verdict == NO
    assert of(asked(face, at, how_made="etched", pattern_depth_um=Decimal(100), limits=[]), "draft")[0].verdict == CARE


def deep(face: Face, by: Person, at: datetime, **more: Any) -> dict[str, Any]:
    return {
        "face": face, "reason": "the customer's new grain", "how_made": "etched", "scale": "value",
        "limits": [LimitDraft("gloss", "part", Decimal(2), Decimal(9), "GU", geometry_deg=60)],
        "pattern_depth_um": Decimal(450), "drawing_edition": "ISO 21920-3:2021", "acceptance": "simple",
        "by": by, "at": at, **more,
    }  # fmt: skip


def test_spec_that_a_face_cannot_have_is_a_question_and_saves_nothing(face: Face, lead: Person, at: datetime) -> None:
    with pytest.raises(Refused) as question:
        loop.spec_revised(**deep(face, lead, at))
    assert question.value.code == specifying.ASKED
    assert question.value.question
    assert "400 um" in question.value.plain() or "400" in question.value.plain()
    assert spec_at(face, at) is None


def test_spec_is_saved_all_the_same_only_with_a_reason_that_stays(face: Face, lead: Person, at: datetime) -> None:
    answers = {specifying.ASKED: specifying.ALL_THE_SAME}
    with pytest.raises(Refused) as wanted:
        loop.spec_revised(**deep(face, lead, at, answers=answers))
    assert wanted.value.field == "why_all_the_same"
    spec = loop.spec_revised(**deep(face, lead, at, answers=answers, why_all_the_same="welded up before"))
    kept = specifying.saved_all_the_same(spec)
    assert kept is not None
    assert (kept.why, kept.old, kept.by) == ("welded up before", "no: steel left", lead)


def test_spec_names_the_ra_bands_that_were_in_force(face: Face, lead: Person, at: datetime) -> None:
    assert specify(face, lead, at, [NARROW]).grade_ra_table == "variant 2"
