"""Weigh a tool's visits: in which window, which faces go along, how lightly each is worked on, what that costs a shot.

Every way is reckoned by the criterion of `shop.craft.pulling`, for the tool as the sum of what it pays: each face's
work and its bad parts spread over the shots from now to its next work, the visit over those to the next visit. Where
a face that stays behind comes to its own cheapest time before that, one more visit is paid in between.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from shop.craft.pulling import Floats, cheapest, sum_up_to, use_of
from shop.craft.visits import Along, Choice, Doing, FaceAhead, Sum, ToolAhead, WindowAhead

SHIFT_HOURS = 8.0  # a bench works so long a day
LIGHTEST, CHEAPEST, HEAVIEST = "lightest", "cheapest", "heaviest"
STYLES = (LIGHTEST, CHEAPEST, HEAVIEST)
EACH = 1000.0  # costs are told for a thousand shots


class Scales:
    """A tool made ready for weighing: what each face's works cost and give, and its own cheapest time by itself."""

    def __init__(self, tool: ToolAhead) -> None:
        terms = tool.terms
        self.tool = tool
        self.strip = terms.strip_hours * terms.bench_hour
        self.down = terms.change_hours * terms.press_hour
        self.bad = np.array(_bad_parts(tool))
        self.costs = [[self._work_cost(doing) for doing in face.works] for face in tool.faces]
        share = (self.strip + self.down) / len(tool.faces)
        self.shares = [[share + doing.a_visit for doing in face.works] for face in tool.faces]
        self.uses = [
            [
                use_of(doing.law, shared + cost, terms.bad_part)
                for doing, shared, cost in zip(face.works, shares, costs, strict=True)
            ]
            for face, shares, costs in zip(tool.faces, self.shares, self.costs, strict=True)
        ]
        faces = range(len(tool.faces))
        self.own = {style: _Own(*np.array([self._own(face, style) for face in faces]).T) for style in STYLES}

    def weigh(self, window: WindowAhead, style: str) -> Choice:
        """Return the cheapest visit in a window by one way to choose the works.

        Faces come in the order of their own cheapest times: those whose time has come, and of the others as many as
        make a shot cheapest.

        Parameters
        ----------
        window : WindowAhead
            In which the tool is pulled. [days, shots]
        style : str
            lightest, cheapest or heaviest: how the work of each face is chosen. [-]

        Returns
        -------
        Choice
            Without its account of who goes along. [money, shots]

        References
        ----------
        .. [1] R. Dekker, R. E. Wildeman and F. A. van der Duyn Schouten, A review of multi-component maintenance
           models with economic dependence, Mathematical Methods of Operations Research 45 (1997).
        .. [2] R. E. Wildeman, R. Dekker and A. C. J. M. Smit, A dynamic policy for grouping maintenance activities,
           European Journal of Operational Research 99 (1997): groups are neighbours in the order of their own times.
        """
        reckoned = self._best(window, style)
        return self._choice(window, style, *reckoned)

    def rates(self, window: WindowAhead, style: str) -> tuple[float, float, float]:
        """Return what a thousand shots cost by visits, works and bad parts in the cheapest visit in a window.

        Parameters
        ----------
        window : WindowAhead
            In which the tool is pulled. [days, shots]
        style : str
            lightest, cheapest or heaviest. [-]

        Returns
        -------
        tuple of float
            For visits, works, bad parts. [money a thousand shots]

        References
        ----------
        .. [1] R. E. Barlow and F. Proschan, Mathematical Theory of Reliability, Wiley 1965, ch. 3.
        """
        by_count, _order, count, _places = self._best(window, style)
        at = count - 1
        return EACH * by_count.visits[at], EACH * by_count.works[at], EACH * by_count.waiting[at]

    def account(self, choice: Choice) -> Choice:
        """Return the choice with why each face goes along or stays: another visit saved against life given away.

        Parameters
        ----------
        choice : Choice
            As `weigh` returned it. [money, shots]

        Returns
        -------
        Choice
            With a line for each face whose own time has not come. [money]

        References
        ----------
        .. [1] R. E. Wildeman, R. Dekker and A. C. J. M. Smit, A dynamic policy for grouping maintenance activities,
           European Journal of Operational Research 99 (1997).
        """
        window = choice.window
        own = self.own[choice.style]
        by_count, order, count, places = self._best(window, choice.style)
        here = by_count.at(count)
        lines = []
        for position, face in enumerate(order):
            goes = position < count
            if own.shots[face] <= window.mean_shots or (goes and count == 1):
                continue
            others = [one for one in order if one != face]
            at = count - 1 if goes else count
            swapped = [*others[:at], face, *others[at:]]
            other = self._by_count(window, own, places, swapped).at(count - 1 if goes else count + 1)
            sign = 1.0 if goes else -1.0
            visit = sign * (other[0] - here[0]) * choice.cycle
            life = sign * (here[1] + here[2] - other[1] - other[2]) * choice.cycle
            lines.append(Along(self.tool.faces[face].key, goes, visit, life))
        return replace(choice, along=tuple(lines))

    def _work_cost(self, doing: Doing) -> float:
        terms = self.tool.terms
        return doing.minutes / 60.0 * terms.bench_hour + doing.a_face + doing.steel_um * terms.steel_um

    def _own(self, place: int, style: str) -> tuple[float, float, float]:
        """Return when the face by itself is cheapest pulled, and what it then pays a shot for work and bad parts."""
        face, bad = self.tool.faces[place], self.tool.terms.bad_part * self.bad[place]
        found = []
        for work in _offered(style, len(face.works)):
            cost, use = self.costs[place][work], self.uses[place][work]
            lengths = self.tool.grid + use.shots
            waiting = use.waiting + bad
            cycle = self.shares[place][work] + cost + waiting
            at = 0 if face.must else cheapest(cycle, lengths)
            rates = (self.tool.grid[at], cost / lengths[at], waiting[at] / lengths[at])
            found.append((float(cycle[at] / lengths[at]), rates))
        return min(found)[1]

    def _best(self, window: WindowAhead, style: str) -> tuple[_ByCount, list[int], int, list[int]]:
        places = self._places(window, style)
        own = self.own[style]
        order = sorted(range(len(self.tool.faces)), key=lambda face: (own.shots[face], face))
        due = int(np.sum(own.shots <= window.mean_shots))
        by_count = self._by_count(window, own, places, order)
        first = max(due, 1) - 1
        return by_count, order, first + 1 + int(np.argmin(by_count.whole[first:])), places

    def _places(self, window: WindowAhead, style: str) -> list[int]:
        if style != CHEAPEST:
            return [_offered(style, len(face.works))[0] for face in self.tool.faces]
        bad = self._bad_by(window) * self.tool.terms.bad_part
        shots = window.mean_shots
        return [
            cheapest(
                np.array(self.shares[face]) + self.costs[face] + [use.waiting for use in uses] + bad[face],
                np.array([shots + use.shots for use in uses]),
            )
            for face, uses in enumerate(self.uses)
        ]

    def _bad_by(self, window: WindowAhead) -> Floats:
        """Return by face the bad parts that are to be expected before the window."""
        at = [_interpolated(self.tool.grid, self.bad, shots) for shots in window.shots]
        mixed: Floats = np.mean(at, axis=0)
        return mixed

    def _by_count(
        self, window: WindowAhead, own: _Own, places: Sequence[int], order: Sequence[int]
    ) -> _ByCount:
        """Return what a shot costs when the first one, two, three of the order go along."""
        faces, shots = list(order), window.mean_shots
        doings = [self.tool.faces[face].works[places[face]] for face in faces]
        uses = [self.uses[face][places[face]] for face in faces]
        lengths = shots + np.array([use.shots for use in uses])
        bad = self._bad_by(window)[faces] * self.tool.terms.bad_part
        works = np.array([self.costs[face][places[face]] for face in faces]) / lengths
        waits = (np.array([use.waiting for use in uses]) + bad) / lengths
        next_shots = np.minimum.accumulate([use.shots for use in uses])
        visit = self.strip + self._downtime(window, doings) + _outside_visits(doings)
        soonest_left = np.append(np.minimum.accumulate(own.shots[faces][::-1])[::-1][1:], np.inf)
        between = np.where(soonest_left < shots + next_shots, self.strip + self.down, 0.0)
        return _ByCount(
            visits=(visit + between) / (shots + next_shots),
            works=np.cumsum(works) + _after(own.works[faces]),
            waiting=np.cumsum(waits) + _after(own.waiting[faces]),
            next_shots=next_shots,
        )

    def _downtime(self, window: WindowAhead, doings: Sequence[Doing]) -> Floats:
        """Return the cost of the press's waiting: nothing where its own gap is long enough for the work."""
        hours = self.tool.terms.strip_hours + np.cumsum([doing.minutes / 60.0 for doing in doings])
        days = np.maximum(np.ceil(hours / SHIFT_HOURS), np.maximum.accumulate([doing.days for doing in doings]))
        down: Floats = np.where(days <= window.gap_days, 0.0, self.down)
        return down

    def _choice(
        self, window: WindowAhead, style: str, by_count: _ByCount, order: list[int], count: int, places: list[int]
    ) -> Choice:
        faces, terms, going = self.tool.faces, self.tool.terms, order[:count]
        doings = [faces[face].works[places[face]] for face in going]
        visits, works, waiting = by_count.at(count)
        bad = float(np.sum(self._bad_by(window)))
        sound = 1.0 - np.array([_interpolated(self.tool.grid, _chances(faces), at) for at in window.shots])
        return Choice(
            window=window,
            style=style,
            works=tuple((faces[face].key, doing) for face, doing in zip(going, doings, strict=True)),
            paid=Sum(
                strip=self.strip,
                bench=sum(doing.minutes for doing in doings) / 60.0 * terms.bench_hour,
                outside=float(_outside_visits(doings)[-1]) + sum(doing.a_face for doing in doings),
                downtime=float(self._downtime(window, doings)[-1]),
                steel=sum(doing.steel_um for doing in doings) * terms.steel_um,
            ),
            chance=float(1.0 - np.mean(np.prod(sound, axis=1))),
            bad_parts=bad,
            waiting=bad * terms.bad_part,
            shots=window.mean_shots,
            next_shots=float(by_count.next_shots[count - 1]),
            visits_rate=EACH * visits,
            works_rate=EACH * works,
            waiting_rate=EACH * waiting,
        )


