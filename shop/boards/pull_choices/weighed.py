"""A tool's visit weighed: the few choices, the account of each, and the curve behind them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from shop.boards.pull_choices.days import Days, windows_of
from shop.boards.pull_choices.doings import Candidate, candidates
from shop.boards.pull_choices.facts import FaceFacts, ToolFacts
from shop.craft.pulling import Floats, Law
from shop.craft.visits import Choice, Doing, FaceAhead, Terms, ToolAhead
from shop.craft.weighing import LIGHTEST, STYLES, Scales, few, over_days
from shop.watch.models import Standing

NEAR, FAR = 56, 28  # points of the grid: to the horizon, and from there to where every face is past its limit
LEAST_SHOTS = 1.0
CURVE_POINTS = 120


@dataclass(frozen=True, eq=False)
class Weighed:
    """What came out: choices by day, the curve by day, and the faces that no work here brings back.

    `works` are by face and work; `curve` holds for each of `curve_days` what visits, works and bad parts cost.
    """

    tool: ToolFacts
    days: Days
    scales: Scales
    choices: tuple[Choice, ...]
    works: Mapping[tuple[int, str], Candidate]
    spent: tuple[Candidate, ...]
    curve_days: tuple[int, ...]
    curve: tuple[tuple[float, float, float], ...]

    @cached_property
    def cheapest(self) -> Choice:
        """Return the choice that costs least for a shot."""
        return min(self.choices, key=lambda one: one.rate)

    def own_day(self, key: int) -> int | None:
        """Return the day on which a face by itself would be cheapest pulled; None is beyond the horizon."""
        place = next(at for at, face in enumerate(self.scales.tool.faces) if face.key == key)
        shots = float(self.scales.own[LIGHTEST].shots[place])
        return next((day for day in range(self.days.horizon + 1) if self.days.middle(day) >= shots), None)


def weigh(tool: ToolFacts, days: Days) -> Weighed | None:
    """Return the visit weighed; None where no work has the steel for any face."""
    offered = {one.face.pk: candidates(one, tool) for one in tool.faces}
    works = {(key, one.work): one for key, found in offered.items() for one in found}
    usable = {key: [one for one in found if not one.steel_short_um] for key, found in offered.items()}
    faces = [one for one in tool.faces if usable[one.face.pk]]
    spent = tuple(found[0] for key, found in offered.items() if not usable[key])
    if not faces:
        return None
    grid = _grid(faces, days)
    ahead = [
        FaceAhead(
            key=one.face.pk,
            cavity=one.position,
            chances=_chances(one, grid),
            works=tuple(_by_tool_shots(candidate.doing, one.share) for candidate in usable[one.face.pk]),
            must=one.must,
            share=one.share,
        )
        for one in faces
    ]
    scales = Scales(ToolAhead(grid, tuple(ahead), terms_of(tool)))
    step = -(-days.horizon // CURVE_POINTS)
    curve_days = tuple(range(0, days.horizon + 1, step))
    curve = over_days(scales, [days.window("", day) for day in curve_days])
    least = min(range(len(curve)), key=lambda place: sum(curve[place]))
    windows = windows_of(tool, days, cheapest=curve_days[least])
    choices = few([scales.weigh(window, style) for window in windows for style in STYLES])
    accounted = tuple(scales.account(choice) for choice in choices)
    return Weighed(tool, days, scales, accounted, works, spent, curve_days, tuple(curve))


def terms_of(tool: ToolFacts) -> Terms:
    """Return what the plant reckons with, for the pure core."""
    costs = tool.costs
    return Terms(
        bench_hour=float(costs.bench_hour),
        press_hour=float(costs.press_hour),
        change_hours=float(costs.change_hours),
        strip_hours=float(costs.strip_hours),
        steel_um=float(costs.steel_um),
        bad_part=float(tool.bad_part),
    )


def _grid(faces: list[FaceFacts], days: Days) -> Floats:
    near = max(days.shots[-1][-1], LEAST_SHOTS)
    ends = [(one.lefts[2] or one.lefts[1] or 0) / one.share for one in faces]
    far = max([near * 1.5, *(float(end) * 1.2 for end in ends)])
    grid: Floats = np.concatenate([np.linspace(0.0, near, NEAR), np.geomspace(near, far, FAR + 1)[1:]])
    return grid


def _by_tool_shots(doing: Doing, share: float) -> Doing:
    """Return the work with its life counted in shots of the tool."""
    return replace(doing, law=Law(doing.law.median / share, doing.law.shape))


def _chances(facts: FaceFacts, grid: Floats) -> Floats:
    """Return the chance of being beyond a limit over the shots to come; one that is off spec is beyond it already."""
    if facts.standing is not None and facts.standing.state == Standing.State.OFF_SPEC:
        return np.ones(grid.size)
    if facts.ahead is None:
        return np.zeros(grid.size)
    chances = np.array([facts.ahead.chance_by(float(shots) * facts.share) for shots in grid])
    rising: Floats = np.clip(np.maximum.accumulate(chances), 0.0, 1.0)
    return rising
