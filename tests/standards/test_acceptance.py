"""Several values of one surface against a limit."""

from __future__ import annotations

import math
import statistics
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards.acceptance import RULES, accept, default_rule

VALUES = st.lists(st.floats(0.01, 10), min_size=1, max_size=20)


@pytest.mark.parametrize(
    ("edition", "rule"), [("ISO 4288:1996", "16 %"), ("ISO 21920-3:2021", "Tmax"), ("ASME B46.1", "simple")]
)
def test_edition_has_its_default_rule(edition: str, rule: str) -> None:
    assert default_rule(edition) == rule


def test_edition_that_is_not_known_has_no_rule() -> None:
    with pytest.raises(Refused):
        default_rule("ISO 1302")


@pytest.mark.parametrize(
    ("values", "conforms", "wanted"),
    [
        ([0.70], True, 0),  # a first value up to 70 % of the limit
        ([0.71], False, 3),
        ([1.20], False, 6),
        ([0.90, 0.95, 1.00], True, 0),  # the first three inside
        ([0.90, 0.95, 1.30], False, 6),
        ([0.95, 0.95, 0.95, 0.95, 0.95, 1.30], True, 0),  # one of six
        ([0.95, 0.95, 0.95, 0.95, 1.10, 1.30], False, 12),
        ([0.99] * 10 + [1.3, 1.3], True, 0),  # two of twelve
        ([0.99] * 9 + [1.3, 1.3, 1.3], False, 0),
        ([0.99] * 21 + [1.3] * 4, True, 0),  # four of twenty-five
        ([0.99] * 20 + [1.3] * 5, False, 0),
        ([1.3, 1.3, 1.3], False, 0),  # three over can never become two of twelve
        ([0.5, 0.6], True, 0),  # mean plus standard deviation
        ([0.2, 0.9, 0.2, 0.3, 1.01, 0.2, 0.3, 1.01], True, 0),
    ],
)
@pytest.mark.parametrize("rule", ["16 %", "T16"])
def test_sixteen_per_cent_rule(values: list[float], conforms: bool, wanted: int, rule: str) -> None:
    found = accept(values, 1.0, rule)
    assert (found.conforms, found.wanted) == (conforms, wanted)


def test_sixteen_per_cent_rule_holds_mean_plus_deviation_against_the_limit() -> None:
    values = [0.70, 0.80, 0.72, 0.75, 1.02]
    found = accept(values, 1.0, "16 %")
    assert found.conforms
    assert found.statistic == pytest.approx(statistics.mean(values) + statistics.stdev(values))
    assert found.beyond == 1


@pytest.mark.parametrize(
    ("rule", "statistic", "conforms"),
    [("Tmax", 1.2, False), ("simple", 1.2, False), ("Tmed", 0.9, True), ("mean", 0.96, True)],
)
def test_rule_holds_its_own_statistic_against_the_limit(rule: str, statistic: float, conforms: bool) -> None:
    found = accept([0.8, 0.9, 1.2, 1.0, 0.9], 1.0, rule)
    assert found.statistic == pytest.approx(statistic)
    assert found.conforms is conforms
    assert (found.count, found.beyond, found.rule, found.side) == (5, 1, rule, "upper")


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule not in ("16 %", "T16")])
def test_value_on_the_limit_conforms(rule: str) -> None:
    assert accept([1.0], 1.0, rule).conforms
    assert accept([1.0], 1.0, rule, side="lower").conforms
    assert not accept([math.nextafter(1.0, 2)], 1.0, rule).conforms


def test_single_value_never_proves_a_lower_limit_by_sixteen_per_cent() -> None:
    found = accept([5.0], 1.0, "16 %", side="lower")
    assert (found.conforms, found.wanted) == (False, 3)


@given(VALUES.filter(lambda values: len(values) > 1), st.floats(0.01, 10), st.sampled_from(RULES))
def test_lower_limit_mirrors_an_upper_one(values: list[float], limit: float, rule: str) -> None:
    upper, lower = accept(values, limit, rule), accept([-v for v in values], -limit, rule, side="lower")
    assert lower.conforms == upper.conforms
    assert lower.statistic == pytest.approx(-upper.statistic)


@given(VALUES.filter(lambda values: len(values) > 1), st.floats(0.01, 10), st.sampled_from(RULES))
def test_decision_is_the_statistic_against_the_limit(values: list[float], limit: float, rule: str) -> None:
    found = accept(values, limit, rule)
    assert found.conforms is (found.statistic <= limit)


@given(VALUES, st.floats(0.01, 10))
def test_surface_that_meets_tmax_meets_the_milder_rules(values: list[float], limit: float) -> None:
    if len(values) >= 3 and accept(values, limit, "Tmax").conforms:
        assert accept(values, limit, "16 %").conforms
        assert accept(values, limit, "Tmed").conforms


@pytest.mark.parametrize(
    ("values", "limit", "rule", "side"),
    [
        ([], 1.0, "Tmax", "upper"),
        ([math.nan], 1.0, "Tmax", "upper"),
        ([1.0, math.inf], 1.0, "mean", "upper"),
        ([1.0], math.nan, "Tmax", "upper"),
        ([1.0], 1.0, "18 %", "upper"),
        ([1.0], 1.0, "", "upper"),
        ([1.0], 1.0, "Tmax", "both"),
    ],
)
def test_acceptance_without_sense_is_refused(values: list[float], limit: float, rule: str, side: str) -> None:
    with pytest.raises(Refused):
        accept(values, limit, rule, side)


@pytest.mark.parametrize("limit", [0.3, 0.6, 0.8, 0.9, 1.1, 1.6, 2.2, 3.2, 6.3, 12.5])
def test_first_value_of_exactly_seventy_per_cent_is_accepted_however_it_rounds(limit: float) -> None:
    seventy = float(Decimal(str(limit)) * Decimal("0.7"))
    assert accept([seventy], limit, "16 %").conforms
    assert not accept([seventy * 1.001], limit, "16 %").conforms


@pytest.mark.parametrize(
    ("values", "by"),
    [([0.7], "first"), ([0.9, 0.95, 1.0], "three"), ([0.9] * 5 + [1.2], "six"), ([0.9] * 10 + [1.2] * 2, "twelve"),
     ([0.99] * 21 + [1.3] * 4, "share"), ([0.5, 0.6], "mean + s"), ([1.3] * 3, "")],
)  # fmt: skip
def test_sixteen_per_cent_rule_says_by_what_it_accepted(values: list[float], by: str) -> None:
    assert accept(values, 1.0, "16 %").by == by


@pytest.mark.parametrize(
    ("written", "rule"),
    [("16%", "16 %"), ("max", "Tmax"), ("TMAX", "Tmax"), ("median", "Tmed"), ("House mean", "mean")],
)
def test_rule_is_read_as_drawings_write_it(written: str, rule: str) -> None:
    assert accept([0.5], 1.0, written).rule == rule