def few(choices: Sequence[Choice], most: int = 5) -> list[Choice]:
    """Return the choices worth looking at, by day: the cheapest, its window's other works, now, the other windows.

    Parameters
    ----------
    choices : sequence of Choice
        Of all windows and styles; at least one. [money]
    most : int
        How many at most. [1]

    Returns
    -------
    list of Choice
        By day, lighter works first; no two the same works on one day. [money]

    References
    ----------
    .. [1] What a lead can weigh at one look.
    """
    by_rate = sorted(choices, key=lambda one: one.rate)
    best = by_rate[0]
    first_day = min(choice.window.day for choice in choices)
    wanted = [best]
    wanted += [one for one in by_rate if one.window == best.window and _what(one) != _what(best)][:1]
    wanted += [one for one in by_rate if one.window.day == first_day][:1]
    for one in by_rate:
        if one.window not in [kept.window for kept in wanted]:
            wanted.append(one)
    kept: dict[tuple[int, frozenset[tuple[int, str]]], Choice] = {}
    for one in wanted:
        kept.setdefault((one.window.day, _what(one)), one)
    return sorted(list(kept.values())[:most], key=lambda one: (one.window.day, one.hours))


def over_days(scales: Scales, days: Sequence[WindowAhead]) -> list[tuple[float, float, float]]:
    """Return what a thousand shots cost by visits, works and bad parts when the tool is pulled on each day.

    Parameters
    ----------
    scales : Scales
        Of the tool. [money]
    days : sequence of WindowAhead
        One a day. [days, shots]

    Returns
    -------
    list of tuple of float
        Of the cheapest way to choose the works, a day each. [money a thousand shots]

    References
    ----------
    .. [1] A. K. S. Jardine and A. H. C. Tsang, Maintenance, Replacement, and Reliability, CRC Press 2006, ch. 2.
    """
    return [min((scales.rates(day, style) for style in STYLES), key=sum) for day in days]


