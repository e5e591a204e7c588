"""Profiles: what is refused, what is uneven, and which conditions a result belongs to."""

from __future__ import annotations

import math

import numpy as np
import pytest

from shop.refusal import Refused
from shop.standards import profile
from tests.standards.traces import CUTOFF_MM, GROUND_SPACING_UM, SPACING_UM, ground, sine, surface


# Bad input: what, value, limit, next step.
def refused_for(z: object, spacing: object = SPACING_UM, cutoff: object = CUTOFF_MM, **more: object) -> Refused:
    with pytest.raises(Refused) as refused:
        profile.parameters(z, spacing, cutoff, **more)  # type: ignore[arg-type]
    assert refused.value.next_step
    assert refused.value.plain()
    return refused.value


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_gap_is_refused_with_its_place(bad: float) -> None:
    z = surface(1)
    z[[41, 77]] = bad
    refused = refused_for(z)
    assert (refused.code, refused.values["index"], refused.values["count"]) == ("profile.gap", 42, 2)


def test_masked_point_is_a_gap() -> None:
    masked = np.ma.masked_array(surface(1), mask=np.arange(9600) == 6)
    assert refused_for(masked).values["index"] == 7


@pytest.mark.parametrize("z", [["0.1", "rough", "0.2"], "profile", None, 3.0, [[1.0], [2.0, 3.0]]])
def test_what_is_not_numbers_is_refused(z: object) -> None:
    assert refused_for(z).code in {"profile.not_numbers", "profile.too_few_points"}


def test_surface_is_refused() -> None:
    assert refused_for(np.zeros((40, 40))).code == "profile.not_one_row"


def test_ten_million_points_are_refused_before_they_are_copied() -> None:
    refused = refused_for(range(10_000_000))
    assert (refused.code, refused.values["value"], refused.values["limit"]) == (
        "profile.too_many_points",
        10_000_000,
        profile.MAX_POINTS,
    )


@pytest.mark.parametrize("z", [[], [1.0]])
def test_too_few_points_are_refused(z: list[float]) -> None:
    assert refused_for(z).code == "profile.too_few_points"


def test_trace_shorter_than_a_sampling_length_is_refused() -> None:
    refused = refused_for(sine(0.05, 0.7))
    assert (refused.code, refused.values["value"], refused.values["limit"]) == ("profile.too_short", 0.7, 0.8)


def test_trace_without_room_for_a_run_in_is_refused_where_it_is_wanted() -> None:
    refused = refused_for(sine(0.05, 1.2), ends="discard")
    assert (refused.code, refused.values["limit"]) == ("profile.too_short", 1.6)


@pytest.mark.parametrize("spacing", [0, -0.5, math.nan, math.inf, "0.5 um", [0.5, 0.6], None])
def test_spacing_that_is_no_length_is_refused(spacing: object) -> None:
    refused_for(surface(1), spacing)


@pytest.mark.parametrize("cutoff", [0, -0.8, math.nan, "long"])
def test_cutoff_that_is_no_length_is_refused(cutoff: object) -> None:
    refused_for(surface(1), SPACING_UM, cutoff)


@pytest.mark.parametrize(
    ("spacing", "cutoff", "lambda_s"), [(100.0, 0.8, None), (0.5, 0.8, 0.8), (5.0, 0.8, 2.5), (0.5, 0.004, None)]
)
def test_filter_finer_than_the_points_is_refused(spacing: float, cutoff: float, lambda_s: float | None) -> None:
    refused = refused_for(surface(1), spacing, cutoff, lambda_s_um=lambda_s)
    assert refused.code == "profile.spacing_too_wide"
    assert refused.values["value"] == spacing > refused.values["limit"]


@pytest.mark.parametrize("more", [{"form": "parabola"}, {"ends": "mirror"}, {"lambda_s_um": 800.0}])
def test_unknown_choice_is_refused(more: dict[str, object]) -> None:
    refused_for(surface(1), **more)


# Even spacing.
@pytest.mark.parametrize("decimals", [3, 4, 12])
def test_rounded_positions_are_even(decimals: int) -> None:
    x = np.round(np.arange(8001) * GROUND_SPACING_UM, decimals)
    assert profile.even_spacing(x) == pytest.approx(GROUND_SPACING_UM, rel=1e-6)
    assert profile.even_spacing(x[::-1]) == pytest.approx(-GROUND_SPACING_UM, rel=1e-6)


@pytest.mark.parametrize("step", [0.5, 1.0, 0.49995536])
def test_missing_point_is_a_gap_with_its_place(step: float) -> None:
    with pytest.raises(Refused) as refused:
        profile.even_spacing(np.delete(np.arange(2000) * step, 700))
    assert (refused.value.code, refused.value.values["index"]) == ("trace.gap", 700)
    assert refused.value.values["value"] == pytest.approx(2 * step, rel=1e-4)


