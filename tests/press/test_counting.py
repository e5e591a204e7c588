"""What entries mean in shots, without a database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.press.counting import Counted, Fitted, Standing, work_out
from shop.refusal import Refused

AT = datetime(2024, 3, 4, 8, tzinfo=UTC)


def entry(number: int, basis: str = "counter", **given: object) -> Counted:
    return Counted(number, AT + number * timedelta(hours=1), "mould counter", basis, **given)  # type: ignore[arg-type]


def shots(*entries: Counted) -> list[int]:
    return [made.shots for made in work_out(entries, [])]


def test_first_counter_reading_sets_the_baseline() -> None:
    assert shots(entry(1, counter=5000), entry(2, counter=5300)) == [0, 300]


def test_count_is_added_and_leaves_the_counter_alone() -> None:
    assert shots(entry(1, counter=5000), entry(2, "count", shots=70), entry(3, counter=5100)) == [0, 70, 100]


def test_new_job_counts_from_its_offset_and_the_old_job_to_what_it_showed_last() -> None:
    first = entry(1, counter=5000)
    assert shots(first, entry(2, "new job", counter=120)) == [0, 120]
    assert shots(first, entry(2, "new job", counter=120, read_before=5030)) == [0, 150]


def test_swapped_counter_counts_from_where_the_new_one_stood() -> None:
    assert shots(entry(1, counter=5000), entry(2, "swapped", counter=140, offset=40, read_before=5010)) == [0, 110]


def test_counter_set_upwards_by_hand_makes_no_shots_of_the_jump() -> None:
    jump = entry(2, "set by hand", counter=250_100, offset=250_000, read_before=5200)
    assert shots(entry(1, counter=5000), jump, entry(3, counter=250_150)) == [0, 300, 50]


def test_counter_of_seven_digits_rolls_over_through_zero() -> None:
    rolled = entry(2, "rolled over", counter=4, read_before=9_999_999)
    assert shots(entry(1, counter=9_999_998), rolled, entry(3, counter=10)) == [0, 6, 6]


def test_counters_of_two_presses_follow_each_its_own_last_reading() -> None:
    def machine(number: int, press: int, counter: int) -> Counted:
        return Counted(number, AT + number * timedelta(hours=1), "machine counter", "counter", counter, press_id=press)

    assert shots(machine(1, 1, 100), machine(2, 2, 9000), machine(3, 1, 150), machine(4, 2, 9020)) == [0, 0, 50, 20]


def test_job_counters_follow_by_order() -> None:
    def job(number: int, order: str, counter: int) -> Counted:
        return Counted(number, AT + number * timedelta(hours=1), "job counter", "counter", counter, order=order)

    assert shots(job(1, "A", 0), job(2, "A", 100), job(3, "B", 40), job(4, "A", 130)) == [0, 100, 0, 30]


@pytest.mark.parametrize(
    "second",
    [
        entry(2, counter=4999),
        entry(2, "new job", counter=10, offset=11),
        entry(2, "set by hand", counter=9000, offset=8000, read_before=4000),
        entry(2, "rolled over", counter=4, read_before=999),
    ],
)
def test_shots_are_never_less_than_none(second: Counted) -> None:
    with pytest.raises(Refused) as refused:
        shots(entry(1, counter=5000), second)
    assert refused.value.code == "shots.less_than_none"


def test_blocked_positions_sets_at_rest_and_inserts_not_there_make_no_shots() -> None:
    later = AT + timedelta(hours=1)
    fitted = [
        Fitted(11, 1, 1, "left", AT, None),
        Fitted(12, 2, 2, "left", AT, None),
        Fitted(13, 3, 3, "right", AT, None),
        Fitted(14, 4, 4, "", AT, None),
        Fitted(15, 5, 5, "left", AT, later),
        Fitted(16, 5, 5, "left", later, None),
    ]
    ran = entry(1, "count", shots=50, blocked=frozenset({2}), sets=frozenset({"left"}))
    (made,) = work_out([ran], fitted)
    assert {part.insert_id: part.shots for part in made.inserts} == {11: 50, 14: 50, 16: 50}
    assert made.total == 50


FITTED = [Fitted(10 + n, n, n, "ab"[n % 2], AT, None) for n in range(4)]
entries = st.lists(
    st.tuples(
        st.integers(0, 500), st.sets(st.integers(0, 3)), st.sets(st.sampled_from("ab")), st.sampled_from(["m", "n"])
    ),
    max_size=30,
)


@given(entries, st.integers(0, 30))
def test_counting_on_is_the_same_as_counting_all(drawn: list[tuple[int, set[int], set[str], str]], cut: int) -> None:
    counters = {"m": 0, "n": 100}
    history = []
    for number, (more, blocked, sets, source) in enumerate(drawn):
        counters[source] += more
        history.append(
            Counted(
                number, AT, source, "counter", counters[source], blocked=frozenset(blocked), sets=frozenset(sets)
            )
        )  # fmt: skip
    standing = Standing()
    in_two = work_out(history[:cut], FITTED, standing) + work_out(history[cut:], FITTED, standing)
    assert in_two == work_out(history, FITTED)
