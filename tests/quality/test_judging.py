"""From values to a verdict: pure numbers."""

from __future__ import annotations

from math import hypot, sqrt

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shop.quality.judging import GaugeUncertainty, Terms, guard, judge_statistic, judge_values

SURE = None
ISO_1996, ISO_2021, ASME = "ISO 4288:1996", "ISO 21920-3:2021", "ASME B46.1"
RANK = {"no": 0, "not proven": 1, "yes": 2}

value = st.floats(0.01, 20, allow_nan=False).map(lambda number: round(number, 4))
values_ = st.lists(value, min_size=1, max_size=13)
gauge = st.builds(GaugeUncertainty, st.floats(0, 0.5), st.floats(0, 0.1), st.floats(1, 3), st.floats(0, 0.2))
rule = st.sampled_from(["16 %", "Tmax", "T16", "Tmed", "mean"])


def roughness(upper: float | None = 0.8, lower: float | None = None, **more: object) -> Terms:
    return Terms("Ra", lower, upper, str(more.pop("edition", ISO_2021)), **more)  # type: ignore[arg-type]


def test_gloss_is_judged_by_its_mean_and_the_calibration_does_not_shrink_with_repeats() -> None:
    terms = Terms("gloss", 2.0, 4.0, ISO_2021)
    glossmeter = GaugeUncertainty(expanded_a=0.2, coverage_k=2, resolution=0.1)
    judged = judge_values([2.9, 3.0, 3.1, 3.0], terms, glossmeter)
    assert (judged.rule, judged.statistic, judged.outcome) == ("mean", 3.0, "yes")
    assert judged.standard_uncertainty == pytest.approx(hypot(0.1, 0.1 / sqrt(12)))
    assert judge_values([3.0], terms, glossmeter).standard_uncertainty == judged.standard_uncertainty


def test_uncertainty_grows_with_the_value_where_the_certificate_says_so() -> None:
    assert GaugeUncertainty(0.1, 0.05, 2.0, 0.0).at(10.0) == pytest.approx(0.3)


def test_jcgm_106_example_gives_the_printed_probability() -> None:
    # JCGM 106:2012: y 13.6, u 1.8, limits 12.5 and 16.3.
    terms = Terms("gloss", 12.5, 16.3, ISO_2021)
    judged = judge_values([13.6], terms, GaugeUncertainty(expanded_a=1.8, coverage_k=1))
    assert judged.conformance == pytest.approx(0.6626, abs=5e-5)
    assert judged.outcome == "not proven"


@pytest.mark.parametrize(
    ("edition", "written", "applied"),
    [
        (ISO_1996, "", "16 %"), (ISO_2021, "", "Tmax"), (ISO_2021, "Tmed", "Tmed"), (ISO_1996, "mean", "mean"),
        (ASME, "", "simple"),
    ],
)  # fmt: skip
def test_rule_as_applied_is_the_drawings_or_the_editions_default(edition: str, written: str, applied: str) -> None:
    assert judge_values([0.1], roughness(edition=edition, tolerance_rule=written), SURE).rule == applied


def test_one_value_over_fails_by_tmax_and_passes_by_the_median() -> None:
    values = [0.5, 0.6, 0.9]
    assert judge_values(values, roughness(), SURE).outcome == "no"
    assert judge_values(values, roughness(), SURE).statistic == 0.9
    assert judge_values(values, roughness(tolerance_rule="Tmed"), SURE).outcome == "yes"


def test_sixteen_per_cent_rule_passes_the_first_value_up_to_70_per_cent() -> None:
    terms = roughness(edition=ISO_1996)
    assert judge_values([0.56], terms, SURE).outcome == "yes"
    assert judge_values([0.60], terms, SURE).outcome == "not proven"
    assert judge_values([0.81], terms, SURE).outcome == "no"


def test_sixteen_per_cent_rule_forgives_one_of_six_and_two_of_twelve() -> None:
    terms = roughness(edition=ISO_1996)
    assert judge_values([0.79, 0.78, 0.79, 0.79, 0.79, 2.0], terms, SURE).outcome == "yes"
    assert judge_values([0.79, 0.78, 0.79, 0.79, 2.0, 2.0], terms, SURE).outcome == "no"
    assert judge_values([0.79] * 10 + [2.0, 2.0], terms, SURE).outcome == "yes"


def test_scatter_over_the_surface_is_not_put_into_the_uncertainty_again() -> None:
    stylus = GaugeUncertainty(expanded_a=0.02)
    calm = judge_values([0.40, 0.40, 0.40], roughness(), stylus)
    wild = judge_values([0.05, 0.40, 0.20], roughness(), stylus)
    assert calm.standard_uncertainty == wild.standard_uncertainty == pytest.approx(0.01)


