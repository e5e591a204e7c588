"""Studies drawn: parts by person, ranges by person, and how far people who judge by eye agree."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shop.picture.svg import element, number, picture

WIDTH = 720.0
LEFT, BOTTOM = 54.0, 36.0
PLOT = 190.0
LETTER = 6.4  # what a letter takes, about, at the size of the legend
LEGEND_ROW = 20.0
APART = 13.0  # words of two rules that lie close
CELL = 74.0
NAMES = 110.0
# A person is told by the shape of the mark and by the dashes, never by a colour.
DASHES = (None, "6 3", "2 3", "8 3 2 3", "1 4", "12 4")


@dataclass(frozen=True)
class Rule:
    """A line across the chart with its words: a limit, or the centre."""

    at: float
    words: str
    is_limit: bool = True


@dataclass(frozen=True)
class StudyChart:
    """Values by part and person, `values[person][part]`; `marked` (part, person) are ringed, counted from 0.

    `text` is the text alternative; `comma` writes decimals so; a phone is drawn a smaller `width`.
    """

    parts: tuple[str, ...]
    people: tuple[str, ...]
    values: tuple[tuple[float, ...], ...]
    rules: tuple[Rule, ...]
    marked: tuple[tuple[int, int], ...]
    text: str
    comma: bool = False
    width: float = WIDTH


@dataclass(frozen=True)
class AgreementMatrix:
    """Kappa of each two who judged, `kappas[row][column]`, None where there is none; its own is that of repeats."""

    names: tuple[str, ...]
    kappas: tuple[tuple[float | None, ...], ...]
    text: str
    comma: bool = False


@dataclass(frozen=True)
class _Plot:
    chart: StudyChart
    top: float
    low: float
    high: float

    @property
    def right(self) -> float:
        """Return where the plot ends; the words of the rules stand beyond, where no line crosses them."""
        longest = max((len(rule.words) for rule in self.chart.rules), default=0)
        return self.chart.width - 10 - LETTER * longest

    def x(self, part: int) -> float:
        step = (self.right - LEFT) / len(self.chart.parts)
        return LEFT + step * (part + 0.5)

    def y(self, value: float) -> float:
        return self.top + PLOT * (self.high - value) / (self.high - self.low)


def study_chart(chart: StudyChart) -> str:
    """Return the chart as SVG."""
    legend, top = _legend(chart)
    shown = [value for row in chart.values for value in row] + [rule.at for rule in chart.rules]
    low, high = min(shown), max(shown)
    room = (high - low or abs(high) or 1.0) * 0.08
    plot = _Plot(chart, top, low - room, high + room)
    drawn = (
        legend, _axes(plot), *_rules(plot),
        *(_line(plot, person) for person in range(len(chart.people))),
        *(_ring(plot, part, person) for part, person in chart.marked),
    )  # fmt: skip
    return picture("study-chart", chart.width, top + PLOT + BOTTOM, chart.text, *drawn)


def agreement_matrix(matrix: AgreementMatrix) -> str:
    """Return the matrix as SVG: the fuller a square, the nearer its kappa is to 1; below nought it stays empty."""
    count = len(matrix.names)
    drawn = []
    for row, name in enumerate(matrix.names):
        middle = 26 + CELL * (row + 0.5)
        drawn.append(_words(_short(name, 15), x=NAMES - 8, y=middle + 4, text_anchor="end"))
        drawn.append(_words(_short(name, 11), x=NAMES + CELL * (row + 0.5), y=16, text_anchor="middle"))
        for column in range(count):
            drawn.append(_cell(matrix, row, column))
    side = CELL * count
    return picture("agreement-matrix", NAMES + side + 2, 28 + side, matrix.text, *drawn)


def _cell(matrix: AgreementMatrix, row: int, column: int) -> str:
    x, y = NAMES + CELL * column, 26 + CELL * row
    kappa = matrix.kappas[row][column]
    frame = element(
        "rect", class_="frame" + (" is-own" if row == column else ""), x=x, y=y, width=CELL, height=CELL,
        fill="none", stroke="currentColor", stroke_width=0.75,
    )  # fmt: skip
    words = "–" if kappa is None else _figure(kappa, 2, matrix.comma)
    between = f"{matrix.names[row]} – {matrix.names[column]}" if row != column else matrix.names[row]
    title = element("title", words=f"{between}: {words}")
    bar = ""
    if kappa is not None and kappa > 0:
        height = (CELL - 8) * min(kappa, 1.0)
        bar = element("rect", class_="full", x=x + 4, y=y + CELL - 4 - height, width=CELL - 8, height=height,
                      fill="currentColor", fill_opacity=0.18)  # fmt: skip
    said = _words(words, class_="kappa", x=x + CELL / 2, y=y + CELL / 2 + 5, text_anchor="middle", font_size=15.0)
    return element("g", title, bar, frame, said)


def _legend(chart: StudyChart) -> tuple[str, float]:
    """Return the names with their marks, and where the plot begins below them."""
    x, y = LEFT, 12.0
    drawn = []
    for person, name in enumerate(chart.people):
        words = _short(name, 24)
        wide = 34 + LETTER * len(words) + 14
        if x > LEFT and x + wide > chart.width:
            x, y = LEFT, y + LEGEND_ROW
        drawn.append(_stroke(f"M{number(x)} {number(y)}h28", person))
        drawn.append(_mark(person, x + 14, y))
        drawn.append(_words(words, x=x + 34, y=y + 4))
        x += wide
    return "".join(drawn), y + 16


def _axes(plot: _Plot) -> str:
    chart = plot.chart
    base = plot.top + PLOT
    drawn = []
    ticks = list(_ticks(plot.low, plot.high))
    places = max(0, -math.floor(math.log10(ticks[1] - ticks[0]) + 1e-9)) if len(ticks) > 1 else 2
    for tick in ticks:
        y = plot.y(tick)
        drawn.append(
            element("path", class_="grid", d=f"M{number(LEFT)} {number(y)}H{number(plot.right)}", fill="none",
                    stroke="currentColor", stroke_opacity=0.2)
        )  # fmt: skip
        words = _figure(tick, places, chart.comma)
        drawn.append(_words(words, class_="soft", x=LEFT - 6, y=y + 4, text_anchor="end"))
    step = plot.x(1) - plot.x(0) if len(chart.parts) > 1 else chart.width
    longest = max(len(_short(part, 8)) for part in chart.parts)
    every = max(1, math.ceil((LETTER * longest + 6) / step))
    for part, name in enumerate(chart.parts):
        if part % every == 0:
            words = _short(name, 8)
            drawn.append(_words(words, class_="soft", x=plot.x(part), y=base + 16, text_anchor="middle"))
    axis = f"M{number(LEFT)} {number(plot.top)}V{number(base)}H{number(plot.right)}"
    drawn.append(element("path", class_="axis", d=axis, fill="none", stroke="currentColor"))
    return "".join(drawn)


def _rules(plot: _Plot) -> Iterator[str]:
    free = math.inf
    for rule in sorted(plot.chart.rules, key=lambda one: one.at):
        y = plot.y(rule.at)
        yield element(
            "path", class_="limit" if rule.is_limit else "centre", fill="none", stroke="currentColor",
            d=f"M{number(LEFT)} {number(y)}H{number(plot.right)}",
            stroke_dasharray="9 4" if rule.is_limit else None, stroke_width=1.25 if rule.is_limit else 0.75,
        )  # fmt: skip
        free = min(y + 4, free)
        yield _words(rule.words, class_="soft", x=plot.right + 6, y=free)
        free -= APART


def _line(plot: _Plot, person: int) -> str:
    points = [(plot.x(part), plot.y(value)) for part, value in enumerate(plot.chart.values[person])]
    path = "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)
    return _stroke(path, person) + "".join(_mark(person, x, y) for x, y in points)


def _stroke(path: str, person: int) -> str:
    return element("path", class_=f"person person-{person % 6}", d=path, fill="none", stroke="currentColor",
                   stroke_dasharray=DASHES[person % len(DASHES)])  # fmt: skip


def _mark(person: int, x: float, y: float) -> str:
    at = f"M{number(x)} {number(y)}"
    shapes = (
        f"{at}m-4 0a4 4 0 1 0 8 0a4 4 0 1 0 -8 0Z",
        f"{at}m-4 -4h8v8h-8Z",
        f"{at}m0 -5l5 9h-10Z",
        f"{at}m0 -5.5l5 5.5l-5 5.5l-5 -5.5Z",
        f"{at}m0 5l5 -9h-10Z",
        f"{at}m-4 -4l8 8m0 -8l-8 8",
    )
    filled = " is-filled" if person % 2 == 0 else ""
    return element("path", class_=f"mark-of{filled}", d=shapes[person % len(shapes)], fill="none",
                   stroke="currentColor", stroke_width=1.5)  # fmt: skip


def _ring(plot: _Plot, part: int, person: int) -> str:
    words = f"{plot.chart.people[person]}, {plot.chart.parts[part]}"
    return element(
        "circle", element("title", words=words), class_="marked", cx=plot.x(part),
        cy=plot.y(plot.chart.values[person][part]), r=9, fill="none", stroke="currentColor", stroke_width=2.0,
    )  # fmt: skip


def _ticks(low: float, high: float) -> Iterator[float]:
    """Yield a few round numbers between the ends."""
    raw = (high - low) / 7
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * times for times in (1, 2, 5, 10) if size * times >= raw)
    for count in range(math.ceil(low / step - 1e-9), math.floor(high / step + 1e-9) + 1):
        yield count * step


def _figure(value: float, places: int, comma: bool) -> str:
    written = f"{value:.{places}f}"
    written = written.lstrip("-") if float(written) == 0 else written.replace("-", "−")
    return written.replace(".", ",") if comma else written


def _short(name: str, most: int) -> str:
    return name if len(name) <= most else name[: most - 1] + "…"


def _words(words: str, class_: str | None = None, **where: str | float) -> str:
    return element("text", words=words, class_=class_, fill="currentColor", **{"font_size": 12.0, **where})
