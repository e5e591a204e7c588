"""When faces are called: the rules in force, and what they would have done with last year's readings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

import numpy as np
from django.utils.translation import gettext_lazy

from shop.drift.replay import Look, Outcome, Past, Replayed, Rule, replay, together
from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality.models import Reading, Verdict
from shop.tooling.models import Customer
from shop.watch.hindsight import Chance, chances_after
from shop.watch.models import Policy, Trend
from shop.watch.path import points_of
from shop.watch.patterns import LEAST_READINGS, alarms_of
from shop.watch.policies import Rules, book
from shop.watch.scores import scores_of

YEAR_DAYS = 365
RATE_DAYS = 28.0
SECONDS_A_DAY = 86_400.0
# Days' worth of shots ahead at which a face that is called is looked up, for the shots it still had.
DAYS_AHEAD = (0.0, 1.0, 3.0, 7.0, 14.0, 28.0, 56.0, 112.0, 224.0, 448.0, 900.0)
# So many trends are gone through at once; of a larger plant evenly chosen lives, which is said.
MOST_TRENDS = 800
# What Western Electric's four rules together have (Champ and Woodall 1987).
RUN_RULES_LENGTH = 92
OUTCOMES = {
    Outcome.IN_TIME: gettext_lazy("Off spec, called in time"),
    Outcome.LATE: gettext_lazy("Off spec, called late"),
    Outcome.MISSED: gettext_lazy("Off spec, not called before"),
    Outcome.FOR_NOTHING: gettext_lazy("Called for nothing"),
    Outcome.ANSWERED: gettext_lazy("Called and answered"),
}


@dataclass(frozen=True)
class PolicyRow:
    """The rules of the plant or of one customer, and which of them are its own."""

    customer: Customer | None
    own: Policy | None
    rules: Rules

    @property
    def percent(self) -> int:
        """Return the chance in per cent."""
        return round(100 * self.rules.call_chance)

    @property
    def chart(self) -> str:
        """Return the chart in words."""
        return str(Policy.Chart(self.rules.chart).label)

    @property
    def run_length(self) -> str:
        """Return the readings between false alarms; run rules have their own."""
        if self.rules.chart == Policy.Chart.NONE:
            return "–"
        length = RUN_RULES_LENGTH if self.rules.chart == Policy.Chart.RUN_RULES else self.rules.run_length
        return str(length)


@dataclass(frozen=True)
class Preview:
    """The same history under the rules as they are and as they are asked for."""

    now: Replayed
    then: Replayed
    trends: int
    of: int

    @property
    def rows(self) -> list[tuple[str, int, int]]:
        """Return what came of the lives, in words, under the one and the other."""
        return [(str(words), self.now.outcomes[one], self.then.outcomes[one]) for one, words in OUTCOMES.items()]


def policy_rows(plant: Plant) -> list[PolicyRow]:
    """Return the plant's rules first, then each customer's, in three queries."""
    rules = book(plant)
    own = {policy.customer_id: policy for policy in Policy.objects.filter(plant=plant)}
    customers = Customer.objects.filter(tools__plant=plant).distinct().order_by("name")
    rows = [PolicyRow(None, own.get(None), rules.of(None))]
    return [*rows, *(PolicyRow(one, own.get(one.pk), rules.of(one.pk)) for one in customers)]


def preview(plant: Plant, now: Rules, then: Rules, customer: Customer | None, at: datetime) -> Preview:
    """Return what both rules would have done with the last year of the plant's, or of one customer's, faces."""
    rows = Trend.objects.filter(face__insert__tool__plant=plant, last_at__gte=at - timedelta(days=YEAR_DAYS))
    if customer is not None:
        rows = rows.filter(face__insert__tool__customer=customer)
    every = list(rows.select_related("pool", "face__insert", "life").order_by("life_id", "pk"))
    lives = [list(of_life) for _, of_life in groupby(every, key=lambda trend: trend.life_id)]
    each = -(-len(every) // MOST_TRENDS)
    chosen = lives[:: max(each, 1)]
    # A life at a time: what was known after each reading is too much to hold for all.
    pasts = [(past(now), past(then)) for past in _pasts(chosen, at)]
    return Preview(
        replay([one for one, _ in pasts], _rule(now)), replay([one for _, one in pasts], _rule(then)),
        sum(len(of_life) for of_life in chosen), len(every),
    )  # fmt: skip


def _rule(rules: Rules) -> Rule:
    return Rule(
        rules.call_chance,
        float(rules.lead_time_days),
        rules.call_not_proven,
        rules.chart != Policy.Chart.NONE,
        None if rules.interval_shots is None else float(rules.interval_shots),
    )


def _pasts(lives: Sequence[Sequence[Trend]], at: datetime) -> Iterator[Callable[[Rules], Past]]:
    """Yield each life's past, to be asked with a rule: three queries and a forecast a reading."""
    trends = [trend for of_life in lives for trend in of_life]
    ids = {int(one) for trend in trends for one in points_of(trend)["reading"]}
    read_at = dict(Reading.objects.filter(pk__in=ids).values_list("pk", "at"))
    made = _shots({trend.face.insert_id for trend in trends}, at)
    verdicts = _verdicts(trends)
    for of_life in lives:
        parts = [_past(trend, read_at, made[trend.face.insert_id], verdicts, at) for trend in of_life]
        yield lambda rules, parts=parts: together([part(rules) for part in parts])  # type: ignore[misc]


