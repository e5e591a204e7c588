"""The route of a face, by the rules of the trade."""

from __future__ import annotations

from decimal import Decimal

import pytest

from shop.craft.cautions import BERYLLIUM, BLASTING, ETCH_TEST, HANDS, LICENSED, LOCAL_RULES, is_copper, is_steel
from shop.craft.media import STOCKED
from shop.craft.routes import IN_DRAW, NO_LAY, OUT_OF_DRAW, Route, RouteAsk, plan_route
from shop.craft.targets import target_for

GRADE = "mould finish grade"


def route(how_made: str, work: str, code: str = "", **more: object) -> Route:
    values = {"scale": GRADE, "steel": "1.2343", "area_cm2": 20.0, **more}
    return plan_route(RouteAsk(how_made=how_made, work=work, target_code=code, **values), STOCKED)  # type: ignore[arg-type]


def kinds(planned: Route) -> list[str]:
    return [step.kind for step in planned.steps]


def grains(planned: Route, kind: str) -> list[str]:
    return [step.grain for step in planned.steps if step.kind == kind]


WORKS = ["clean", "gloss blast", "kiss polish", "local touch-up", "full refinish", "re-cut"]
FINISHES = [("polished", "A-2"), ("stoned", "C-2"), ("blasted", "D-2"), ("spark-eroded", ""), ("etched", "")]


@pytest.mark.parametrize("work", WORKS)
@pytest.mark.parametrize(("how_made", "code"), FINISHES)
def test_every_route_begins_with_cleaning(how_made: str, code: str, work: str) -> None:
    assert kinds(route(how_made, work, code))[0] == "clean"


@pytest.mark.parametrize(("grade", "diamonds"), [("A-3", ["15"]), ("A-2", ["15", "6"]), ("A-1", ["15", "6", "3"])])
def test_mirror_ends_on_its_diamond(grade: str, diamonds: list[str]) -> None:
    planned = route("polished", "full refinish", grade)
    assert grains(planned, "diamond") == diamonds
    assert planned.steps[-1].target == grade
    assert all(step.direction == NO_LAY for step in planned.steps if step.kind == "diamond")


@pytest.mark.parametrize(("grade", "paper"), [("B-3", "320"), ("B-2", "400"), ("B-1", "600")])
def test_b_grade_ends_on_its_cami_paper(grade: str, paper: str) -> None:
    last = route("polished", "full refinish", grade).steps[-1]
    assert (last.kind, last.grading, last.grain) == ("paper", "CAMI", paper)


@pytest.mark.parametrize(("grade", "stone"), [("C-3", "320"), ("C-2", "400"), ("C-1", "600")])
def test_c_grade_ends_on_its_stone(grade: str, stone: str) -> None:
    last = route("stoned", "full refinish", grade).steps[-1]
    assert (last.kind, last.grain) == ("stone", stone)


@pytest.mark.parametrize(
    ("grade", "stone", "blast"), [("D-1", "600", "11"), ("D-2", "400", "240"), ("D-3", "320", "24")]
)
def test_d_grade_is_blasted_over_its_stone(grade: str, stone: str, blast: str) -> None:
    *_, last_stone, last = route("blasted", "full refinish", grade).steps
    assert (last_stone.kind, last_stone.grain, last.kind, last.grain) == ("stone", stone, "blast", blast)


@pytest.mark.parametrize(("how_made", "code"), [("polished", "A-1"), ("polished", "B-1"), ("stoned", "C-1")])
def test_ladder_turns_each_step_and_ends_in_draw(how_made: str, code: str) -> None:
    cutting = [step for step in route(how_made, "full refinish", code).steps if step.kind in ("stone", "paper")]
    assert cutting[-1].direction == IN_DRAW
    assert all(step.direction == OUT_OF_DRAW for step in cutting[1:-1])


def test_kiss_polish_is_only_the_end_of_the_ladder() -> None:
    kiss, full = route("polished", "kiss polish", "A-1"), route("polished", "full refinish", "A-1")
    assert grains(kiss, "diamond") == ["6", "3"]
    assert len(kiss.steps) == 3
    assert kiss.steel_um < full.steel_um / 5
    assert kiss.minutes is not None
    assert full.minutes is not None
    assert kiss.minutes < full.minutes / 2


@pytest.mark.parametrize(("work", "at_most"), [("kiss polish", 0.1), ("local touch-up", 0.3)])
def test_lighter_work_takes_a_fraction_of_new_work(work: str, at_most: float) -> None:
    light, full = (route("polished", each, "A-1", area_cm2=100.0).minutes for each in (work, "full refinish"))
    assert light is not None
    assert full is not None
    assert light < at_most * full


def test_kiss_polish_of_a_short_ladder_is_its_last_step() -> None:
    assert grains(route("stoned", "kiss polish", "C-3"), "stone") == ["320"]


def test_gloss_blast_is_clean_and_blast() -> None:
    assert kinds(route("etched", "gloss blast", micro_matt=True)) == ["clean", "blast"]


