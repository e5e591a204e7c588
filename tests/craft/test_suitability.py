"""Can this face have this finish: each topic answered, and no "no" from what nobody published."""

from __future__ import annotations

import itertools
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.craft.suitability import CARE, NO, NOT_JUDGED, TOPICS, YES, Ask, AskedLimit, Row, can_have
from shop.standards.source import Standing

RA = AskedLimit("Ra", upper=0.8, where="steel")
GLOSS = AskedLimit("gloss", lower=2.0, upper=4.0, geometry_deg=60)
OLD, NEW = "ISO 4288:1996", "ISO 21920-3:2021"


def row(topic: str, **known: Any) -> Row:
    """Return the first row of a topic."""
    return next(each for each in can_have(Ask(**known)).rows if each.topic == topic)


def test_nothing_known_is_nothing_judged() -> None:
    answer = can_have(Ask())
    assert answer.verdict == NOT_JUDGED
    assert {each.verdict for each in answer.rows} == {NOT_JUDGED}
    assert {each.topic for each in answer.rows} == set(TOPICS) - {"gloss of the resin"}


@pytest.mark.parametrize(
    ("known", "topic", "verdict"),
    [
        ({"steel": "1.2343", "code": "A-1"}, "steel", YES),
        ({"steel": "1.2311", "code": "A-2"}, "steel", CARE),
        ({"steel": "1.2738", "how_made": "etched"}, "steel", YES),
        ({"steel": "1.2312", "how_made": "etched"}, "steel", CARE),
        ({"steel": "1.9999", "code": "A-1"}, "steel", NOT_JUDGED),
        ({"steel": "1.2343", "code": "A-1", "hardness_hrc": 46.0}, "hardness", CARE),
        ({"steel": "1.2343", "code": "A-1", "hardness_hrc": 52.0}, "hardness", YES),
        ({"steel": "1.2311", "code": "A-3", "hardness_hrc": 30.0}, "hardness", YES),
        ({"coating": "none"}, "coating", YES),
        ({"coating": "nitrided"}, "coating", CARE),
        ({"coating": "hard chrome"}, "coating", CARE),
        ({"coating": "paint"}, "coating", NOT_JUDGED),
        ({"resin": "PP", "code": "A-1"}, "resin", CARE),
        ({"resin": "PMMA", "code": "A-1"}, "resin", YES),
        ({"resin": "PEEK", "code": "A-1"}, "resin", NOT_JUDGED),
        ({"draft_deg": 4.0, "pattern_depth_um": 50.0}, "draft", YES),
        ({"draft_deg": 3.5, "pattern_depth_um": 50.0}, "draft", CARE),
        ({"draft_deg": 0.5, "pattern_depth_um": 50.0}, "draft", CARE),
        ({"draft_deg": 1.0, "scale": "VDI 3400", "code": "27", "resin": "PA"}, "draft", YES),
        ({"draft_deg": 0.5, "scale": "VDI 3400", "code": "27", "resin": "PA"}, "draft", CARE),
        ({"draft_deg": 0.5, "scale": "VDI 3400", "code": "27", "resin": "PMMA"}, "draft", NOT_JUDGED),
        ({"draft_deg": 0.5, "scale": "VDI 3400", "code": "?", "resin": "PA"}, "draft", NOT_JUDGED),
        ({"zone": "shut-off edge"}, "zone", CARE),
        ({"zone": "gate"}, "zone", YES),
        ({"how_made": "etched", "pattern_depth_um": 60.0, "steel_left_um": 59.0}, "steel left", NO),
        ({"how_made": "etched", "pattern_depth_um": 60.0, "steel_left_um": 80.0}, "steel left", CARE),
        ({"how_made": "etched", "pattern_depth_um": 60.0, "steel_left_um": 110.0}, "steel left", YES),
        ({"taken_um": 20.0, "steel_left_um": 19.9}, "steel left", NO),
        ({"taken_um": 20.0, "steel_left_um": 20.0}, "steel left", YES),
        ({"code": "A-2", "steel_left_um": 10.0}, "steel left", CARE),
        ({"how_made": "polished", "code": "A-2"}, "how made", YES),
        ({"how_made": "blasted", "code": "A-2"}, "how made", CARE),
        ({"how_made": "laser", "code": "A-2"}, "how made", CARE),
        ({"how_made": "spark-eroded", "scale": "VDI 3400", "code": "27"}, "how made", YES),
        ({"how_made": "blasted", "scale": "VDI 3400", "code": "27"}, "how made", CARE),
        ({"limits": (RA,), "edition": OLD, "length_mm": 0.7}, "area", NO),
        ({"limits": (RA,), "edition": OLD, "length_mm": 3.0}, "area", CARE),
        ({"limits": (RA,), "edition": OLD, "length_mm": 4.8}, "area", YES),
        ({"limits": (RA,), "edition": OLD, "length_mm": 4.8, "travel_mm": 2.0}, "area", CARE),
        ({"limits": (RA,), "edition": OLD, "area_cm2": 0.001}, "area", CARE),
        ({"limits": (RA,), "edition": OLD, "area_cm2": 1.0}, "area", YES),
        ({"limits": (RA,), "edition": OLD, "area_cm2": 0.1, "width_mm": 1.0}, "area", YES),
        ({"limits": (RA,), "length_mm": 4.8}, "area", NOT_JUDGED),
        ({"limits": (GLOSS,), "area_cm2": 1.0, "aperture_mm": (9.0, 15.0)}, "area", NO),
        ({"limits": (GLOSS,), "area_cm2": 1.0}, "area", CARE),
        ({"limits": (GLOSS,), "width_mm": 9.0, "length_mm": 15.0}, "area", YES),
        ({"limits": (GLOSS,), "width_mm": 8.0, "length_mm": 90.0, "aperture_mm": (9.0, 15.0)}, "area", NO),
        ({"limits": (replace(GLOSS, where="steel"),)}, "how measured", NO),
        ({"limits": (replace(GLOSS, geometry_deg=45),)}, "how measured", NO),
        ({"limits": (GLOSS,), "gauge_kind": "stylus"}, "how measured", NO),
        ({"limits": (GLOSS,), "gauge_kind": "glossmeter"}, "how measured", YES),
        ({"limits": (RA,), "gauge_kind": "stylus", "code": "A-1"}, "how measured", CARE),
        ({"limits": (RA,), "gauge_kind": "optical", "code": "A-1"}, "how measured", YES),
        ({"limits": (RA,), "edition": OLD}, "cut-off", YES),
        ({"limits": (replace(RA, cutoff_mm=0.25),), "edition": OLD}, "cut-off", CARE),
        ({"limits": (RA,), "edition": "ASME B46.1"}, "cut-off", CARE),
        ({"limits": (replace(RA, upper=90.0),), "edition": OLD}, "cut-off", NOT_JUDGED),
        ({"limits": (replace(RA, u=0.02),)}, "tolerance", YES),
        ({"limits": (replace(RA, u=0.5),)}, "tolerance", NO),
        ({"limits": (replace(GLOSS, lower=2.8, upper=3.2, u=0.12),)}, "tolerance", NO),
        ({"limits": (replace(GLOSS, lower=2.8, upper=3.2, u=0.12),), "guarded": False}, "tolerance", CARE),
        ({"limits": (replace(GLOSS, lower=2.8, upper=3.2, u=0.1),)}, "tolerance", CARE),
        ({"limits": (replace(GLOSS, u=0.1),)}, "tolerance", YES),
        ({"limits": (RA,)}, "tolerance", NOT_JUDGED),
    ],
)
def test_topic_is_answered(known: dict[str, Any], topic: str, verdict: str) -> None:
    assert row(topic, **known).verdict == verdict