def _past(
    trend: Trend,
    read_at: Mapping[int, datetime],
    made: tuple[np.ndarray, np.ndarray],
    verdicts: Mapping[Any, list[tuple[datetime, str]]],
    at: datetime,
) -> Callable[[Rules], Past]:
    since = at - timedelta(days=YEAR_DAYS)
    points = points_of(trend)
    told = verdicts[trend.life_id, trend.parameter, trend.spot_id, trend.where]
    off = next((when for when, outcome in told if outcome == Verdict.Outcome.NO), None)
    unproven = {when for when, outcome in told if outcome == Verdict.Outcome.NOT_PROVEN}
    looks = []
    for count in range(1, len(points) + 1):
        when = read_at.get(int(points["reading"][count - 1]))
        if when is not None and when >= since and (off is None or when < off):
            looks.append((count, when, _total(made, when) - _total(made, trend.life.began_at), _per_day(made, when)))
    chances = chances_after(trend, [count for count, *_ in looks]) if looks else []
    last = trend.life.ended_at or at
    scores = scores_of(trend) if len(points) else np.array([])

    def past(rules: Rules) -> Past:
        alarms = set() if rules.chart == Policy.Chart.NONE else alarms_of(scores.tolist(), rules)
        return Past(
            tuple(
                Look(
                    _day(when, since), shots, per_day, _curve(chance, shots, per_day, rules), when in unproven,
                    count - 1 in alarms and count >= LEAST_READINGS,
                )
                for (count, when, shots, per_day), chance in zip(looks, chances, strict=True)
            ),
            None if off is None or off < since else _day(off, since),
            _day(last, since),
        )  # fmt: skip

    return past


def _curve(chance: Chance | None, shots: float, per_day: float, rules: Rules) -> tuple[tuple[float, float], ...]:
    """Return the chance a lead time ahead, and where that is called the whole curve about it."""
    if chance is None or per_day <= 0:
        return ()
    lead = float(rules.lead_time_days)
    run_out = rules.interval_shots is not None and shots >= rules.interval_shots
    called = run_out or chance(lead * per_day) >= rules.call_chance
    days = sorted({*DAYS_AHEAD, lead}) if called else [lead]
    return tuple((day * per_day, chance(day * per_day)) for day in days)


def _shots(inserts: set[int], at: datetime) -> dict[int, tuple[np.ndarray, np.ndarray]]:
    """Return, by insert, when shots were made and the total after each."""
    found: dict[int, list[tuple[float, int]]] = defaultdict(list)
    rows = InsertShots.objects.filter(insert__in=inserts, at__lte=at).order_by("at", "entry_id")
    for insert_id, when, total in rows.values_list("insert_id", "at", "total"):
        found[insert_id].append((when.timestamp(), total))
    return {
        pk: (np.array([one[0] for one in found[pk]]), np.array([0, *(one[1] for one in found[pk])], dtype=float))
        for pk in inserts
    }


def _total(made: tuple[np.ndarray, np.ndarray], when: datetime) -> float:
    return float(made[1][np.searchsorted(made[0], when.timestamp(), side="right")])


def _per_day(made: tuple[np.ndarray, np.ndarray], when: datetime) -> float:
    return (_total(made, when) - _total(made, when - timedelta(days=RATE_DAYS))) / RATE_DAYS


def _verdicts(trends: Sequence[Trend]) -> Mapping[Any, list[tuple[datetime, str]]]:
    found: dict[Any, list[tuple[datetime, str]]] = defaultdict(list)
    rows = Verdict.objects.deciding().filter(life__in={trend.life_id for trend in trends}).order_by("at")
    for *key, when, outcome in rows.values_list("life_id", "parameter", "spot_id", "where", "at", "outcome"):
        found[tuple(key)].append((when, outcome))
    return found


def _day(when: datetime, since: datetime) -> float:
    return (when - since).total_seconds() / SECONDS_A_DAY