def test_local_touch_up_begins_one_medium_coarser_than_the_defect() -> None:
    shallow = route("polished", "local touch-up", "A-2", defect_um=10.0)
    deep = route("polished", "local touch-up", "A-2", defect_um=30.0)
    assert shallow.steps[1].grain == "15"
    assert (deep.steps[1].kind, deep.steps[1].grain) == ("paper", "320")


def test_white_layer_goes_first_and_is_looked_for_on_steel_only() -> None:
    on_steel = route("polished", "full refinish", "A-2", white_layer=True)
    assert kinds(on_steel)[:3] == ["clean", "stone", "etch test"]
    on_aluminium = route("polished", "full refinish", "B-2", white_layer=True, steel="EN AW-7075")
    assert "etch test" not in kinds(on_aluminium)


def test_spark_eroded_finish_keeps_its_layer_and_comes_from_the_electrode() -> None:
    planned = route("spark-eroded", "full refinish", "27", scale="VDI 3400", white_layer=True, target_ra_um=2.2)
    assert kinds(planned) == ["clean", "erode"]
    assert planned.steps[-1].target == "VDI 3400 Ref 27"
    assert planned.steel_um == Decimal(15)


def test_spark_eroded_finish_that_is_matched_says_that_it_looks_different() -> None:
    planned = route("spark-eroded", "full refinish", "27", scale="VDI 3400", put_back="blasted")
    assert kinds(planned) == ["clean", "blast"]
    assert any("looks different" in note for note in planned.notes)
    assert not any("looks different" in note for note in route("spark-eroded", "full refinish", "27").notes)


@pytest.mark.parametrize(("depth_um", "paper"), [(20.0, "400"), (60.0, "320")])
def test_texture_is_stripped_prepared_by_its_depth_and_sent_out(depth_um: float, paper: str) -> None:
    planned = route("etched", "full refinish", scale="plaque", pattern_depth_um=depth_um)
    assert planned.steps[1].steel_um == Decimal(str(depth_um + 30))
    assert grains(planned, "paper")[-1] == paper
    assert kinds(planned)[-1] == "texture"
    assert planned.steps[-1].outside
    assert planned.steel_um == Decimal(str(depth_um + 30))


def test_plated_face_is_stripped_and_recoated_outside_but_may_be_kissed() -> None:
    full = route("polished", "full refinish", "A-3", coating="hard chrome")
    outside = [step.kind for step in full.steps if step.outside]
    assert outside == ["strip", "recoat"]
    kiss = route("polished", "kiss polish", "A-3", coating="hard chrome")
    assert "strip" not in kinds(kiss)


def test_nitrided_face_has_nothing_to_strip() -> None:
    assert "strip" not in kinds(route("polished", "full refinish", "A-3", coating="nitrided"))


def test_minutes_follow_the_area_and_the_grade() -> None:
    small, large = (route("polished", "full refinish", "A-1", area_cm2=area) for area in (10.0, 40.0))
    plain = route("polished", "full refinish", "B-3", area_cm2=40.0)
    assert small.minutes is not None
    assert large.minutes is not None
    assert plain.minutes is not None
    assert plain.minutes < small.minutes < large.minutes
    assert 20 * 40 <= large.minutes <= 30 * 40 + 30


def test_minutes_are_not_known_without_an_area() -> None:
    planned = route("polished", "full refinish", "A-1", area_cm2=None)
    assert planned.minutes is None
    assert planned.steel_um > 0


def test_mirror_ladder_takes_thirty_to_fifty_micrometres() -> None:
    assert 30 <= route("polished", "full refinish", "A-1").steel_um <= 50


def test_spec_without_a_grade_gets_the_nearest_by_ra_and_is_told_so() -> None:
    target, named = target_for("polished", "value", "", 0.035)
    assert (target.grade, named) == ("A-2", False)
    planned = route("polished", "full refinish", scale="value", target_ra_um=0.035)
    assert any("names no grade" in note for note in planned.notes)
    assert not any("names no grade" in note for note in route("polished", "full refinish", "A-2").notes)


def test_grade_of_another_process_is_not_taken_for_the_face() -> None:
    target, named = target_for("polished", GRADE, "D-1", None)
    assert (target.grade[0] in "AB", named) == (True, False)


def test_process_is_tried_first_for_drift_but_not_for_damage() -> None:
    said = [any("process first" in note for note in route("blasted", "gloss blast", "D-1", cause=cause).notes)
            for cause in ("forecast", "damage")]  # fmt: skip
    assert said == [True, False]


def test_cautions_are_those_that_the_route_calls_for() -> None:
    mirror = route("polished", "full refinish", "A-1").cautions
    assert mirror[0] == LOCAL_RULES
    assert HANDS in mirror
    assert BLASTING not in mirror
    assert LICENSED not in mirror
    assert {BLASTING, LICENSED} <= set(route("etched", "full refinish", micro_matt=True).cautions)
    assert BERYLLIUM in route("polished", "kiss polish", "A-3", steel="CW101C").cautions
    assert ETCH_TEST in route("polished", "re-cut", "A-3").cautions


def test_copper_and_aluminium_are_not_steel() -> None:
    assert is_steel("1.2343")
    assert is_steel("H13")
    assert is_copper("2.1247")
    assert not is_steel("EN AW-7075")
    assert not is_steel("C17200")
