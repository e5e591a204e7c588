"""After measuring: does the value belong to its conditions, and does the face have room for them."""

from __future__ import annotations

import math

import pytest

from shop.refusal import Refused
from shop.standards.conditions import conditions_for_cutoff
from shop.standards.recheck import deviation_of_five, length_on_face, recheck

OLD, NEW = "ISO 4288:1996", "ISO 21920-3:2021"


def test_value_out_of_its_row_names_the_cutoff_to_use_next() -> None:
    found = recheck("Ra", 2.4, 0.8)
    assert not found.stands
    assert found.next is not None
    assert (found.next.cutoff_mm, found.next.evaluation_length_mm, found.next.tip_um) == (2.5, 12.5, 5.0)
    assert found.saying.code == "recheck.again"


def test_value_in_its_row_stands_and_the_shorter_cutoff_is_tried_once() -> None:
    found = recheck("Ra", 0.8, 0.8)
    assert found.stands
    assert found.next is not None
    assert found.next.cutoff_mm == 0.25
    assert recheck("Ra", 0.8, 0.8, tried_mm=[0.25]).next is None


def test_finest_cutoff_has_no_shorter_one() -> None:
    assert recheck("Ra", 0.015, 0.08).next is None


def test_rows_that_send_a_value_to_and_fro_are_said_not_to_settle_it() -> None:
    found = recheck("Ra", 1.9, 2.5, tried_mm=[0.8])
    assert (found.stands, found.settled, found.next) == (False, False, None)


def test_newer_edition_goes_by_the_limit_whatever_is_measured() -> None:
    assert recheck("Ra", 0.05, 0.8, NEW, limit_um=0.8).stands
    found = recheck("Ra", 0.8, 2.5, NEW, limit_um=0.8)
    assert found.next is not None
    assert (found.stands, found.next.setting_class) == (False, "Sc3")


@pytest.mark.parametrize(
    ("parameter", "measured", "edition", "limit"),
    [("Ra", 0.8, NEW, None), ("Ra", -1, NEW, 0.8), ("Rq", 0.8, OLD, None), ("Ra", 81, OLD, None)],
)
def test_recheck_without_sense_is_refused(parameter: str, measured: float, edition: str, limit: float | None) -> None:
    with pytest.raises(Refused):
        recheck(parameter, measured, 0.8, edition, limit_um=limit)


@pytest.mark.parametrize(
    ("face", "cutoff", "lengths", "short"),
    [(4.8, 0.8, 5, False), (4.7, 0.8, 4, True), (1.6, 0.8, 1, True), (1.5, 0.8, 0, True), (100, 0.8, 5, False)],
)
def test_face_has_room_for_whole_sampling_lengths(face: float, cutoff: float, lengths: int, short: bool) -> None:
    found = length_on_face(face, cutoff)
    assert (found.sampling_lengths, found.short) == (lengths, short)
    assert found.evaluation_length_mm == pytest.approx(lengths * cutoff)


def test_gauge_that_needs_more_travel_leaves_less_room() -> None:
    assert length_on_face(4.8, 0.8, travel_mm=2.0).sampling_lengths == 3
    assert length_on_face(4.0, 0.8, travel_mm=0.0).sampling_lengths == 5


@pytest.mark.parametrize(("face", "cutoff", "travel"), [(0, 0.8, None), (4, 0, None), (4, 0.8, -1), (math.nan, 0.8, 0)])
def test_length_without_sense_is_refused(face: float, cutoff: float, travel: float | None) -> None:
    with pytest.raises(Refused):
        length_on_face(face, cutoff, travel)


def test_scatter_of_fewer_lengths_is_brought_to_five() -> None:
    assert deviation_of_five(0.1, 5) == pytest.approx(0.1)
    assert deviation_of_five(0.1, 1) == pytest.approx(0.1 / math.sqrt(5))
    for lengths in (0, 6):
        with pytest.raises(Refused):
            deviation_of_five(0.1, lengths)


@pytest.mark.parametrize(("cutoff", "edition"), [(0.5, NEW), (0, NEW), (0.8, "ASME B46.1")])
def test_cutoff_that_is_no_row_is_refused(cutoff: float, edition: str) -> None:
    with pytest.raises(Refused):
        conditions_for_cutoff(cutoff, edition)
