"""Finish lives: how long finishes lasted, by group, and what made them last longer."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.db.models import OuterRef, QuerySet, Subquery
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext

from shop.bench.models import WorkOrder
from shop.boards.trend_picture import work_words
from shop.craft.gains import work_of
from shop.drift.lives import Interval, KaplanMeier, Weibull, kaplan_meier, weibull_interval
from shop.people import wording
from shop.people.models import Plant
from shop.press.models import InsertShots
from shop.quality.models import Verdict
from shop.refusal import Refused
from shop.tooling.models import FinishLife, HowMade, Insert, Spec
from shop.watch.groups import family_of, hardness_class, severity_class

# Below so many ends there is a list and no curve; a law wants one more than a curve would.
LEAST_ENDS = 5
LEVEL = 0.8
LAST_LIVES = 5

# What lives can be told apart by, and what it is called.
BY = {
    "how_made": gettext_lazy("how it is made"),
    "family": gettext_lazy("finish family"),
    "coating": gettext_lazy("coating"),
    "steel": gettext_lazy("steel"),
    "hardness": gettext_lazy("hardness class"),
    "resin": gettext_lazy("resin"),
    "work": gettext_lazy("work that began it"),
    "made_by": gettext_lazy("who made it"),
}


# What may count as an end, and what it is called.
ENDS = {
    "refinished": gettext_lazy("the next work on it"),
    "limit": gettext_lazy("leaving its limit"),
}


@dataclass(frozen=True)
class Life:
    """One finish life: its shots, and between which counts it ended; `upper` is None while it has not."""

    life: FinishLife
    shots: float
    lower: float
    upper: float | None
    told: Mapping[str, str]
    off_spec: bool = False

    @property
    def worn(self) -> bool:
        """Return whether the finish has ended, by what counts as an end here."""
        return self.upper is not None

    @property
    def running(self) -> bool:
        """Return whether the life runs still."""
        return self.life.ended_at is None

    @property
    def how_ended(self) -> str:
        """Return how it ended, in a word or two."""
        if self.off_spec:
            return _("left its limit")
        return _("runs") if self.running else _("refinished before its limit")

    @property
    def middle(self) -> float:
        """Return where the curve steps: midway between the last good reading and the first that was not."""
        return self.shots if self.upper is None else max((self.lower + self.upper) / 2, 1.0)


@dataclass(frozen=True)
class Group:
    """Lives that have something in common, and what they say together."""

    name: str
    lives: tuple[Life, ...]
    curve: KaplanMeier | None = None
    law: Weibull | None = None
    median: Interval | None = None
    tenth: Interval | None = None
    shape: Interval | None = None
    between: float | None = None
    missing: int = 0

    @property
    def ends(self) -> int:
        """Return how many left their limit."""
        return sum(one.worn for one in self.lives)

    @property
    def running(self) -> int:
        """Return how many run still."""
        return sum(one.running for one in self.lives)


@dataclass
class _Looked:
    good: dict[int, datetime] = field(default_factory=dict)
    bad: dict[int, datetime] = field(default_factory=dict)


def lives_of(plant: Plant, at: datetime, faces: Collection[int] | None = None) -> list[Life]:
    """Return the finish lives of the plant's faces, the newest first, in six queries."""
    rows: QuerySet[Any] = FinishLife.objects.filter(face__insert__tool__plant=plant)
    if faces is not None:
        rows = rows.filter(face__in=faces)
    rows = rows.select_related("face__insert__tool__resin").annotate(
        born=InsertShots.objects.total_before("face__insert", "began_at"),
        gone=InsertShots.objects.total_before("face__insert", "ended_at"),
        now=Subquery(
            InsertShots.objects.filter(insert=OuterRef("face__insert"), at__lte=at)
            .order_by("-at", "-entry_id")
            .values("total")[:1]
        ),
    )
    lives = list(rows.order_by("-began_at", "-pk"))
    looked, shots = _looked(lives)
    specs = _specs(lives)
    makers = _makers(lives)
    return [_life(life, looked, shots, specs, makers) for life in lives]


def _looked(lives: Sequence[Any]) -> tuple[_Looked, dict[tuple[int, datetime], int]]:
    """Return when each life was last good before it failed and when it failed, and the insert's shots then."""
    verdicts = Verdict.objects.deciding().filter(life__in=[life.pk for life in lives]).order_by("at", "pk")
    verdicts = verdicts.annotate(total=InsertShots.objects.total_before("face__insert", "at"))
    looked, shots = _Looked(), {}
    for life_id, at, outcome, total in verdicts.values_list("life_id", "at", "outcome", "total"):
        shots[life_id, at] = total or 0
        if life_id in looked.bad:
            continue
        if outcome == Verdict.Outcome.NO:
            looked.bad[life_id] = at
        elif outcome == Verdict.Outcome.YES:
            looked.good[life_id] = at
    return looked, shots


def _specs(lives: Sequence[Any]) -> dict[int, tuple[str, str]]:
    rows = Spec.objects.filter(face__in={life.face_id for life in lives}).order_by("revision")
    return {
        face_id: (how, family_of(scale, code))
        for face_id, how, scale, code in rows.values_list("face_id", "how_made", "scale", "code")
    }


