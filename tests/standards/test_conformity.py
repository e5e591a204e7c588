"""One uncertain value against limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards.conformity import acceptance_zone, conformance_probability, guard_factor, judge


@pytest.mark.parametrize(
    ("value", "conforms"),
    [(0.5, "yes"), (0.6, "yes"), (0.83, "yes"), (0.84, "not proven"), (1.16, "not proven"), (1.17, "no")],
)
def test_value_near_an_upper_limit(value: float, conforms: str) -> None:
    assert judge(value, 0.1, upper=1.0).conforms == conforms


@pytest.mark.parametrize(
    ("value", "conforms"), [(2.0, "yes"), (1.17, "yes"), (1.16, "not proven"), (0.84, "not proven"), (0.83, "no")]
)
def test_value_near_a_lower_limit(value: float, conforms: str) -> None:
    assert judge(value, 0.1, lower=1.0).conforms == conforms


@pytest.mark.parametrize(
    ("value", "conforms"), [(1.0, "yes"), (2.0, "yes"), (1.5, "yes"), (0.999, "no"), (2.001, "no")]
)
def test_certain_value_is_compared_plainly_with_limits_included(value: float, conforms: str) -> None:
    found = judge(value, 0.0, 1.0, 2.0)
    assert found.conforms == conforms
    assert found.probability in (0.0, 1.0)
    assert (found.lower_zone, found.upper_zone, found.guard) == (1.0, 2.0, 0.0)


def test_value_on_its_limit_has_an_even_chance() -> None:
    assert judge(1.0, 0.1, upper=1.0).probability == 0.5


def test_zone_is_the_limit_less_the_guard() -> None:
    found = judge(1.0, 0.1, 0.0, 3.0)
    assert found.guard == pytest.approx(0.1644854, abs=1e-7)
    assert (found.lower_zone, found.upper_zone) == pytest.approx((found.guard, 3.0 - found.guard), rel=1e-12)
    assert found.note is None


def test_narrow_tolerance_widens_the_guard() -> None:
    found = judge(2.2, 1.0, 0.0, 4.4)
    assert found.conforms == "yes"
    assert found.lower_zone is not None
    assert found.lower_zone > found.guard
    assert found.tolerance_to_u == pytest.approx(4.4)
    assert found.note is not None
    assert found.note.code == "conformity.guard_widens"


def test_tolerance_too_narrow_for_the_gauge_proves_nothing() -> None:
    found = judge(1.9, 1.0, 0.0, 3.8)
    assert (found.conforms, found.provable, found.lower_zone, found.upper_zone) == ("not proven", False, None, None)
    assert found.note is not None
    assert found.note.code == "conformity.never_proven"


def test_nonconformity_is_proven_though_conformity_never_can_be() -> None:
    assert judge(9.0, 1.0, 0.0, 3.8).conforms == "no"


def test_interior_gloss_tolerance_leaves_almost_nothing_to_accept() -> None:
    zone = acceptance_zone(0.1, 2.6, 3.0)
    assert zone is not None
    assert zone[0] is not None
    assert zone[1] is not None
    assert 0 < zone[1] - zone[0] < 0.06


def test_chance_far_in_the_upper_tail_keeps_its_digits() -> None:
    # Phi(-10) = 7.6198530241605e-24; the plain difference of two terms near 1 would be 0.
    assert conformance_probability(0.0, 1.0, lower=10.0, upper=20.0) == pytest.approx(
        7.6198530241605e-24, rel=1e-10, abs=0
    )


@given(st.floats(-5, 15), st.floats(1e-6, 5), st.floats(-5, 5), st.floats(0.01, 10), st.sampled_from([0.8, 0.95, 0.99]))
def test_value_in_the_zone_conforms_and_outside_does_not(
    value: float, u: float, lower: float, width: float, required: float
) -> None:
    zone = acceptance_zone(u, lower, lower + width, required)
    low, high = zone if zone is not None else (math.inf, -math.inf)
    assert low is not None
    assert high is not None
    # On the very edge rounding decides; everywhere else the zone does.
    assume(min(abs(value - low), abs(value - high)) > 1e-9)
    assert (judge(value, u, lower, lower + width, required).conforms == "yes") is (low <= value <= high)


@given(st.floats(-5, 5), st.floats(0, 5), st.floats(-5, 5), st.floats(0.01, 10))
def test_conformity_mirrors(value: float, u: float, lower: float, width: float) -> None:
    there = judge(value, u, lower, lower + width)
    mirrored = judge(-value, u, -(lower + width), -lower)
    assert mirrored.probability == pytest.approx(there.probability, abs=1e-12)


@given(st.floats(-5, 5), st.floats(0, 5), st.floats(-5, 5))
def test_two_sides_of_one_limit_share_the_certainty(value: float, u: float, limit: float) -> None:
    assume(value != limit)
    below, above = (conformance_probability(value, u, **{side: limit}) for side in ("upper", "lower"))
    assert below + above == pytest.approx(1, abs=1e-12)


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        ((math.nan, 0.1, 0.0, 1.0), "value.impossible"),
        ((math.inf, 0.1, 0.0, 1.0), "value.impossible"),
        ((0.5, math.nan, 0.0, 1.0), "value.impossible"),
        ((0.5, math.inf, 0.0, 1.0), "value.impossible"),
        ((0.5, -0.1, 0.0, 1.0), "table.outside"),
        ((0.5, 0.1, math.nan, 1.0), "value.impossible"),
        ((0.5, 0.1, 0.0, math.inf), "value.impossible"),
        ((0.5, 0.1, None, None), "conformity.no_limit"),
        ((0.5, 0.1, 1.0, 0.0), "conformity.limits_crossed"),
        ((0.5, 0.1, 1.0, 1.0), "conformity.limits_crossed"),
    ],
)
def test_judgement_without_sense_is_refused(
    arguments: tuple[float, float, float | None, float | None], code: str
) -> None:
    for asked in (judge, conformance_probability):
        with pytest.raises(Refused) as refused:
            asked(*arguments)
        assert refused.value.code == code


@pytest.mark.parametrize("required", [0.5, 0.3, 1.0, 1.5, math.nan])
def test_required_chance_that_decides_nothing_is_refused(required: float) -> None:
    with pytest.raises(Refused):
        guard_factor(required)
    with pytest.raises(Refused):
        judge(1.0, 0.1, upper=2.0, required=required)
