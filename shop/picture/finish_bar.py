"""The finish bar: where in its band a face is, which way it goes, and how fast."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.picture.svg import element, hatching, number, picture

WIDTH, HEIGHT = 240.0, 30.0
FIGURES_HEIGHT = 12.0
# The band, where both limits are set, takes the middle; what lies outside still has room to be seen.
LEFT, RIGHT = 48.0, 192.0
EDGE = 5.0
TOP, BOTTOM = 11.0, 25.0
MIDDLE = (TOP + BOTTOM) / 2
ARROW_Y = 5.0
EXPANDED = 2.0  # standard uncertainties that a whisker reaches to either side


@dataclass(frozen=True)
class Bar:
    """One parameter of one face, all in one unit; a limit that is not set is an open end.

    `guard` is the width of the zone inside each limit, `uncertainty` the standard uncertainty of `value`,
    `drift` what the next run is expected to add (None: not known). `text` is the text alternative.
    `lower_words` and `upper_words` are written under the limits where the page wants figures.
    """

    lower: float | None
    upper: float | None
    guard: float
    value: float | None
    uncertainty: float
    drift: float | None
    unit: str
    text: str
    lower_words: str = ""
    upper_words: str = ""

    @property
    def is_out(self) -> bool:
        """Return whether the level is beyond a limit."""
        if self.value is None:
            return False
        under = self.lower is not None and self.value < self.lower
        return under or (self.upper is not None and self.value > self.upper)


@dataclass(frozen=True)
class _Scale:
    start: float
    per_unit: float

    def at(self, value: float) -> float:
        return EDGE + (value - self.start) * self.per_unit

    def held(self, value: float) -> float:
        return min(max(self.at(value), EDGE), WIDTH - EDGE)

    def off(self, value: float) -> bool:
        return not (EDGE - 0.01 <= self.at(value) <= WIDTH - EDGE + 0.01)


def finish_bar(bar: Bar) -> str:
    """Return the bar as SVG."""
    scale = _scale(bar)
    figures = bool(bar.lower_words or bar.upper_words)
    return picture(
        "finish-bar" + (" is-out" if bar.is_out else ""),
        WIDTH,
        HEIGHT + (FIGURES_HEIGHT if figures else 0.0),
        bar.text,
        _line(),
        _band(bar, scale),
        _guards(bar, scale),
        _level(bar, scale),
        _harm(bar, scale),
        _figures(bar, scale) if figures else "",
    )


def _scale(bar: Bar) -> _Scale:
    """Return the scale: both limits fix it; with one, the open side reaches to nought or past the value."""
    if bar.lower is not None and bar.upper is not None:
        per_unit = (RIGHT - LEFT) / (bar.upper - bar.lower)
        return _Scale(bar.lower - (LEFT - EDGE) / per_unit, per_unit)
    if bar.upper is not None:
        reach = bar.upper if bar.upper > 0 else abs(bar.upper) + 1.0
        if bar.value is not None and bar.value < bar.upper - reach:
            reach = (bar.upper - bar.value) * 1.25
        start, end = bar.upper - reach, bar.upper + reach * (WIDTH - EDGE - RIGHT) / (RIGHT - EDGE)
        return _Scale(start, (WIDTH - 2 * EDGE) / (end - start))
    if bar.lower is not None:
        reach = max(abs(bar.lower) * 0.25, ((bar.value or bar.lower) - bar.lower) * 1.5, abs(bar.guard) * 4, 1e-9)
        start = bar.lower - reach * (LEFT - EDGE) / (WIDTH - EDGE - LEFT)
        return _Scale(start, (WIDTH - 2 * EDGE) / (bar.lower + reach - start))
    around = bar.value or 0.0
    reach = abs(around) or 1.0
    return _Scale(around - reach, (WIDTH - 2 * EDGE) / (2 * reach))


def _ends(bar: Bar, scale: _Scale) -> tuple[float, float]:
    left = EDGE if bar.lower is None else scale.at(bar.lower)
    right = WIDTH - EDGE if bar.upper is None else scale.at(bar.upper)
    return left, right


def _line() -> str:
    return element(
        "path",
        class_="line",
        d=f"M{number(EDGE)} {number(BOTTOM)}H{number(WIDTH - EDGE)}",
        fill="none",
        stroke="currentColor",
        stroke_opacity=0.5,
    )


def _band(bar: Bar, scale: _Scale) -> str:
    """Return the ruled block. A limit has an edge; an open end has none and its rules break into dashes."""
    if bar.lower is None and bar.upper is None:
        return ""
    left, right = _ends(bar, scale)
    block = element(
        "rect",
        class_="band",
        x=left,
        y=TOP,
        width=right - left,
        height=BOTTOM - TOP,
        fill="currentColor",
        fill_opacity=0.1,
    )
    rules = "".join(
        element(
            "path",
            class_="ruling",
            d=f"M{number(left)} {number(y)}H{number(right)}",
            fill="none",
            stroke="currentColor",
            stroke_width=0.6,
            stroke_opacity=0.6,
        )
        for y in (TOP, MIDDLE, BOTTOM)
    )
    return block + rules + _edges(bar, left, right)


def _edges(bar: Bar, left: float, right: float) -> str:
    """Return the edge of each limit that is set, and the open end of one that is not."""
    edges = "".join(
        f"M{number(x)} {number(TOP - 2)}V{number(BOTTOM + 2)}"
        for x, limit in ((left, bar.lower), (right, bar.upper))
        if limit is not None
    )
    opened = "".join(
        f"M{number(x)} {number(MIDDLE - 4)}l{number(4 * way)} 4l{number(-4 * way)} 4"
        for x, way, limit in ((left + 4, -1, bar.lower), (right - 4, 1, bar.upper))
        if limit is None
    )
    drawn = [element("path", class_="edge", d=edges, fill="none", stroke="currentColor", stroke_width=1.5)]
    if opened:
        drawn.append(element("path", class_="line", d=opened, fill="none", stroke="currentColor", stroke_opacity=0.5))
    return "".join(drawn)


def _guards(bar: Bar, scale: _Scale) -> str:
    """Return the hatched zones inside the limits; zones that meet leave no room that is proven."""
    wide = bar.guard * scale.per_unit
    if wide < 0.5:
        return ""
    left, right = _ends(bar, scale)
    spans = []
    if bar.lower is not None:
        spans.append((left, min(left + wide, right)))
    if bar.upper is not None:
        spans.append((max(right - wide, left), right))
    if len(spans) == 2 and spans[0][1] >= spans[1][0]:
        spans = [(left, right)]
    hatch = "".join(hatching(x0, x1, TOP, BOTTOM) for x0, x1 in spans)
    return element(
        "path", class_="hatch", d=hatch, fill="none", stroke="currentColor", stroke_width=1, stroke_opacity=0.7
    )


def _level(bar: Bar, scale: _Scale) -> str:
    """Return the tick with its whisker; beyond a limit it is joined to that limit and framed."""
    if bar.value is None or not math.isfinite(bar.value):
        return ""
    x = scale.held(bar.value)
    drawn = []
    reach = EXPANDED * bar.uncertainty
    if reach * scale.per_unit >= 1.0:
        x0, x1 = scale.held(bar.value - reach), scale.held(bar.value + reach)
        whisker = f"M{number(x0)} {number(MIDDLE)}H{number(x1)}"
        whisker += "".join(f"M{number(end)} {number(MIDDLE - 3)}v6" for end in (x0, x1))
        drawn.append(element("path", class_="whisker", d=whisker, fill="none", stroke="currentColor"))
    if bar.is_out:
        drawn.append(_joined(bar, scale, x))
    drawn.append(
        element(
            "path",
            class_="tick-mark",
            d=f"M{number(x)} {number(TOP - 3)}V{number(BOTTOM + 3)}",
            fill="none",
            stroke="currentColor",
            stroke_width=3,
        )
    )
    if scale.off(bar.value):
        way = 1 if x > WIDTH / 2 else -1
        beyond = "".join(
            f"M{number(x - way * (6 + gap))} {number(MIDDLE - 4)}l{way * 4} 4l{-way * 4} 4" for gap in (6, 11)
        )
        drawn.append(element("path", class_="whisker", d=beyond, fill="none", stroke="currentColor"))
    return "".join(drawn)


def _joined(bar: Bar, scale: _Scale, x: float) -> str:
    """Return the frame around a level that is out, and the dashes that join it to the limit it has passed."""
    limit = bar.lower if bar.lower is not None and bar.value is not None and bar.value < bar.lower else bar.upper
    edge = scale.held(limit) if limit is not None else x
    dashes = element(
        "path",
        class_="outside",
        d=f"M{number(edge)} {number(MIDDLE)}H{number(x)}",
        fill="none",
        stroke="currentColor",
        stroke_dasharray="3 2",
    )
    frame = element(
        "rect",
        class_="outside",
        x=x - 4.5,
        y=TOP - 3.5,
        width=9,
        height=BOTTOM - TOP + 7,
        fill="none",
        stroke="currentColor",
        stroke_width=1.5,
    )
    return dashes + frame


def _harm(bar: Bar, scale: _Scale) -> str:
    """Return the arrow above the band, as long as the drift over the next run; nothing where it cannot be seen."""
    if bar.value is None or bar.drift is None or not math.isfinite(bar.drift):
        return ""
    x0, x1 = scale.held(bar.value), scale.held(bar.value + bar.drift)
    if abs(x1 - x0) < 1.0:
        return ""
    way = 1.0 if x1 > x0 else -1.0
    back = x1 - way * min(5.0, abs(x1 - x0))
    shaft = element(
        "path",
        class_="harm",
        d=f"M{number(x0)} {number(ARROW_Y + 3)}V{number(ARROW_Y)}H{number(back)}",
        fill="none",
        stroke="currentColor",
        stroke_width=1.75,
    )
    head = element(
        "path",
        class_="harm-head",
        d=f"M{number(x1)} {number(ARROW_Y)}L{number(back)} {number(ARROW_Y - 3.5)}V{number(ARROW_Y + 3.5)}Z",
        fill="currentColor",
    )
    return shaft + head


def _figures(bar: Bar, scale: _Scale) -> str:
    left, right = _ends(bar, scale)
    words = ((left, bar.lower_words, bar.lower), (right, bar.upper_words, bar.upper))
    return "".join(
        element(
            "text",
            words=text,
            class_="soft",
            x=x,
            y=HEIGHT + FIGURES_HEIGHT - 2,
            text_anchor="middle",
            font_size="10",
            fill="currentColor",
        )
        for x, text, limit in words
        if text and limit is not None
    )