@pytest.mark.parametrize(
    ("resin", "lower", "opaque", "verdict"),
    [("PMMA", 90.0, True, NO), ("PMMA", 90.0, None, CARE), ("PMMA", 87.0, True, YES), ("PC", 110.0, True, CARE),
     ("PEEK", 90.0, True, NOT_JUDGED)],
)  # fmt: skip
def test_resin_cannot_show_more_gloss_than_its_index_allows(
    resin: str, lower: float, opaque: bool | None, verdict: str
) -> None:
    asked = AskedLimit("gloss", lower=lower, geometry_deg=60)
    found = row("gloss of the resin", resin=resin, opaque=opaque, limits=(asked,))
    assert found.verdict == verdict


def test_worst_row_is_the_answer() -> None:
    good = Ask(steel="1.2343", code="A-2", hardness_hrc=52.0, coating="none", how_made="polished")
    assert can_have(good).verdict == YES
    assert can_have(replace(good, zone="parting edge")).verdict == CARE
    assert can_have(replace(good, taken_um=10.0, steel_left_um=5.0, zone="parting edge")).verdict == NO


def test_row_says_value_limit_source_and_what_would_have_to_change() -> None:
    found = row("draft", draft_deg=2.5, pattern_depth_um=50.0)
    assert (str(found.value and found.value.value), str(found.limit and found.limit.value)) == ("2.5", "4")  # type: ignore[union-attr]
    assert found.source is not None
    assert found.source.standing == Standing.CONFLICTING
    assert found.change is not None
    assert found.change.values["depth"].value == 25
    assert found.decides is not None


