"""Tools along the weeks ahead: a thin ruled bar for each run that is planned, a mark where a face reaches its limit."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from shop.picture.svg import element, picture

ROW, TOP, LEFT = 26.0, 22.0, 84.0
# Marks nearer than this lie over each other: they are set one above the other instead.
APART, LEVELS = 7.0, 3
# What is off spec or called stands at today's line, as a cross; what is due later as a wedge.
NOW, LATER = "now", "later"


@dataclass(frozen=True)
class PlanBar:
    """A run from one day to another, counted from today, and its words."""

    first: float
    last: float
    words: str


@dataclass(frozen=True)
class PlanMark:
    """A face and the day on which the chance of its limit is 10 %."""

    day: float
    words: str
    href: str = ""
    kind: str = LATER


@dataclass(frozen=True)
class PlanRow:
    """One tool with its runs and its faces."""

    name: str
    href: str = ""
    bars: tuple[PlanBar, ...] = ()
    marks: tuple[PlanMark, ...] = ()


@dataclass(frozen=True)
class RunPlan:
    """Everything on the picture: rows, days shown, week marks (day, words), until when is looked closely, the whole."""

    text: str
    rows: tuple[PlanRow, ...]
    days: float
    weeks: tuple[tuple[float, str], ...]
    near: float = 28.0
    width: float = 1160.0
    row: float = ROW


def run_plan(plan: RunPlan) -> str:
    """Return the plan as SVG; names and marks lead on where they have an address."""
    height = TOP + plan.row * len(plan.rows) + 8
    scale = (plan.width - LEFT - 8) / max(plan.days, 1.0)

    def x(day: float) -> float:
        return LEFT + min(max(day, 0.0), plan.days) * scale

    inside = list(_weeks(plan, x, height))
    for number, row in enumerate(plan.rows):
        inside += _row(row, TOP + plan.row * number, plan, x)
    return picture("run-plan", plan.width, height, plan.text, *inside, role="group")


def _weeks(plan: RunPlan, x: Callable[[float], float], height: float) -> Iterator[str]:
    yield element("rect", class_="near", x=x(0), y=TOP - 4, width=x(plan.near) - x(0), height=height - TOP - 2)
    for day, words in plan.weeks:
        yield element("line", class_="week", x1=x(day), x2=x(day), y1=TOP - 4, y2=height - 6)
        yield element("text", class_="words", x=x(day) + 3, y=13, font_size=11, words=words)


def _row(row: PlanRow, y: float, plan: RunPlan, x: Callable[[float], float]) -> list[str]:
    middle = y + plan.row / 2
    name = element("text", class_="name", x=0, y=middle + 4, font_size=12, words=row.name)
    parts = [element("a", name, href=row.href) if row.href else name]
    parts.append(element("line", class_="week", x1=LEFT, x2=x(plan.days), y1=middle + 6, y2=middle + 6))
    for bar in row.bars:
        width = max(x(bar.last) - x(bar.first), 2.0)
        words = element("title", words=bar.words)
        parts.append(element("rect", words, class_="run", x=x(bar.first), y=middle + 3, width=width, height=6))
    level, last = 0, -1e9
    for mark in sorted(row.marks, key=lambda one: one.day):
        at = x(mark.day)
        level = (level + 1) % LEVELS if at - last < APART else 0
        last = at
        parts.append(_mark(mark, at, middle + 1 - 5 * level))
    return parts


def _mark(mark: PlanMark, at: float, y: float) -> str:
    title = element("title", words=mark.words)
    if mark.kind == NOW:
        shape = element("path", title, class_="due-now", d=f"M{at - 4:.1f} {y - 8:.1f}l8 8m0 -8l-8 8")
    else:
        shape = element("path", title, class_="due", d=f"M{at:.1f} {y:.1f}l4.5 -8h-9z")
    return element("a", shape, href=mark.href) if mark.href else shape
