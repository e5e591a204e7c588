"""What a rule would have done, against histories worked out by hand."""

from __future__ import annotations

import pytest

from shop.drift.replay import Look, Outcome, Past, Rule, replay, together

# Certain from 10,000 shots on, with an even chance at 5,000.
NEAR = ((0.0, 0.0), (5_000.0, 0.5), (10_000.0, 1.0))
FAR = ((0.0, 0.0), (100_000.0, 0.1))
RULE = Rule(0.1, 10.0)


def past(*looks: Look, off: float | None = None, last: float = 100.0) -> Past:
    return Past(looks, off, last)


def outcome(one: Past, rule: Rule = RULE) -> Outcome:
    found = replay([one], rule)
    return next(name for name, count in found.outcomes.items() if count)


def test_face_called_a_lead_time_before_it_was_off_spec_was_caught_in_time() -> None:
    # 100 a day for 10 days are 1,000 shots: a chance of 10 %.
    assert outcome(past(Look(5, 20_000, 100, NEAR), off=15.0)) == Outcome.IN_TIME
    assert outcome(past(Look(5, 20_000, 100, NEAR), off=14.9)) == Outcome.LATE


def test_face_called_after_it_was_off_spec_or_never_was_missed() -> None:
    assert outcome(past(Look(5, 20_000, 100, FAR), off=15.0)) == Outcome.MISSED
    assert outcome(past(Look(16, 20_000, 100, NEAR), off=15.0)) == Outcome.MISSED
    assert outcome(past(Look(5, 20_000, 100), off=15.0)) == Outcome.MISSED


def test_call_was_for_nothing_where_the_life_went_on_for_two_lead_times() -> None:
    assert outcome(past(Look(5, 20_000, 100, NEAR), last=25.0)) == Outcome.FOR_NOTHING
    assert outcome(past(Look(5, 20_000, 100, NEAR), last=24.9)) == Outcome.ANSWERED
    assert outcome(past(Look(5, 20_000, 100, FAR))) == Outcome.QUIET


def test_longer_lead_time_or_a_lower_chance_calls_sooner() -> None:
    slow = past(Look(5, 20_000, 50, NEAR), off=60.0)
    assert outcome(slow) == Outcome.MISSED
    assert outcome(slow, Rule(0.1, 20.0)) == Outcome.IN_TIME
    assert outcome(slow, Rule(0.05, 10.0)) == Outcome.IN_TIME


def test_interval_calls_whatever_is_read() -> None:
    good = past(Look(5, 20_000, 100, FAR), Look(40, 50_000, 100, FAR))
    assert outcome(good, Rule(0.1, 10.0, interval_shots=50_000)) == Outcome.FOR_NOTHING
    assert outcome(good, Rule(0.1, 10.0, interval_shots=50_001)) == Outcome.QUIET


def test_readings_not_proven_and_alarms_ask_for_a_measurement_where_they_are_called() -> None:
    odd = [past(Look(5, 1, 100, FAR, not_proven=True)), past(Look(5, 1, 100, FAR, alarm=True))]
    assert replay(odd, RULE).measured == 2
    assert replay(odd, Rule(0.1, 10.0, not_proven=False)).measured == 1
    assert replay(odd, Rule(0.1, 10.0, not_proven=False, alarms=False)).measured == 0


def test_shots_given_away_are_those_left_at_an_even_chance() -> None:
    found = replay([past(Look(5, 20_000, 100, NEAR)), past(Look(5, 20_000, 100, NEAR), off=30.0)], RULE)
    assert (found.lives, found.called, found.off_spec) == (2, 2, 1)
    assert found.given_away == pytest.approx(5_000)
    assert replay([], RULE).given_away is None


def test_life_measured_at_two_spots_is_one_life_that_its_worse_spot_calls() -> None:
    gate = past(Look(5, 20_000, 100, FAR), Look(20, 22_000, 100, FAR), last=90.0)
    vent = past(Look(5, 20_000, 100, NEAR), off=18.0, last=80.0)
    one = together([gate, vent])
    assert [look.curve for look in one.looks] == [NEAR, FAR]
    assert (one.off_spec_day, one.last_day) == (18.0, 90.0)
    found = replay([one], RULE)
    assert (found.lives, found.called, found.outcomes[Outcome.IN_TIME]) == (1, 1, 1)
