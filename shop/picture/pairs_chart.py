"""Two gauges compared in pairs: each difference over the mean of its pair, with the mean and the limits."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shop.picture.svg import element, number, picture

WIDTH = 620.0
LEFT, RIGHT, TOP, BOTTOM = 58.0, 12.0, 12.0, 44.0
PLOT = 200.0


@dataclass(frozen=True)
class PairsChart:
    """Differences over means, in one unit, with the words of the two axes.

    `offset` is the mean difference, `lower` and `upper` bound most single differences; `text` is the text alternative;
    `comma` writes decimals so; a phone is drawn a smaller `width`.
    """

    means: tuple[float, ...]
    differences: tuple[float, ...]
    offset: float
    lower: float
    upper: float
    across: str
    up: str
    mean_words: str
    limit_words: str
    text: str
    comma: bool = False
    width: float = WIDTH


@dataclass(frozen=True)
class _Scale:
    low: float
    high: float
    begins: float
    ends: float

    def at(self, value: float) -> float:
        return self.begins + (self.ends - self.begins) * (value - self.low) / (self.high - self.low)


def pairs_chart(chart: PairsChart) -> str:
    """Return the chart as SVG."""
    across = _scale(chart.means, LEFT + 8, chart.width - RIGHT - 8)
    up = _scale((*chart.differences, chart.lower, chart.upper, 0.0), TOP + PLOT, TOP)
    drawn = (
        _axes(chart, across, up),
        _rule(chart, up.at(0.0), "nought", None, ""),
        _rule(chart, up.at(chart.upper), "limit", "9 4", chart.limit_words),
        _rule(chart, up.at(chart.lower), "limit", "9 4", ""),
        _rule(chart, up.at(chart.offset), "mean", None, chart.mean_words),
        *(
            element("circle", class_="pair", cx=across.at(mean), cy=up.at(difference), r=4.5, fill="none",
                    stroke="currentColor", stroke_width=1.5)
            for mean, difference in zip(chart.means, chart.differences, strict=True)
        ),
    )  # fmt: skip
    return picture("pairs-chart", chart.width, TOP + PLOT + BOTTOM, chart.text, *drawn)


def _scale(values: tuple[float, ...], begins: float, ends: float) -> _Scale:
    low, high = min(values), max(values)
    room = (high - low or abs(high) or 1.0) * 0.08
    return _Scale(low - room, high + room, begins, ends)


def _axes(chart: PairsChart, across: _Scale, up: _Scale) -> str:
    base = TOP + PLOT
    drawn = []
    for value, words in _ticks(up, 6, chart.comma):
        y = up.at(value)
        drawn.append(_line("grid", f"M{number(LEFT)} {number(y)}H{number(chart.width - RIGHT)}"))
        drawn.append(_words(words, class_="soft", x=LEFT - 6, y=y + 4, text_anchor="end"))
    for value, words in _ticks(across, 7 if chart.width > 450 else 4, chart.comma):
        x = across.at(value)
        drawn.append(_line("axis", f"M{number(x)} {number(base)}v4"))
        drawn.append(_words(words, class_="soft", x=x, y=base + 17, text_anchor="middle"))
    drawn.append(_line("axis", f"M{number(LEFT)} {number(TOP)}V{number(base)}H{number(chart.width - RIGHT)}"))
    drawn.append(_words(chart.across, class_="soft", x=chart.width - RIGHT, y=base + 36, text_anchor="end"))
    drawn.append(_words(chart.up, class_="soft", x=LEFT + 4, y=base + 36))
    return "".join(drawn)


def _rule(chart: PairsChart, y: float, kind: str, dashes: str | None, words: str) -> str:
    path = f"M{number(LEFT)} {number(y)}H{number(chart.width - RIGHT)}"
    line = element("path", class_=kind, d=path, fill="none", stroke="currentColor", stroke_dasharray=dashes)
    if not words:
        return line
    over = y - 5 if y - 16 > TOP else y + 13
    return line + _words(words, class_="rule-words", x=chart.width - RIGHT - 2, y=over, text_anchor="end")


def _line(kind: str, path: str) -> str:
    return element("path", class_=kind, d=path, fill="none", stroke="currentColor")


def _ticks(scale: _Scale, most: int, comma: bool) -> Iterator[tuple[float, str]]:
    """Yield a few round numbers between the ends, with their words."""
    raw = (scale.high - scale.low) / most
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * times for times in (1, 2, 5, 10) if size * times >= raw)
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    for count in range(math.ceil(scale.low / step - 1e-9), math.floor(scale.high / step + 1e-9) + 1):
        written = f"{count * step:.{places}f}".replace("-", "−")
        yield count * step, written.replace(".", ",") if comma else written


def _words(words: str, class_: str, **where: str | float) -> str:
    return element("text", words=words, class_=class_, fill="currentColor", **{"font_size": 12.0, **where})