@dataclass(frozen=True, eq=False)
class _Own:
    """By face: the shots to its own cheapest time, and what it then pays a shot for its work and its bad parts."""

    shots: Floats
    works: Floats
    waiting: Floats


@dataclass(frozen=True, eq=False)
class _ByCount:
    """What a shot costs by how many faces go along, counted from one."""

    visits: Floats
    works: Floats
    waiting: Floats
    next_shots: Floats

    @property
    def whole(self) -> Floats:
        return self.visits + self.works + self.waiting

    def at(self, count: int) -> tuple[float, float, float]:
        """Return the three rates when so many go along."""
        return float(self.visits[count - 1]), float(self.works[count - 1]), float(self.waiting[count - 1])


def _offered(style: str, works: int) -> Sequence[int]:
    """Return which of a face's works a style chooses among."""
    return {LIGHTEST: range(1), HEAVIEST: range(works - 1, works)}.get(style, range(works))


def _what(choice: Choice) -> frozenset[tuple[int, str]]:
    return frozenset((key, doing.work) for key, doing in choice.works)


def _bad_parts(tool: ToolAhead) -> list[Floats]:
    """Return by face the bad parts up to each point of the grid: faces of one cavity share the parts they spoil."""
    cavities: dict[int, list[FaceAhead]] = {}
    for face in tool.faces:
        cavities.setdefault(face.cavity, []).append(face)
    found = []
    for face in tool.faces:
        chances = _chances(cavities[face.cavity])
        either = 1.0 - np.prod(1.0 - chances, axis=0)
        share = face.chances / np.maximum(chances.sum(axis=0), np.finfo(float).tiny)
        found.append(face.share * sum_up_to(tool.grid, share * either))
    return found


def _chances(faces: Sequence[FaceAhead]) -> Floats:
    return np.array([face.chances for face in faces])


def _interpolated(grid: Floats, rows: Floats, at: float) -> Floats:
    """Return each row's value between the points of the grid; beyond its end it goes on as it ended."""
    right = int(np.clip(np.searchsorted(grid, at), 1, grid.size - 1))
    part = (at - grid[right - 1]) / (grid[right] - grid[right - 1])
    found: Floats = rows[:, right - 1] + min(part, 1.0) * (rows[:, right] - rows[:, right - 1])
    return found


def _after(rates: Floats) -> Floats:
    """Return for each place the sum of what comes after it."""
    after: Floats = rates.sum() - np.cumsum(rates)
    return after


def _outside_visits(doings: Sequence[Doing]) -> Floats:
    """Return what houses ask for the visit by how many faces go along: each work once a house."""
    seen: set[tuple[str, str]] = set()
    asked = []
    for doing in doings:
        new = bool(doing.house) and (doing.house, doing.work) not in seen
        seen.add((doing.house, doing.work))
        asked.append(doing.a_visit if new else 0.0)
    summed: Floats = np.cumsum(asked)
    return summed