def _makers(lives: Sequence[Any]) -> dict[str, str]:
    """Return who did the work of each order that began a life."""
    numbers = {life.began_by.partition(" ")[0] for life in lives}
    orders = WorkOrder.objects.filter(number__in=numbers).select_related("polisher", "outside_house")
    return {one.number: str(one.outside_house or one.polisher) for one in orders if one.outside_house or one.polisher}


def _life(
    life: Any,
    looked: _Looked,
    shots: Mapping[tuple[int, datetime], int],
    specs: Mapping[int, tuple[str, str]],
    makers: Mapping[str, str],
) -> Life:
    born = life.born or 0
    made = float(max(((life.gone if life.ended_at else life.now) or 0) - born, 0))
    bad, good = looked.bad.get(life.pk), looked.good.get(life.pk)
    upper = float(max(shots[life.pk, bad] - born, 1)) if bad is not None else None
    lower = float(max(shots[life.pk, good] - born, 0)) if good is not None else 0.0
    number = life.began_by.partition(" ")[0]
    how, family = specs.get(life.face_id, ("", ""))
    insert = life.face.insert
    resin = insert.tool.resin
    told = {
        "how_made": str(HowMade(how).label) if how else "",
        "family": family,
        "coating": str(Insert.Coating(insert.coating).label),
        "steel": insert.steel,
        "hardness": hardness_class(insert.hardness_hrc),
        "resin": resin.name if resin else "",
        "severity": severity_class(float(resin.severity)) if resin else "",
        "work": _(work_of(life.began_by)),
        "made_by": makers.get(number, _("new tool") if life.number == 1 else ""),
    }
    return Life(life, made, min(lower, upper) if upper is not None else made, upper, told, upper is not None)


def ending_with_the_next_work(lives: Iterable[Life]) -> list[Life]:
    """Return the same lives, each ended by the next work on the face whatever asked for it."""
    return [replace(one, lower=one.shots, upper=None if one.running else one.shots) for one in lives]


def groups(lives: Iterable[Life], by: str) -> list[Group]:
    """Return the lives by what they have in common, the largest group first, each with its curve and law."""
    found: dict[str, list[Life]] = defaultdict(list)
    for one in lives:
        if one.shots > 0:
            found[one.told[by] or pgettext("of a group", "not known")].append(one)
    return [group_of(name, mine) for name, mine in sorted(found.items(), key=lambda item: (-len(item[1]), item[0]))]


def group_of(name: str, lives: Sequence[Life]) -> Group:
    """Return what lives say together; without ends enough, only how many are missing."""
    ends = sum(one.worn for one in lives)
    refinished = sum(not one.running for one in lives)
    between = sum(one.shots for one in lives) / refinished if refinished else None
    if ends < LEAST_ENDS:
        return Group(name, tuple(lives), between=between, missing=LEAST_ENDS - ends)
    curve = kaplan_meier([one.middle for one in lives], [one.worn for one in lives])
    try:
        law = weibull_interval(*bounds_of(lives))
        return Group(
            name, tuple(lives), curve, law, law.quantile(0.5, LEVEL), law.quantile(0.1, LEVEL),
            law.shape_interval(LEVEL), between,
        )  # fmt: skip
    except Refused:
        return Group(name, tuple(lives), curve, between=between)


def bounds_of(lives: Sequence[Life]) -> tuple[list[float], list[float]]:
    """Return between which counts each life left its limit; infinite where it did not."""
    lower = [one.lower if one.worn else one.shots for one in lives]
    upper = [float("inf") if one.upper is None else one.upper for one in lives]
    return lower, upper


def differs_too(first: Group, second: Group, by: str) -> list[str]:
    """Return what else tells two groups apart: where what is commonest in one is not so in the other."""
    found = []
    for name, words in BY.items():
        if name == by:
            continue
        common = [Counter(one.told[name] for one in group.lives).most_common(1)[0][0] for group in (first, second)]
        if common[0] != common[1]:
            found.append(f"{words}: {common[0] or '–'} / {common[1] or '–'}")
    return found


@dataclass(frozen=True)
class LifeBar:
    """One life on the strip: its length in hundredths of the longest there, its shots and how it ended."""

    width: int
    words: str
    worn: bool
    running: bool


def last_five(face_ids: Collection[int], plant: Plant, at: datetime) -> dict[int, tuple[LifeBar, ...]]:
    """Return the last five lives of each face, the oldest first."""
    by_face: dict[int, list[Life]] = defaultdict(list)
    for one in lives_of(plant, at, face_ids):
        if len(by_face[one.life.face_id]) < LAST_LIVES:
            by_face[one.life.face_id].append(one)
    return {face_id: _bars(mine[::-1]) for face_id, mine in by_face.items()}


def _bars(lives: Sequence[Life]) -> tuple[LifeBar, ...]:
    longest = max((one.shots for one in lives), default=0.0) or 1.0
    return tuple(
        LifeBar(
            round(100 * one.shots / longest),
            f"{work_words(one.life.began_by)}: {wording.shots(round(one.shots))}, {one.how_ended}",
            one.off_spec,
            one.running,
        )
        for one in lives
    )
