"""What is known when a tool's visit is weighed, and what comes out: the words of `shop.craft.weighing`."""

from __future__ import annotations

from dataclasses import dataclass

from shop.craft.pulling import Floats, Law


@dataclass(frozen=True)
class Terms:
    """What a plant reckons with. [money an hour, hours, money an um, money a part]"""

    bench_hour: float
    press_hour: float
    change_hours: float
    strip_hours: float
    steel_um: float
    bad_part: float


@dataclass(frozen=True)
class Doing:
    """A work that would do on a face: bench minutes, steel a side [um], and the law of the life that it begins.

    `house` is who does it outside, at `a_visit` and `a_face`, within `days`; empty where the bench does all of it.
    """

    work: str
    minutes: float
    steel_um: float
    law: Law
    house: str = ""
    a_visit: float = 0.0
    a_face: float = 0.0
    days: int = 0


@dataclass(frozen=True, eq=False)
class FaceAhead:
    """One face: its cavity, its chances of being beyond a limit on the tool's grid of shots, the works that would do.

    `works` are lightest first and never empty; `must` says that something asks for work whatever the forecast.
    `share` is what part of the tool's shots it makes. [1]
    """

    key: int
    cavity: int
    chances: Floats
    works: tuple[Doing, ...]
    must: bool = False
    share: float = 1.0


@dataclass(frozen=True)
class WindowAhead:
    """When the tool may be pulled: on which day from today, and how long the press does not want it then. [days]

    `shots` are counts of those made until then, the fewest first, each as likely as the others. [shots]
    """

    name: str
    day: int
    shots: tuple[float, ...]
    gap_days: int = 0

    @property
    def mean_shots(self) -> float:
        """Return the shots that are to be expected until then."""
        return sum(self.shots) / len(self.shots)


@dataclass(frozen=True)
class Sum:
    """What a visit costs, by its terms. [money]"""

    strip: float
    bench: float
    outside: float
    downtime: float
    steel: float

    @property
    def whole(self) -> float:
        """Return what the visit costs in all."""
        return self.strip + self.bench + self.outside + self.downtime + self.steel


@dataclass(frozen=True)
class Along:
    """Whether a face goes along, and why: another visit saved against life given away. [money]"""

    key: int
    goes: bool
    visit_saved: float
    given_away: float

    @property
    def saves(self) -> float:
        """Return what going along saves; below nought it costs."""
        return self.visit_saved - self.given_away


@dataclass(frozen=True, eq=False)
class Choice:
    """One way: the window, the work of each face that goes along, and what that comes to.

    `chance` of a bad part before it; `bad_parts` and `waiting` before it; `shots` until it; `next_shots` from it to
    the next visit; `visits_rate`, `works_rate` and `waiting_rate` make up what a thousand shots cost. [1, money, shots]
    """

    window: WindowAhead
    style: str
    works: tuple[tuple[int, Doing], ...]
    paid: Sum
    chance: float
    bad_parts: float
    waiting: float
    shots: float
    next_shots: float
    visits_rate: float
    works_rate: float
    waiting_rate: float
    along: tuple[Along, ...] = ()

    @property
    def rate(self) -> float:
        """Return what a thousand shots cost in this way."""
        return self.visits_rate + self.works_rate + self.waiting_rate

    @property
    def hours(self) -> float:
        """Return the minutes of all its works as hours."""
        return sum(doing.minutes for _key, doing in self.works) / 60.0

    @property
    def cycle(self) -> float:
        """Return the shots from now to the visit after this one."""
        return self.shots + self.next_shots


@dataclass(frozen=True, eq=False)
class ToolAhead:
    """A tool as it is seen today: a grid of shots to come, rising from 0 [shots], its faces, and what things cost."""

    grid: Floats
    faces: tuple[FaceAhead, ...]
    terms: Terms
