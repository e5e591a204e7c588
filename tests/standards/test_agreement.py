"""Agreement of people who judge by eye."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.refusal import Refused
from shop.standards.agreement import agreement_study, cohen_kappa, fleiss_kappa, kappa_words, share_of

GRADES = ["matches", "slightly", "clearly"]
pairs = st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=4, max_size=40)


def sides(found: list[tuple[int, int]]) -> tuple[list[int], list[int]]:
    return [one for one, _ in found], [other for _, other in found]


# Closed form by hand: 20 yes-yes, 5 yes-no, 10 no-yes, 15 no-no give 0.7 seen, 0.5 by chance, kappa 0.4.
def test_kappa_of_two_has_its_closed_form() -> None:
    one, other = "y" * 25 + "n" * 25, "y" * 20 + "n" * 5 + "y" * 10 + "n" * 15
    found = cohen_kappa(one, other)
    assert (found.observed, found.expected) == pytest.approx((0.7, 0.5))
    assert found.kappa == pytest.approx(0.4)


# By hand: 1 - mean squared step seen / by chance, over the pieces (0, 0) (0, 1) (2, 2) (1, 2).
def test_quadratic_kappa_has_its_closed_form() -> None:
    found = cohen_kappa([0, 0, 2, 1], [0, 1, 2, 2], categories=[0, 1, 2], weights="quadratic")
    assert found.kappa == pytest.approx(
        1 - (2 / 4) / (sum((a - b) ** 2 for a in (0, 0, 2, 1) for b in (0, 1, 2, 2)) / 16)
    )


@given(pairs, st.sampled_from(["none", "linear", "quadratic"]))
def test_order_of_the_two_and_of_the_pieces_changes_nothing(found: list[tuple[int, int]], weights: str) -> None:
    one, other = sides(found)
    here = cohen_kappa(one, other, categories=range(4), weights=weights)
    there = cohen_kappa(other[::-1], one[::-1], categories=range(4), weights=weights)
    if here.kappa is None:
        assert there.kappa is None
    else:
        assert there.kappa == pytest.approx(here.kappa)
        assert there.standard_error == pytest.approx(here.standard_error, abs=1e-9)
        assert here.kappa <= 1 + 1e-12


@given(pairs)
def test_weights_make_no_difference_between_two_categories(found: list[tuple[int, int]]) -> None:
    one, other = ([value % 2 for value in side] for side in sides(found))
    plain, *weighted = (
        cohen_kappa(one, other, categories=[0, 1], weights=weights).kappa for weights in ("none", "linear", "quadratic")
    )
    for kappa in weighted:
        assert kappa == (None if plain is None else pytest.approx(plain))


def test_repeats_of_a_piece_do_not_count_as_new_pieces() -> None:
    one, other = [0, 0, 1, 1, 2, 2], [0, 1, 1, 1, 2, 0]
    once = cohen_kappa(one, other)
    thrice = cohen_kappa(one * 3, other * 3, pieces=list(range(6)) * 3)
    assert (thrice.pieces, thrice.judgements) == (6, 18)
    assert thrice.kappa == pytest.approx(once.kappa)
    assert thrice.standard_error == pytest.approx(once.standard_error)


@pytest.mark.parametrize("weights", ["none", "linear", "quadratic"])
def test_interval_of_two_holds_the_truth_about_as_often_as_it_says(weights: str) -> None:
    chance = np.random.default_rng(3)

    def judged(n: int) -> tuple[list[int], list[int]]:
        true = chance.integers(0, 3, n)
        return tuple(  # type: ignore[return-value]
            np.where(chance.random(n) < 0.75, true, chance.integers(0, 3, n)).tolist() for _ in range(2)
        )

    true = cohen_kappa(*judged(200_000), categories=range(3), weights=weights).kappa
    assert true is not None
    studies = [cohen_kappa(*judged(100), categories=range(3), weights=weights) for _ in range(300)]
    held = sum(s.lower <= true <= s.upper for s in studies if s.lower is not None and s.upper is not None)
    assert 0.91 <= held / 300 <= 0.985


def test_interval_of_many_holds_the_truth_about_as_often_as_it_says() -> None:
    chance = np.random.default_rng(5)

    def judged(n: int) -> list[list[int]]:
        true = chance.integers(0, 3, (n, 1))
        rows: list[list[int]] = np.where(chance.random((n, 4)) < 0.75, true, chance.integers(0, 3, (n, 4))).tolist()
        return rows

    true = fleiss_kappa(judged(100_000)).kappa
    assert true is not None
    studies = [fleiss_kappa(judged(80)) for _ in range(300)]
    held = sum(s.lower <= true <= s.upper for s in studies if s.lower is not None and s.upper is not None)
    assert 0.91 <= held / 300 <= 0.985


def test_full_agreement_is_one_and_one_category_is_no_kappa() -> None:
    assert cohen_kappa([0, 1, 2], [0, 1, 2]).kappa == pytest.approx(1)
    assert fleiss_kappa([[0, 0], [1, 1]]).kappa == pytest.approx(1)
    for found in (cohen_kappa([0, 0, 0], [0, 0, 0]), fleiss_kappa([[0, 0], [0, 0]])):
        assert (found.kappa, found.standard_error, found.lower, found.observed) == (None, None, None, 1.0)


# Clopper and Pearson by hand: of n without one, the upper end is 1 - tail^(1/n).
def test_share_has_its_exact_interval() -> None:
    none = share_of(0, 20)
    assert (none.share, none.lower) == (0, 0)
    assert none.upper == pytest.approx(1 - 0.025 ** (1 / 20))
    assert share_of(20, 20).lower == pytest.approx(0.025 ** (1 / 20))
    assert share_of(0, 0).share is None


STUDY = [
    [["ok", "ok"], ["ok", "ok"]],
    [["bad", "bad"], ["bad", "ok"]],
    [["ok", "ok"], ["bad", "bad"]],
    [["bad", "bad"], ["bad", "bad"]],
]


def test_study_counts_repeats_master_misses_and_false_alarms() -> None:
    found = agreement_study(STUDY, master=["ok", "bad", "ok", "bad"], rejects={"bad"})
    first, second = found.persons
    assert first.repeats is not None
    assert second.repeats is not None
    assert (first.repeats.count, second.repeats.count, second.repeats.of) == (4, 3, 4)
    assert first.with_master is not None
    assert second.with_master is not None
    assert (first.with_master.count, second.with_master.count) == (4, 2)
    assert second.missed is not None
    assert second.false_alarms is not None
    assert (second.missed.count, second.missed.of) == (1, 4)
    assert (second.false_alarms.count, second.false_alarms.of) == (2, 4)
    assert found.all_with_master is not None
    assert (found.all_agree.count, found.all_with_master.count) == (2, 2)
    assert first.master_kappa is not None
    assert first.master_kappa.kappa == pytest.approx(1)
    assert [(pair.first, pair.second) for pair in found.pairs] == [(0, 1)]


def test_study_without_master_or_repeats_leaves_those_out() -> None:
    found = agreement_study([[["ok"], ["ok"]], [["bad"], ["ok"]]])
    assert [(p.repeats, p.with_master, p.missed) for p in found.persons] == [(None, None, None)] * 2
    assert found.all_with_master is None


def test_graded_study_weighs_how_far_apart() -> None:
    near = [[["matches"], ["slightly"]], [["clearly"], ["clearly"]], [["matches"], ["matches"]]]
    far = [[["matches"], ["clearly"]], [["clearly"], ["clearly"]], [["matches"], ["matches"]]]
    kappas = [agreement_study(study, categories=GRADES, weights="linear").pairs[0].kappa.kappa for study in (near, far)]
    assert kappas[0] is not None
    assert kappas[1] is not None
    assert kappas[0] > kappas[1]


@pytest.mark.parametrize(
    ("study", "how", "code"),
    [
        (STUDY, {"master": ["ok"]}, "agreement.master_missing"),
        (STUDY, {"categories": ["ok"]}, "agreement.no_category"),
        (STUDY, {"weights": "linear"}, "agreement.no_order"),
        (STUDY, {"weights": "cubic", "categories": ["ok", "bad"]}, "table.outside"),
        (STUDY[:1], {}, "study.too_few"),
        ([[["ok", "ok"]], [["ok"]]], {}, "study.trial_missing"),
        ([[["ok", "ok"]], [["ok", None]]], {}, "study.trial_missing"),
        (STUDY, {"confidence": 1.0}, "table.outside"),
    ],
)
def test_study_that_is_not_whole_is_refused(study: Any, how: dict[str, Any], code: str) -> None:
    with pytest.raises(Refused) as refused:
        agreement_study(study, **how)
    assert refused.value.code == code


def test_kappa_that_cannot_be_is_refused() -> None:
    for ask in (lambda: cohen_kappa([1], [1]), lambda: cohen_kappa([1, 2], [1]), lambda: fleiss_kappa([[1, 2], [1]])):
        with pytest.raises(Refused):
            ask()


@pytest.mark.parametrize(
    ("kappa", "words"),
    [(0.76, "good to excellent"), (0.75, "fair to good"), (0.4, "fair to good"), (0.39, "poor"), (-0.2, "poor")],
)
def test_words_are_those_of_the_named_source(kappa: float, words: str) -> None:
    assert kappa_words(kappa) == words
    with pytest.raises(Refused):
        kappa_words(math.nan)
