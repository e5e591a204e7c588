"""Learn from the whole plant what faces of a group have shown of their wear."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np
from django.db import transaction

from shop.drift import courses
from shop.people.models import Plant
from shop.refusal import Refused
from shop.tooling.models import Parameter, Spec
from shop.watch.forecast import SIDES, reached_at, share_of
from shop.watch.groups import Group, family_of, group_of_pool, hardness_class, severity_class
from shop.watch.models import Pool, Trend
from shop.watch.path import points_of

# So many faces must have worn from one reading to another before a group speaks for a face that is in it.
LEAST_FACES = 6
# A group of more says nothing new: its evenly chosen faces are looked at.
MOST_FACES = 400
# A group wears away from a limit when its mean slope runs from it by more than so many standard errors.
TELLING_T = 2.0
# A value rounded to a step scatters by the step over this, the twelfth root.
UNIFORM = 12.0**0.5


@dataclass(frozen=True)
class Member:
    """One trend as its group sees it: shots, values and weights of its readings, and its limits by side."""

    group: Group
    wear: Any
    values: Any
    weights: Any
    step: float
    limits: Mapping[str, float]

    @property
    def tells(self) -> bool:
        """Return whether its readings show any wear: two at different shots."""
        return len(self.wear) >= 2 and float(np.ptp(self.wear)) > 0


def learn_groups(plant: Plant, *, at: datetime) -> int:
    """Learn every group that a face of the plant needs, by side of the limit; return how many there are.

    Everything is reckoned before anything is written: nobody's write waits for it.
    """
    members = members_of(plant)
    by_group: dict[Group, list[Member]] = defaultdict(list)
    for member in members:
        for wide in member.group.wider():
            by_group[wide].append(member)
    needed = _needed({member.group for member in members}, by_group)
    learned = {
        (group, side): found
        for group, side in sorted(needed, key=str)
        if (found := _learned([one for one in by_group[group] if side in one.limits], side)) is not None
    }
    _write(plant, learned, at)
    return len(learned)


@transaction.atomic
def _write(plant: Plant, learned: Mapping[tuple[Group, str], tuple[int, int, list[Any], float]], at: datetime) -> None:
    """Write what was learned, each group into its own row; what no face needs any more goes."""
    before = {(group_of_pool(pool), pool.side): pool for pool in Pool.objects.in_plant(plant)}
    kept: set[int] = set()
    for (group, side), found in learned.items():
        pool = before.get((group, side)) or _pool(plant, group, side)
        pool.faces, pool.readings, pool.courses, pool.scale = found
        pool.learned_at = at
        if pool.pk is None:
            pool.save(force_insert=True)
        else:
            pool.save(update_fields=["faces", "readings", "courses", "scale", "learned_at"])
        kept.add(pool.pk)
    Pool.objects.in_plant(plant).exclude(pk__in=kept).delete()


def members_of(plant: Plant) -> list[Member]:
    """Return the trends of the plant's faces, of lives that run and of lives that are over, in two queries."""
    specs = Spec.objects.filter(face__insert__tool__plant=plant).order_by("revision")
    made = {face_id: (how, family_of(scale, code)) for face_id, how, scale, code in specs.values_list(
        "face_id", "how_made", "scale", "code"
    )}  # fmt: skip
    trends = Trend.objects.filter(face__insert__tool__plant=plant).select_related("face__insert", "spot")
    found = []
    for trend in trends.order_by("pk").iterator(chunk_size=5000):
        how_made, family = made.get(trend.face_id, ("", ""))
        limits = {side: limit for side, limit in zip(SIDES, reversed(reached_at(trend)), strict=True) if limit}
        if how_made and limits:
            points = points_of(trend)
            group = Group(
                trend.parameter, trend.where, trend.geometry_deg, how_made, family, severity_class(trend.severity),
                hardness_class(trend.face.insert.hardness_hrc), trend.spot.kind if trend.spot else "",
            )  # fmt: skip
            values = points["value"] - points["step"]
            found.append(Member(group, points["wear"], values, points["weight"], _step(trend, points["value"]), limits))
    return found


def _needed(narrow: Iterable[Group], by_group: Mapping[Group, list[Member]]) -> set[tuple[Group, str]]:
    """Return, for each narrowest group and side, the first that has faces enough."""
    needed = set()
    for group in narrow:
        for side in SIDES:
            for wide in group.wider():
                if sum(one.tells for one in by_group[wide] if side in one.limits) >= LEAST_FACES:
                    needed.add((wide, side))
                    break
    return needed


def _learned(members: list[Member], side: str) -> tuple[int, int, list[Any], float] | None:
    """Return faces, readings, courses and scale of a group; None where it wears away or says nothing."""
    if len(members) > MOST_FACES:
        members = [members[n] for n in np.linspace(0, len(members) - 1, MOST_FACES).astype(int)]
    faces = [(one.wear, one.values / share_of(one.limits[side])) for one in members]
    if _wears_away(faces, side):
        return None
    # Values are shares of the limit: it is 1, or -1 where a grade's limit lies below its plaque.
    limit = float(np.sign(members[0].limits[side]))
    try:
        found = courses.learn(
            faces,
            limit,
            "up" if side == "upper" else "down",
            weights=[one.weights for one in members],
            least_sd=float(np.median([one.step / share_of(one.limits[side]) for one in members])) / UNIFORM,
        )
    except Refused:
        return None
    readings = sum(len(one.wear) for one in members)
    return len(members), readings, [one.kept() for one in found], found[0].scale


def _step(trend: Trend, values: Any) -> float:
    """Return the step that a trend's readings show: the least they differ by, else what its gauge is worth."""
    gaps = np.diff(np.unique(np.round(values, 6)))
    return float(gaps.min()) if len(gaps) else trend.last_uncertainty


def _wears_away(faces: list[tuple[Any, Any]], side: str) -> bool:
    """Return whether the faces' slopes, in the mean, run away from the limit by more than chance."""
    squares, products = [], []
    for wear, values in faces:
        away = wear - wear.mean() if len(wear) else wear
        if len(wear) >= 2 and float(away @ away) > 0:
            squares.append(float(away @ away))
            products.append(float(away @ values))
    if not squares:
        return True
    # Faces weigh by how far apart their readings lie; how they differ among themselves is the error of the mean.
    square, product = np.array(squares), np.array(products)
    slope = product.sum() / square.sum()
    error = float(np.sqrt(((product - slope * square) ** 2).sum())) / square.sum()
    return bool((1.0 if side == "upper" else -1.0) * slope < -TELLING_T * error)


def _pool(plant: Plant, group: Group, side: str) -> Pool:
    return Pool(
        plant=plant, parameter=Parameter(group.parameter), where=group.where, geometry_deg=group.geometry_deg,
        how_made=group.how_made, family=group.family, severity=group.severity, hardness=group.hardness,
        zone=group.zone, side=side,
    )  # fmt: skip