def test_lower_side_is_the_upper_one_in_a_mirror() -> None:
    terms = roughness(upper=None, lower=1.0)
    assert judge_values([1.1, 0.9, 1.3], terms, SURE).statistic == 0.9
    assert judge_values([1.1, 0.9, 1.3], terms, SURE).outcome == "no"
    assert judge_values([1.1, 1.0, 1.3], terms, SURE).outcome == "yes"


def test_guarded_value_between_guard_and_limit_is_not_proven() -> None:
    stylus = GaugeUncertainty(expanded_a=0.1)
    assert guard(0.8, 0.05, 0.95, upper=True) == pytest.approx(0.8 - 1.6449 * 0.05, abs=1e-4)
    assert judge_values([0.71], roughness(), stylus).outcome == "yes"
    assert judge_values([0.75], roughness(), stylus).outcome == "not proven"
    assert judge_values([0.85], roughness(), stylus).outcome == "not proven"
    assert judge_values([0.90], roughness(), stylus).outcome == "no"


def test_simple_acceptance_compares_plainly_and_still_says_the_chance() -> None:
    judged = judge_values([0.80], roughness(acceptance="simple"), GaugeUncertainty(expanded_a=0.1))
    assert judged.outcome == "yes"
    assert judged.conformance == pytest.approx(0.5)


def test_look_is_judged_by_the_grade_farthest_out_without_uncertainty() -> None:
    terms = Terms("look gloss", -1, 1, ISO_2021, acceptance="plaque")
    judged = judge_values([0, -2, 1], terms, GaugeUncertainty(expanded_a=1))
    assert (judged.outcome, judged.statistic, judged.rule) == ("no", -2, "worst")
    assert (judged.standard_uncertainty, judged.conformance) == (0, None)
    assert judge_values([0, -1, 1], terms).outcome == "yes"


def test_nothing_to_judge_is_an_error() -> None:
    with pytest.raises(ValueError, match="nothing to judge"):
        judge_values([], roughness(), SURE)


@given(values_, gauge, rule, st.sampled_from(["guarded", "simple"]), value)
def test_smoother_never_judges_worse_against_an_upper_limit(
    values: list[float], certain: GaugeUncertainty, written: str, acceptance: str, limit: float
) -> None:
    terms = roughness(upper=limit, tolerance_rule=written, acceptance=acceptance)
    smoother = [one * 0.9 for one in values]
    before, after = judge_values(values, terms, certain), judge_values(smoother, terms, certain)
    assert RANK[after.outcome] >= RANK[before.outcome]


@given(values_, gauge, rule, value)
def test_guarded_never_accepts_what_simple_rejects(
    values: list[float], certain: GaugeUncertainty, written: str, limit: float
) -> None:
    terms = {
        acceptance: roughness(upper=limit, tolerance_rule=written, acceptance=acceptance)
        for acceptance in ("guarded", "simple")
    }
    if judge_values(values, terms["simple"], certain).outcome == "no":
        assert judge_values(values, terms["guarded"], certain).outcome != "yes"


@given(values_, gauge, rule, st.permutations(range(13)))
def test_order_of_the_values_does_not_matter(
    values: list[float], certain: GaugeUncertainty, written: str, order: list[int]
) -> None:
    shuffled = [values[place] for place in order if place < len(values)]
    terms = roughness(lower=0.2, tolerance_rule=written)
    assert judge_values(values, terms, certain).outcome == judge_values(shuffled, terms, certain).outcome


@given(values_, gauge, rule, value, value)
def test_wider_limits_never_judge_worse(
    values: list[float], certain: GaugeUncertainty, written: str, limit: float, more: float
) -> None:
    narrow, wide = roughness(upper=limit, tolerance_rule=written), roughness(upper=limit + more, tolerance_rule=written)
    assert RANK[judge_values(values, wide, certain).outcome] >= RANK[judge_values(values, narrow, certain).outcome]


@given(values_, gauge, value, value)
def test_conformance_is_a_chance_and_two_sides_never_exceed_one(
    values: list[float], certain: GaugeUncertainty, lower: float, width: float
) -> None:
    both = judge_values(values, roughness(lower=lower, upper=lower + width), certain)
    one = judge_values(values, roughness(upper=lower + width), certain)
    assume(both.conformance is not None and one.conformance is not None)
    assert 0 <= both.conformance <= one.conformance + 1e-12 <= 1 + 1e-12  # type: ignore[operator]


@given(value, st.floats(0.001, 2), value, value)
def test_guarded_yes_is_at_least_as_probable_as_required(
    statistic: float, u: float, lower: float, width: float
) -> None:
    outcome, chance = judge_statistic(statistic, u, lower, lower + width, acceptance="guarded", required=0.95)
    assert chance is not None
    assert (outcome == "yes") == (chance >= 0.95 - 1e-9) or abs(chance - 0.95) < 1e-6
    assert (outcome == "no") == (chance <= 0.05 + 1e-9) or abs(chance - 0.05) < 1e-6
