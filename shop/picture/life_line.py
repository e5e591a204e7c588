"""A history as one line of time: the lives of a finish, the work between them, inspections, damage, moves."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from shop.picture.svg import element, number, picture

WIDTH = 720.0
LEFT, END = 96.0, 8.0  # room for the names, and for half a mark at the end
NARROW = 480.0  # below this the rows go without their names
ROW = 34.0
HEAD = 22.0
ROOM = 78.0  # what the words of a mark take where a narrow screen writes them large

Place = Callable[[float], float]


@dataclass(frozen=True)
class Life:
    """A finish life from one place of the time axis to another, in days; `end` None is still running."""

    begin: float
    end: float | None
    text: str


@dataclass(frozen=True)
class Happening:
    """Something at one time, in days. `kind` is work, seen, off spec, damage or moved."""

    at: float
    kind: str
    text: str


@dataclass(frozen=True)
class LifeRow:
    """One line of time: a face or an insert with its lives and what happened."""

    name: str
    lives: tuple[Life, ...] = ()
    happenings: tuple[Happening, ...] = ()


@dataclass(frozen=True)
class LifeLine:
    """Rows over the same days, with the marks of the axis (day, words); a phone is drawn a smaller `width`."""

    begin: float
    end: float
    rows: tuple[LifeRow, ...]
    marks: tuple[tuple[float, str], ...] = ()
    text: str = ""
    width: float = WIDTH


def life_line(line: LifeLine) -> str:
    """Return the lines as SVG."""
    span = max(line.end - line.begin, 1e-9)
    named = line.width >= NARROW
    left, right = LEFT if named else END, line.width - END

    def at(day: float) -> float:
        return left + (min(max(day, line.begin), line.end) - line.begin) / span * (right - left)

    height = HEAD + ROW * max(len(line.rows), 1)
    axis = "".join(
        _mark(x, words, height) for x, words in _spaced([(at(day), words) for day, words in line.marks], right)
    )
    rows = "".join(_row(row, HEAD + ROW * place, at, named) for place, row in enumerate(line.rows))
    return picture("life-line", line.width, height, line.text, axis, rows)


def _spaced(marks: list[tuple[float, str]], right: float) -> Iterator[tuple[float, str]]:
    """Yield the marks, without their words where these would run into the ones before or out of the drawing."""
    free = 0.0
    for x, words in marks:
        fits = x >= free and x + ROOM <= right
        free = x + ROOM if fits else free
        yield x, words if fits else ""


def _mark(x: float, words: str, height: float) -> str:
    rule = element(
        "path",
        class_="axis",
        d=f"M{number(x)} 16V{number(height)}",
        stroke="currentColor",
        stroke_opacity=0.35,
        fill="none",
    )
    if not words:
        return rule
    return rule + element("text", words=words, class_="soft", x=x, y=12, font_size=11.0, fill="currentColor")


def _row(row: LifeRow, top: float, at: Place, named: bool) -> str:
    middle = top + ROW / 2
    name = row.name if len(row.name) <= 15 else row.name[:14] + "…"
    drawn = [element("text", words=name, x=0, y=middle + 4, font_size=12.0, fill="currentColor")] if named else []
    for life in row.lives:
        x0 = at(life.begin)
        x1 = at(float("inf")) if life.end is None else at(life.end)
        drawn.append(
            element(
                "rect",
                element("title", words=life.text),
                class_="life" + (" is-running" if life.end is None else ""),
                x=x0,
                y=middle - 6,
                width=max(x1 - x0, 1.0),
                height=12,
                fill="currentColor",
                fill_opacity=0.1,
                stroke="currentColor",
            )
        )
    drawn.extend(_happening(one, at(one.at), middle) for one in row.happenings)
    return "".join(drawn)


def _happening(one: Happening, x: float, y: float) -> str:
    title = element("title", words=one.text)
    if one.kind == "work":
        return element("rect", title, class_="work", x=x - 2.5, y=y - 11, width=5, height=22, fill="currentColor")
    shapes = {
        "seen": f"M{number(x)} {number(y - 3)}v6",
        "off spec": f"M{number(x - 4)} {number(y - 4)}l8 8m0 -8l-8 8",
        "damage": f"M{number(x + 2)} {number(y - 9)}l-4 8h5l-4 9",
        "moved": f"M{number(x - 4)} {number(y)}h8m-3 -3l3 3l-3 3",
    }
    css = "seen" if one.kind in ("seen", "moved") else "harmed"
    return element(
        "path",
        title,
        class_=css,
        d=shapes.get(one.kind, shapes["seen"]),
        fill="none",
        stroke="currentColor",
        stroke_width=2.0 if css == "harmed" else 1.25,
    )
