"""Scales of roughness and how they refuse."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards.roughness import n_grade_for, n_grade_ra_um, vdi3400_ra_um, vdi3400_ref, vdi_card_row


@given(st.floats(0, 45))
def test_vdi_reference_there_and_back_is_the_same(ref: float) -> None:
    assert vdi3400_ref(max(0.1, vdi3400_ra_um(ref))) == pytest.approx(ref, abs=1e-12)


@pytest.mark.parametrize(("ref", "ra_um"), [(0, 0.1), (20, 1.0), (40, 10.0)])
def test_vdi_reference_of_round_roughness_is_round(ref: float, ra_um: float) -> None:
    assert vdi3400_ra_um(ref) == pytest.approx(ra_um, rel=1e-15)
    assert vdi3400_ref(ra_um) == pytest.approx(ref, abs=1e-13)


@pytest.mark.parametrize("ref", [-0.001, 45.001, 100, math.nan, math.inf, -math.inf])
def test_vdi_reference_outside_the_scale_is_refused(ref: float) -> None:
    with pytest.raises(Refused) as refused:
        vdi3400_ra_um(ref)
    assert refused.value.next_step


@pytest.mark.parametrize("ra_um", [0, -1, 0.0999, 18.01, 1e9, math.nan, math.inf])
def test_roughness_outside_the_vdi_scale_is_refused(ra_um: float) -> None:
    with pytest.raises(Refused):
        vdi3400_ref(ra_um)


def test_printed_roughness_at_the_end_of_the_scale_is_its_last_reference() -> None:
    assert vdi3400_ref(18.0) == 45.0


@pytest.mark.parametrize(("ref", "row"), [(12, 12), (13, 12), (14, 15), (44.0, 45), (46.5, 45), (10.5, 12)])
def test_card_row_is_the_nearest(ref: float, row: int) -> None:
    assert vdi_card_row(ref).ref == row


@pytest.mark.parametrize("ref", [10.4, 46.6, math.nan])
def test_card_row_far_from_the_catalogue_is_refused(ref: float) -> None:
    with pytest.raises(Refused):
        vdi_card_row(ref)


@pytest.mark.parametrize("ra_um", [0, -0.1, 50.1, math.nan])
def test_roughness_without_n_grade_is_refused(ra_um: float) -> None:
    with pytest.raises(Refused):
        n_grade_for(ra_um)


@pytest.mark.parametrize("name", ["N0", "N13", "", "8", "n"])
def test_n_grade_that_is_none_is_refused(name: str) -> None:
    with pytest.raises(Refused):
        n_grade_ra_um(name)


def test_n_grade_is_read_in_small_letters() -> None:
    assert n_grade_ra_um(" n6 ") == 0.8
