"""Measuring conditions: what is refused, and when a measurement must be repeated."""

from __future__ import annotations

import math

import pytest

from shop.refusal import Refused
from shop.standards.conditions import conditions_for_spacing, lies_in_row, measuring_conditions


@pytest.mark.parametrize("parameter", ["Rq", "gloss", "ra", ""])
@pytest.mark.parametrize("edition", ["ISO 4288:1996", "ISO 21920-3:2021"])
def test_parameter_without_a_table_is_refused(parameter: str, edition: str) -> None:
    with pytest.raises(Refused) as refused:
        measuring_conditions(parameter, 0.8, edition)
    assert refused.value.code == "conditions.no_table"
    assert refused.value.next_step


@pytest.mark.parametrize("edition", ["ASME B46.1", "ISO 4288", "", "ISO 21920-3"])
def test_edition_without_a_table_is_refused(edition: str) -> None:
    with pytest.raises(Refused):
        measuring_conditions("Ra", 0.8, edition)


@pytest.mark.parametrize("value", [0, -0.8, math.nan, math.inf])
def test_roughness_that_cannot_be_is_refused(value: float) -> None:
    with pytest.raises(Refused):
        measuring_conditions("Ra", value, "ISO 4288:1996")


def test_older_edition_takes_its_stylus_from_another_standard() -> None:
    found = measuring_conditions("Ra", 0.8, "ISO 4288:1996")
    assert (found.tip_um, found.lambda_s_um, found.spacing_um, found.setting_class) == (2.0, 2.5, 0.5, "")
    assert (found.source.title, found.instrument.title) == ("ISO 4288", "ISO 3274")
    assert found.instrument.from_memory


def test_editions_differ_where_their_bounds_do() -> None:
    assert measuring_conditions("Rz", 12.0, "ISO 4288:1996").cutoff_mm == 2.5
    assert measuring_conditions("Rz", 12.0, "ISO 21920-3:2021").cutoff_mm == 0.8


@pytest.mark.parametrize(
    ("measured", "cutoff", "stands"), [(0.8, 0.8, True), (0.09, 0.8, False), (0.09, 0.25, True), (2.1, 0.8, False)]
)
def test_measurement_is_repeated_until_it_lies_in_its_row(measured: float, cutoff: float, stands: bool) -> None:
    assert lies_in_row("Ra", measured, cutoff) is stands


@pytest.mark.parametrize("rsm", [0, 0.013, 4.0001, math.nan])
def test_spacing_outside_the_table_is_refused(rsm: float) -> None:
    with pytest.raises(Refused):
        conditions_for_spacing(rsm)
