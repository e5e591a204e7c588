"""What the inspections of a tool share, told from each face's own wear."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import stdtrit

from shop.drift.steps import Steps, common_steps
from shop.refusal import Refused
from shop.watch.models import Question, Trend
from shop.watch.path import Kind, Points, points_of

# Of two faces neither can say which of them has moved.
LEAST_FACES = 3
# The faces' lines take two of the inspections' means, and the one that is looked at is a third.
SPENT, LEAST_DF = 3, 3
CHANCE_OF_ONE = 0.05
# Of a normal variable's squares, the mean over the three quarters that lie nearer: 1 - 2 q phi(q) / 0.75, q = 1.1503.
NEARER, SQUARE_OF_NEARER = 0.75, 0.3686
ToolKind = tuple[int, Kind]
Answers = Mapping[tuple[int, Kind], str]


@dataclass(frozen=True)
class Split:
    """What is taken off the readings of one kind, and how well the line that is shared is known.

    `offsets` are by inspection. Where something happened to the steel, `lifts` bring what was read before that
    inspection to the level that came after it. `named` are the inspections whose step is more than scatter, each with
    how far all faces together were from what they had shown before.
    """

    offsets: dict[int, float] = field(default_factory=dict)
    lifts: tuple[tuple[int, float], ...] = ()
    errors: dict[int, float] = field(default_factory=dict)
    faces: dict[int, int] = field(default_factory=dict)
    named: dict[int, float] = field(default_factory=dict)
    shared: list[list[float]] | None = None

    def of(self, points: Points) -> list[float]:
        """Return what is taken off each reading."""
        lifted = np.zeros(len(points))
        for inspection, lift in self.lifts:
            lifted[: _first(points, inspection)] += lift
        return [self.offsets.get(int(one), 0.0) - up for one, up in zip(points["inspection"], lifted, strict=True)]


def split(trends: Sequence[tuple[int, Trend]], answers: Answers) -> dict[ToolKind, Split]:
    """Return, by tool and kind, what the inspections share; `trends` are all running ones of whole tools.

    Every offset is taken off, named or not, shrunk as far as it is not known: small steps blur a face's path as well.
    A step that was answered as wear stays in the readings; one that changed the steel lifts what was read before it.
    """
    by_kind: dict[ToolKind, dict[int, Trend]] = defaultdict(dict)
    for tool_id, trend in trends:
        kind = (trend.parameter, trend.where, trend.geometry_deg)
        # Spots of one face are no witnesses of their own: the one that was measured most speaks for it.
        best = by_kind[tool_id, kind].get(trend.face_id)
        if best is None or len(trend.points) > len(best.points):
            by_kind[tool_id, kind][trend.face_id] = trend
    found = {}
    for key, of_faces in by_kind.items():
        if len(of_faces) >= LEAST_FACES:
            given = {inspection: said for (inspection, kind), said in answers.items() if kind == key[1]}
            one = _split([points_of(trend) for trend in of_faces.values()], given)
            if one is not None:
                found[key] = one
    return found


def _split(faces: list[Points], given: Mapping[int, str]) -> Split | None:
    lifts = []
    values = [points["value"].copy() for points in faces]
    for inspection in sorted(one for one, said in given.items() if said == Question.Answer.EVENT):
        lift = _lift(faces, values, inspection)
        lifts.append((inspection, lift))
        for points, level in zip(faces, values, strict=True):
            level[: _first(points, inspection)] += lift
    try:
        steps = common_steps(
            [(points["wear"], level) for points, level in zip(faces, values, strict=True)],
            [points["inspection"].tolist() for points in faces],
        )
    except Refused:
        return None
    kept = {one for one, said in given.items() if said in (Question.Answer.WEAR, Question.Answer.EVENT)}
    named = {one: off for one, off in _named(faces, values).items() if one not in kept}
    return _of_steps(steps, faces, kept, tuple(lifts), named)


def _named(faces: Sequence[Points], values: Sequence[np.ndarray]) -> dict[int, float]:
    """Return the inspections on which the faces together were farther off their lines than inspections usually are.

    The one that is farthest off what all others say is named and left out, and so on while one is: a large step would
    else hide in its neighbours. The middle face speaks for all, so that one going alone moves nothing. An inspection
    is held against the scatter of them all, which has in it what every day shares a little; of tools with nothing to
    name about one in twenty has something named (Bonferroni's bound).
    """
    found: dict[int, float] = {}
    while True:
        means = _means(faces, values, set(found))
        left = [one for one in means if one not in found]
        df = len(left) - SPENT
        if df < LEAST_DF:
            return found
        farthest = max(left, key=lambda one: abs(means[one]))
        limit = float(stdtrit(df, 1.0 - CHANCE_OF_ONE / (2 * len(left))))
        if abs(means[farthest]) <= limit * _scatter([means[one] for one in left if one != farthest]):
            return found
        found[farthest] = _means(faces, values, {*found, farthest})[farthest]


def _means(faces: Sequence[Points], values: Sequence[np.ndarray], without: set[int]) -> dict[int, float]:
    """Return how far the middle face is from its own line through the other inspections."""
    aways: dict[int, list[float]] = defaultdict(list)
    for points, level in zip(faces, values, strict=True):
        kept = ~np.isin(points["inspection"], list(without))
        wear = points["wear"]
        if kept.sum() < LEAST_FACES or np.ptp(wear[kept]) == 0:
            continue
        scale = float(np.abs(wear).max()) or 1.0
        slope, start = np.polyfit(wear[kept] / scale, level[kept], 1)
        away = level - start - slope * wear / scale
        for inspection in np.unique(points["inspection"]).tolist():
            aways[inspection].append(float(away[points["inspection"] == inspection].mean()))
    return {inspection: float(np.median(each)) for inspection, each in aways.items() if len(each) >= LEAST_FACES}


def _scatter(aways: Sequence[float]) -> float:
    """Return the scatter of what inspections share, by the nearer three quarters: a step would hide another."""
    nearer = np.sort(np.abs(aways))[: max(int(NEARER * len(aways)), 1)]
    freedom = len(nearer) * (1.0 - (SPENT - 1) / len(aways))
    return max(float(np.sqrt((nearer**2).sum() / max(freedom, 1.0) / SQUARE_OF_NEARER)), 1e-12)


def _of_steps(
    steps: Steps,
    faces: Iterable[Points],
    kept: set[int],
    lifts: tuple[tuple[int, float], ...],
    named: dict[int, float],
) -> Split:
    told = zip(steps.occasion.tolist(), steps.offset.tolist(), steps.se.tolist(), strict=True)
    errors, offsets = {}, {}
    for inspection, offset, error in told:
        errors[inspection] = error
        offsets[inspection] = 0.0 if inspection in kept else offset
    counts: dict[int, int] = defaultdict(int)
    for points in faces:
        for inspection in set(points["inspection"].tolist()):
            counts[inspection] += 1
    return Split(offsets, lifts, errors, dict(counts), named, steps.shared_line().tolist())


def _first(points: Points, inspection: int) -> int:
    """Return how many readings come before an inspection."""
    at = np.flatnonzero(points["inspection"] == inspection)
    return int(at[0]) if len(at) else 0


def _lift(faces: Sequence[Points], values: Sequence[np.ndarray], inspection: int) -> float:
    """Return by how much all faces' levels changed from an inspection on, beside each face's own line."""
    up, square = 0.0, 0.0
    for points, level in zip(faces, values, strict=True):
        since = (np.arange(len(points)) >= _first(points, inspection)).astype(float)
        wear = points["wear"]
        line = np.stack([np.ones_like(wear), (wear - wear.mean()) / (np.ptp(wear) or 1.0)], axis=1)
        q, _ = np.linalg.qr(line)
        since -= q @ (q.T @ since)
        up += float(since @ (level - q @ (q.T @ level)))
        square += float(since @ since)
    return up / square if square > 1e-9 else 0.0