@pytest.mark.parametrize("moved", [0.2, -0.2, -0.8])
def test_shifted_point_is_uneven(moved: float) -> None:
    x = np.arange(2000) * 0.5
    x[700] += moved
    with pytest.raises(Refused) as refused:
        profile.even_spacing(x)
    assert refused.value.code == "trace.uneven"
    assert refused.value.values["index"] == 700


def test_spacing_that_grows_is_uneven() -> None:
    with pytest.raises(Refused) as refused:
        profile.even_spacing(np.arange(2000) ** 1.01)
    assert refused.value.code == "trace.uneven"


def test_positions_too_coarse_to_show_the_spacing_are_refused() -> None:
    with pytest.raises(Refused) as refused:
        profile.even_spacing(np.round(np.arange(2000) * 0.6))
    assert refused.value.code == "trace.positions_too_coarse"


def test_positions_that_stand_still_are_refused() -> None:
    with pytest.raises(Refused) as refused:
        profile.even_spacing(np.ones(20))
    assert refused.value.code == "trace.no_length"


# Conditions.
def test_result_outside_its_cutoffs_row_does_not_belong_to_its_conditions() -> None:
    found = profile.parameters_of(profile.as_filtered(ground(), GROUND_SPACING_UM, CUTOFF_MM))
    fit = profile.conditions_fit(found)
    assert fit.fits is False
    assert [(said.code, said.values["asked"], said.values["used"]) for said in fit.sayings] == [
        ("conditions.other_cutoff", 2.5, 0.8)
    ] * 2


def test_result_in_its_cutoffs_row_belongs_to_its_conditions() -> None:
    fit = profile.conditions_fit(profile.parameters(sine(0.1), SPACING_UM, CUTOFF_MM, 2.5))
    assert (fit.fits, fit.sayings) == (True, ())
    assert {asked.cutoff_mm for asked in fit.asked.values()} == {0.8}


def test_short_evaluation_is_said() -> None:
    found = profile.parameters(sine(0.1, 4.0), SPACING_UM, CUTOFF_MM, 2.5)
    assert {said.code for said in profile.conditions_fit(found).sayings} == {"conditions.short"}
    assert [said.code for said in profile.how_evaluated(found)][-1] == "profile.short"


def test_newer_edition_asks_by_the_limit_and_names_every_setting() -> None:
    found = profile.parameters(sine(0.1), SPACING_UM, CUTOFF_MM)
    used = profile.used_conditions(found, tip_um=5.0)
    edition = "ISO 21920-3:2021"
    assert profile.conditions_fit(found, used, edition).fits is None
    fit = profile.conditions_fit(found, used, edition, limits_um={"Ra": 1.6})
    assert [said.code for said in fit.sayings] == ["conditions.wide_tip", "conditions.no_lambda_s"]
    good = profile.parameters(sine(0.1), SPACING_UM, CUTOFF_MM, 2.5)
    assert profile.conditions_fit(good, None, edition, limits_um={"Ra": 1.6, "Rz": 10.0}).fits is True
    other = profile.parameters(sine(0.1), SPACING_UM, CUTOFF_MM, 8.0)
    assert [s.code for s in profile.conditions_fit(other, None, edition, limits_um={"Ra": 1.6}).sayings] == [
        "conditions.other_lambda_s"
    ]
    wide = profile.parameters(sine(0.1)[::3], 1.5, CUTOFF_MM, 3.0)
    assert "conditions.wide_spacing" in {
        s.code for s in profile.conditions_fit(wide, None, edition, limits_um={"Ra": 1.6}).sayings
    }


def test_unknown_edition_of_conditions_is_refused() -> None:
    with pytest.raises(Refused):
        profile.conditions_fit(profile.parameters(sine(0.1), SPACING_UM, CUTOFF_MM), None, "ISO 4288")


@pytest.mark.parametrize("ends", ["discard", "normalised", "regression"])
@pytest.mark.parametrize("form", ["none", "line", "arc"])
def test_sheet_says_how_it_was_worked_out(ends: str, form: str) -> None:
    found = profile.parameters(sine(0.1), SPACING_UM, CUTOFF_MM, 2.5, ends=ends, form=form)
    said = [saying.template.format(**saying.values) for saying in profile.how_evaluated(found)]
    assert len(said) == len(set(said)) == 3
    assert "ISO 16610-21" in said[1]
    assert "0.8" in said[1]
    assert "2.5" in said[1]


def test_profile_filtered_by_the_gauge_is_said_to_be() -> None:
    found = profile.parameters_of(profile.as_filtered(ground(), GROUND_SPACING_UM, CUTOFF_MM))
    assert [saying.code for saying in profile.how_evaluated(found)] == ["profile.ends"]