STEELS = ["", "1.2343", "1.2312", "EN AW-7075", "?"]
CODES = [("", ""), ("grade", "A-1"), ("grade", "D-3"), ("VDI 3400", "30"), ("VDI 3400", "99"), ("plaque", "x")]
ASKS = st.builds(
    lambda scale_code, **rest: Ask(scale=scale_code[0], code=scale_code[1], **rest),
    st.sampled_from(CODES),
    steel=st.sampled_from(STEELS),
    hardness_hrc=st.sampled_from([None, 30.0, 52.0]),
    coating=st.sampled_from(["", "none", "hard chrome", "nitrided"]),
    resin=st.sampled_from(["", "PMMA", "PC", "TPU", "?"]),
    opaque=st.sampled_from([None, True, False]),
    draft_deg=st.sampled_from([None, 0.0, 1.0, 9.0]),
    pattern_depth_um=st.sampled_from([None, 5.0, 100.0]),
    area_cm2=st.sampled_from([None, 0.001, 2.0]),
    length_mm=st.sampled_from([None, 0.5, 50.0]),
    width_mm=st.sampled_from([None, 0.2, 20.0]),
    zone=st.sampled_from(["", "gate", "shut-off edge"]),
    steel_left_um=st.sampled_from([None, 0.0, 40.0, 500.0]),
    how_made=st.sampled_from(["", "polished", "stoned", "blasted", "spark-eroded", "etched", "laser"]),
    limits=st.lists(
        st.sampled_from([
            replace(part, u=u)
            for part, u in itertools.product((RA, GLOSS, replace(GLOSS, where="steel"), AskedLimit("Rq", upper=1.0),
                                              AskedLimit("gloss", lower=95.0, geometry_deg=20)), (None, 0.05, 5.0))
        ]), max_size=3,
    ).map(tuple),
    gauge_kind=st.sampled_from(["", "stylus", "glossmeter", "optical"]),
    edition=st.sampled_from(["", OLD, NEW, "ASME B46.1"]),
)  # fmt: skip


@given(ASKS)
def test_plain_no_comes_only_from_arithmetic_or_what_is_published(ask: Ask) -> None:
    for each in can_have(ask).rows:
        if each.verdict == NO:
            assert each.source is None or each.source.standing == Standing.PUBLISHED, each


@given(ASKS)
def test_every_answer_can_be_said_and_names_who_decides(ask: Ask) -> None:
    answer = can_have(ask)
    for each in answer.rows:
        assert each.saying.template.format(**each.saying.values)
        if each.change is not None:
            assert each.change.template.format(**each.change.values)
        if each.verdict == CARE:
            assert each.decides is not None, each
            assert each.change is not None, each
            assert each.source is not None, each
        if each.verdict == NO:
            assert each.change is not None, each
    assert {each.topic for each in answer.rows} >= set(TOPICS) - {"gloss of the resin"}


def test_draft_that_leaves_no_pattern_says_so_and_names_no_depth() -> None:
    found = row("draft", draft_deg=1.0, pattern_depth_um=50.0)
    assert found.change is not None
    assert found.change.code == "suits.draft.none"


@pytest.mark.parametrize(("u", "code"), [(0.12, "never"), (0.09, "widens"), (0.02, "yes")])
def test_tolerance_is_said_in_times_the_uncertainty(u: float, code: str) -> None:
    found = row("tolerance", limits=(replace(GLOSS, lower=2.8, upper=3.2, u=u),))
    assert found.saying.code == f"suits.proof.{code}"
