"""Visits of a tool weighed: against sums worked by hand, and against every way tried one by one."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

import numpy as np
import pytest

from shop.craft.pulling import Floats, Law, sum_up_to, use_of
from shop.craft.visits import Choice, Doing, FaceAhead, Terms, ToolAhead, WindowAhead
from shop.craft.weighing import CHEAPEST, HEAVIEST, LIGHTEST, STYLES, Scales, few, over_days

GRID: Floats = np.linspace(0.0, 200_000.0, 401)
TERMS = Terms(bench_hour=60.0, press_hour=90.0, change_hours=3.0, strip_hours=2.0, steel_um=4.0, bad_part=1.5)
NOW = WindowAhead("now", 0, (0.0,))
KISS = Doing("kiss polish", 60.0, 2.0, Law(60_000.0, 6.0))
FULL = Doing("full refinish", 300.0, 20.0, Law(100_000.0, 6.0))


def wearing(key: int, median: float, cavity: int | None = None, works: Sequence[Doing] = (KISS, FULL)) -> FaceAhead:
    return FaceAhead(key, cavity or key, Law(median, 6.0).chance_by(GRID), tuple(works))


def tool(*faces: FaceAhead, terms: Terms = TERMS) -> Scales:
    return Scales(ToolAhead(GRID, faces, terms))


def after(shots: float, day: int = 14, gap_days: int = 0) -> WindowAhead:
    return WindowAhead("later", day, (shots,), gap_days)


def test_sum_of_a_visit_is_the_one_worked_by_hand() -> None:
    chosen = tool(wearing(1, 50_000.0, works=[KISS])).weigh(NOW, LIGHTEST)
    assert chosen.paid.strip == 120.0  # 2 h at 60
    assert chosen.paid.bench == 60.0  # 60 min at 60
    assert chosen.paid.downtime == 270.0  # 3 h at 90
    assert chosen.paid.steel == 8.0  # 2 um at 4
    assert chosen.paid.outside == 0.0
    assert chosen.paid.whole == 458.0
    assert (chosen.waiting, chosen.shots, chosen.hours) == (0.0, 0.0, 1.0)


def test_rate_is_all_that_a_cycle_costs_for_a_thousand_of_its_shots() -> None:
    chosen = tool(wearing(1, 50_000.0, works=[KISS])).weigh(after(20_000.0), LIGHTEST)
    life = use_of(KISS.law, 458.0, 1.5)
    before = float(np.interp(20_000.0, GRID, sum_up_to(GRID, Law(50_000.0, 6.0).chance_by(GRID))))
    assert chosen.bad_parts == pytest.approx(before)
    assert chosen.waiting == pytest.approx(1.5 * before)
    assert chosen.next_shots == life.shots
    assert chosen.rate == pytest.approx(1000.0 * (458.0 + chosen.waiting + life.waiting) / (20_000.0 + life.shots))


def test_press_does_not_wait_where_its_own_gap_is_long_enough() -> None:
    scales = tool(wearing(1, 50_000.0, works=[FULL]))  # 2 h and 5 h are one day
    assert scales.weigh(after(1000.0, gap_days=1), LIGHTEST).paid.downtime == 0.0
    assert scales.weigh(after(1000.0, gap_days=0), LIGHTEST).paid.downtime == 270.0
    outside = Doing("full refinish", 60.0, 20.0, FULL.law, "house", 400.0, 150.0, days=15)
    scales = tool(wearing(1, 50_000.0, works=[outside]))
    assert scales.weigh(after(1000.0, gap_days=14), LIGHTEST).paid.downtime == 270.0
    assert scales.weigh(after(1000.0, gap_days=15), LIGHTEST).paid.downtime == 0.0


def test_house_is_paid_for_its_visit_once_and_for_each_face() -> None:
    outside = Doing("full refinish", 0.0, 0.0, FULL.law, "house", 400.0, 150.0, days=15)
    faces = [wearing(key, 20_000.0, works=[outside]) for key in (1, 2, 3)]
    chosen = tool(*faces).weigh(after(30_000.0), LIGHTEST)
    assert len(chosen.works) == 3
    assert chosen.paid.outside == 400.0 + 3 * 150.0


def test_waiting_costs_more_the_longer_it_lasts_and_the_dearer_a_part_is() -> None:
    scales = tool(wearing(1, 40_000.0))
    waits = [scales.weigh(after(shots), LIGHTEST).waiting for shots in (0.0, 10_000.0, 30_000.0, 60_000.0)]
    assert waits == sorted(waits)
    assert waits[0] == 0.0
    dear = tool(wearing(1, 40_000.0), terms=Terms(60.0, 90.0, 3.0, 2.0, 4.0, 15.0))
    assert dear.weigh(after(30_000.0), LIGHTEST).waiting == pytest.approx(10 * waits[2])


def test_uncertain_shots_weigh_alike() -> None:
    scales = tool(wearing(1, 40_000.0, works=[KISS]))
    spread = WindowAhead("later", 14, (10_000.0, 20_000.0, 39_000.0))
    each = [scales.weigh(after(shots), LIGHTEST).bad_parts for shots in spread.shots]
    assert scales.weigh(spread, LIGHTEST).bad_parts == pytest.approx(sum(each) / 3)
    assert spread.mean_shots == pytest.approx(23_000.0)


def test_faces_of_one_cavity_spoil_a_part_only_once() -> None:
    window = after(60_000.0)
    one = tool(wearing(1, 40_000.0)).weigh(window, LIGHTEST).bad_parts
    apart = tool(wearing(1, 40_000.0), wearing(2, 40_000.0)).weigh(window, LIGHTEST).bad_parts
    together = tool(wearing(1, 40_000.0, 7), wearing(2, 40_000.0, 7)).weigh(window, LIGHTEST).bad_parts
    assert apart == pytest.approx(2 * one)
    assert one < together < apart
    chances = Law(40_000.0, 6.0).chance_by(GRID)
    either = float(np.interp(60_000.0, GRID, sum_up_to(GRID, 1 - (1 - chances) ** 2)))
    assert together == pytest.approx(either)


def test_face_that_makes_half_of_the_shots_spoils_half_as_many_parts() -> None:
    whole = wearing(1, 40_000.0)
    half = FaceAhead(1, 1, whole.chances, whole.works, share=0.5)
    window = after(60_000.0)
    assert tool(half).weigh(window, LIGHTEST).bad_parts == pytest.approx(
        tool(whole).weigh(window, LIGHTEST).bad_parts / 2
    )


def test_chance_of_a_bad_part_is_that_of_any_face() -> None:
    chosen = tool(wearing(1, 40_000.0), wearing(2, 60_000.0)).weigh(after(40_000.0), LIGHTEST)
    second = float(np.interp(40_000.0, GRID, Law(60_000.0, 6.0).chance_by(GRID)))
    assert chosen.chance == pytest.approx(1 - 0.5 * (1 - second), rel=1e-3)


def test_face_that_is_worn_as_far_goes_along_and_a_fresh_one_stays() -> None:
    scales = tool(wearing(1, 30_000.0), wearing(2, 32_000.0), wearing(3, 190_000.0))
    chosen = scales.account(scales.weigh(after(5_000.0), LIGHTEST))
    assert {key for key, _doing in chosen.works} == {1, 2}
    why = {one.key: one for one in chosen.along}
    assert why[2].goes
    assert why[2].saves > 0
    assert not why[3].goes
    assert why[3].saves < 0


def test_account_is_the_difference_that_the_face_makes_to_the_whole() -> None:
    faces = [wearing(1, 30_000.0), wearing(2, 45_000.0)]
    window = after(4_000.0)
    both = tool(*faces)
    chosen = both.account(both.weigh(window, LIGHTEST))
    (why,) = [one for one in chosen.along if one.key == 2]
    alone = rate_of(both, window, [0], [0, 0])
    assert why.saves == pytest.approx((alone - chosen.rate) * chosen.cycle / 1000.0)
    assert why.visit_saved > 0
    assert why.given_away > 0


def test_face_that_somebody_called_goes_first_whatever_its_forecast() -> None:
    called = FaceAhead(9, 9, np.zeros(GRID.size), (KISS,), must=True)
    chosen = tool(wearing(1, 100_000.0), called).weigh(NOW, LIGHTEST)
    assert chosen.works[0][0] == 9


def test_lighter_work_is_cheaper_where_a_visit_costs_little_and_heavier_where_it_costs_much() -> None:
    def heavy(change_hours: float) -> bool:
        terms = Terms(60.0, 90.0, change_hours, 0.5, 4.0, 1.5)
        chosen = tool(wearing(1, 30_000.0), terms=terms).weigh(after(10_000.0), CHEAPEST)
        return chosen.works[0][1].work == "full refinish"

    assert not heavy(0.0)
    assert heavy(40.0)


def test_styles_choose_among_the_works_of_each_face() -> None:
    scales = tool(wearing(1, 30_000.0))
    assert scales.weigh(NOW, LIGHTEST).works[0][1] == KISS
    assert scales.weigh(NOW, HEAVIEST).works[0][1] == FULL
    rates = {style: scales.weigh(NOW, style).rate for style in STYLES}
    assert rates[CHEAPEST] == min(rates.values())


def test_group_that_is_found_is_the_cheapest_of_all_that_take_who_is_due() -> None:
    medians = (22_000.0, 30_000.0, 45_000.0, 70_000.0, 120_000.0)
    scales = tool(*(wearing(key, median) for key, median in enumerate(medians)))
    for shots, style in itertools.product((0.0, 8_000.0, 20_000.0), (LIGHTEST, HEAVIEST)):
        window = after(shots)
        found = scales.weigh(window, style)
        places = [0 if style == LIGHTEST else 1] * len(medians)
        due = {place for place, own in enumerate(scales.own[style].shots) if own <= shots}
        tried = [
            rate_of(scales, window, list(group), places)
            for count in range(1, len(medians) + 1)
            for group in itertools.combinations(range(len(medians)), count)
            if due <= set(group)
        ]
        assert found.rate == pytest.approx(min(tried))


def test_cheapest_day_of_one_face_is_where_waiting_costs_as_much_as_a_shot_in_the_mean() -> None:
    scales = tool(wearing(1, 60_000.0, works=[FULL]))
    days = [after(1000.0 * day, day) for day in range(80)]
    rates = [sum(rate) for rate in over_days(scales, days)]
    best = int(np.argmin(rates))
    assert 0 < best < 79
    chance = float(Law(60_000.0, 6.0).chance_by(np.array([1000.0 * best]))[0])
    assert 1.5 * chance == pytest.approx(rates[best] / 1000.0, rel=0.2)
    assert scales.own[LIGHTEST].shots[0] == pytest.approx(1000.0 * best, abs=1500.0)


def test_few_choices_hold_the_cheapest_its_other_works_and_now() -> None:
    scales = tool(wearing(1, 30_000.0), wearing(2, 33_000.0))
    windows = [NOW, *(after(1000.0 * day, day) for day in (7, 14, 20, 28, 40))]
    choices = [scales.weigh(window, style) for window in windows for style in STYLES]
    shown = few(choices)
    best = min(choices, key=lambda one: one.rate)
    assert 3 <= len(shown) <= 5
    assert min(shown, key=lambda one: one.rate).rate == best.rate
    assert shown[0].window == NOW
    same_window = [one for one in shown if one.window == best.window]
    assert len({works(one) for one in same_window}) == len(same_window) == 2
    assert [one.window.day for one in shown] == sorted(one.window.day for one in shown)


def works(choice: Choice) -> tuple[str, ...]:
    return tuple(doing.work for _key, doing in choice.works)


def rate_of(scales: Scales, window: WindowAhead, group: list[int], places: list[int]) -> float:
    """Return what a thousand shots cost when this group goes along, reckoned without the search."""
    own = scales.own[LIGHTEST if sum(places) == 0 else HEAVIEST]
    faces, terms, shots = scales.tool.faces, scales.tool.terms, window.mean_shots
    stays = [place for place in range(len(faces)) if place not in group]
    doings = [faces[place].works[places[place]] for place in group]
    share = (terms.strip_hours * terms.bench_hour + terms.change_hours * terms.press_hour) / len(faces)

    def cost(doing: Doing) -> float:
        return doing.minutes / 60 * terms.bench_hour + doing.steel_um * terms.steel_um

    lives = [use_of(doing.law, share + cost(doing), terms.bad_part) for doing in doings]
    next_shots = min(life.shots for life in lives)
    visit = share * len(faces)
    between = visit if any(own.shots[place] < shots + next_shots for place in stays) else 0.0
    rate = (visit + between) / (shots + next_shots)
    for place, doing, life in zip(group, doings, lives, strict=True):
        before = float(np.interp(shots, GRID, sum_up_to(GRID, faces[place].chances)))
        rate += (cost(doing) + life.waiting + terms.bad_part * before) / (shots + life.shots)
    rate += sum(own.works[place] + own.waiting[place] for place in stays)
    return 1000.0 * rate
