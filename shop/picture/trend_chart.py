"""The trend of one face and parameter: readings, limits with guard zones, the line, and where it is heading.

The chart is described with Altair and drawn as SVG by vl-convert. What comes out is then made ours: colours become
classes of the style sheet (the attributes stay for paper), and styles and ids go, since pages allow no inline style
and show several charts at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

import altair as alt
import vl_convert
from altair.utils.schemapi import debug_mode
from font_source_sans_pro import font_directory  # type: ignore[import-untyped]

FONT = "Source Sans Pro"
THIN_SPACE = "\u2009"
INK, BLUE, RULE, SOFT, SHEET = "#26282b", "#1d3f72", "#d3cbb9", "#565a5f", "#f7f3ea"
CLASSES = {INK: "ink", BLUE: "blue", RULE: "rule", SOFT: "soft", SHEET: "sheet"}
SVG = "{http://www.w3.org/2000/svg}"
UNWANTED = ("style", "id", "clip-path", "aria-label", "aria-roledescription", "aria-hidden", "role", "xml:space")
EXPANDED = 2.0  # standard uncertainties a whisker reaches to either side
KEPT_CHARTS = 256
KEPT_POINTS = 400
# Above so many readings the dots are drawn small, so that they can still be told apart.
MANY_POINTS, DOT, SMALL_DOT = 60, 46, 14
LETTER = 5.4  # pixels that a letter of 11 px takes, near enough to keep words inside the picture


@dataclass(frozen=True)
class Point:
    """One reading: the shots of the insert then, the value and its standard uncertainty in one unit."""

    shots: float
    value: float
    uncertainty: float = 0.0
    off_spec: bool = False
    words: str = ""
    asked: bool = False


@dataclass(frozen=True)
class FanAt:
    """What is expected at a count of shots: the line, and the edges that hold 80 % of what may come."""

    shots: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Mark:
    """Something along the shots that is named: at a value, and where it was moved from one, where to."""

    shots: float
    value: float
    words: str
    moved_to: float | None = None


@dataclass(frozen=True)
class LifeSpan:
    """A finish life along the shots of its insert, named by the work that began it."""

    begin: float
    end: float | None
    name: str


@dataclass(frozen=True)
class TrendPicture:
    """Everything on one chart. Values are in the reader's unit already; words are in the reader's language."""

    text: str
    shots_title: str
    value_title: str
    points: tuple[Point, ...]
    lower: float | None = None
    upper: float | None = None
    guard: float = 0.0
    fan: tuple[FanAt, ...] = ()
    own: tuple[tuple[float, float], ...] = ()
    steps: tuple[Mark, ...] = ()
    windows: tuple[Mark, ...] = ()
    reached: tuple[Mark, ...] = ()
    lives: tuple[LifeSpan, ...] = ()
    now: float | None = None
    now_words: str = ""
    limit_words: tuple[str, str] = ("", "")
    decimal_comma: bool = False
    width: int = 640
    height: int = 240


@lru_cache(maxsize=KEPT_CHARTS)
def trend_chart(picture: TrendPicture) -> str:
    """Return the chart as SVG. The same content is drawn once and kept while the process lives."""
    vl_convert.register_font_directory(font_directory)
    with debug_mode(False):  # the description is ours and tested: checking it again takes longer than drawing it
        described = _chart(picture).to_dict(validate=False)
    drawn = vl_convert.vegalite_to_svg(
        described,
        format_locale={
            "decimal": "," if picture.decimal_comma else ".",
            "thousands": THIN_SPACE,
            "grouping": [3],
            "currency": ["", ""],
        },
    )
    return ours(drawn, picture.text)


def ours(svg: str, title: str) -> str:
    """Return a drawn chart without styles and ids, its colours as classes, with a text alternative."""
    root = ElementTree.fromstring(svg)  # noqa: S314 - drawn by ourselves a moment ago
    for one in list(root.iter()):
        if one.get("aria-roledescription") == "point" and one.get("aria-label"):
            # What a dot stands for, to whoever points at it or has it read.
            told = ElementTree.SubElement(one, f"{SVG}title")
            told.text = one.get("aria-label")
        for name in UNWANTED:
            one.attrib.pop(name, None)
        if one.get("class", "").startswith(("mark-", "background", "foreground", "root", "role-")):
            del one.attrib["class"]
        inks = {what: CLASSES.get(one.get(what, "").lower()) for what in ("fill", "stroke")}
        named = [f"{what}-{ink}" for what, ink in inks.items() if ink]
        if named:
            one.set("class", " ".join(named))
    for holder in list(root.iter()):
        for child in [one for one in holder if one.tag in (f"{SVG}defs", f"{SVG}clipPath")]:
            holder.remove(child)
    width, height = root.get("width", "640"), root.get("height", "240")
    root.attrib.clear()
    root.attrib.update({"class": "drawing trend-chart", "viewBox": f"0 0 {width} {height}"})
    root.attrib.update({"role": "img", "focusable": "false"})
    words = ElementTree.Element(f"{SVG}title")
    words.text = title
    root.insert(0, words)
    for one in root.iter():
        # Names without their namespace: which prefix stands for it is a table that other libraries write in as well.
        one.tag = str(one.tag).removeprefix(SVG)
    root.set("xmlns", SVG.strip("{}"))
    return ElementTree.tostring(root, encoding="unicode")


def thinned(points: tuple[Point, ...], columns: int) -> tuple[Point, ...]:
    """Return the points that can be told apart: of each column of the picture the lowest, the highest and the last."""
    if len(points) <= columns:
        return points
    first, last = min(one.shots for one in points), max(one.shots for one in points)
    width = max(last - first, 1e-9) / (columns / 3)
    column: dict[int, list[Point]] = {}
    for one in points:
        column.setdefault(int((one.shots - first) / width), []).append(one)
    kept = {
        one
        for held in column.values()
        for one in (min(held, key=lambda p: p.value), max(held, key=lambda p: p.value), held[-1])
    }
    return tuple(sorted(kept, key=lambda one: one.shots))


def _chart(picture: TrendPicture) -> Any:
    x_scale, y_scale = (
        alt.Scale(domain=_reach_of_shots(picture), nice=False),
        alt.Scale(domain=_reach(picture), nice=True),
    )
    x = alt.X("x:Q", title=picture.shots_title, scale=x_scale, axis=alt.Axis(format=",.0f", tickCount=6))
    y = alt.Y("y:Q", title=picture.value_title, scale=y_scale, axis=alt.Axis(tickCount=6))
    layers = [
        *_zones(picture, x, y),
        *_lives(picture, x, y),
        *_fan(picture, x, y),
        *_own(picture, x, y),
        *_windows(picture, x, y),
        *_readings(picture, x, y),
        *_steps(picture, x, y),
        *_asked(picture, x, y),
        *_reached(picture, x, y),
    ]
    chart = alt.layer(*layers).properties(width=picture.width, height=picture.height, background="transparent")
    return (
        chart.configure(font=FONT, padding=4)
        .configure_view(stroke=None)
        .configure_axis(
            labelColor=INK,
            titleColor=SOFT,
            domainColor=INK,
            tickColor=INK,
            gridColor=RULE,
            gridOpacity=0.5,
            labelFontSize=12,
            titleFontSize=12,
            titleFontWeight="normal",
            titleAnchor="end",
        )
    )


def _rows(rows: list[dict[str, Any]]) -> alt.Chart:
    return alt.Chart(alt.InlineData(values=rows))


def _named(rows: list[dict[str, Any]], x: alt.X, y: alt.Y, **mark: Any) -> Iterator[alt.Chart]:
    """Yield words with a rim of the ground around them, so that they can be read over dots and lines."""
    words = {"fontSize": 11, "font": FONT, **mark}
    rim = {**words, "color": SHEET, "stroke": SHEET, "strokeWidth": 4, "strokeJoin": "round"}
    for one in (rim, words):
        yield _rows(rows).mark_text(**one).encode(x=x, y=y, text="t:N")


def _zones(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    """Yield the guard zone and the rule of each limit."""
    begin, end = _reach_of_shots(picture)
    low, high = _reach(picture)
    for limit, way, words in ((picture.lower, 1, picture.limit_words[0]), (picture.upper, -1, picture.limit_words[1])):
        if limit is None:
            continue
        if picture.guard > 0:
            inner = min(max(limit + way * picture.guard, low), high)
            zone = [{"x": begin, "x2": end, "y": limit, "y2": inner}]
            yield _rows(zone).mark_rect(color=SOFT, opacity=0.16).encode(x=x, x2="x2:Q", y=y, y2="y2:Q")
        rule = _rows([{"x": begin, "x2": end, "y": limit}])
        yield rule.mark_rule(color=INK, strokeWidth=1.5).encode(x=x, x2="x2:Q", y=y)
        if words:
            label = _rows([{"x": begin, "y": limit, "t": words}])
            yield label.mark_text(
                align="left", dx=4, dy=-6 if way < 0 else 10, color=INK, fontSize=12, font=FONT
            ).encode(x=x, y=y, text="t:N")


def _lives(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    top = _reach(picture)[1]
    rows = [{"x": life.begin, "t": life.name} for life in picture.lives]
    if rows:
        yield _rows(rows).mark_rule(color=SOFT, strokeDash=[2, 3]).encode(x=x)
        named = _rows([{**row, "y": top} for row in rows])
        named = named.mark_text(align="left", dx=4, dy=4, color=SOFT, fontSize=11, font=FONT)
        yield named.encode(x=x, y=y, text="t:N")
    if picture.now is not None:
        low = _reach(picture)[0]
        row: list[dict[str, Any]] = [{"x": picture.now, "y": low, "t": picture.now_words}]
        yield _rows(row).mark_rule(color=BLUE, strokeWidth=1).encode(x=x)
        if picture.now_words:
            named = _rows(row).mark_text(align="right", dx=-4, dy=-6, color=BLUE, fontSize=11, font=FONT)
            yield named.encode(x=x, y=y, text="t:N")


def _fan(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    low, high = _reach(picture)
    shown = [one for one in picture.fan if low <= one.middle <= high]
    rows = [{"x": one.shots, "y": max(one.low, low), "y2": min(one.high, high), "m": one.middle} for one in shown]
    if rows:
        yield _rows(rows).mark_area(color=BLUE, opacity=0.16).encode(x=x, y=y, y2="y2:Q")
        middle = [{"x": row["x"], "y": row["m"]} for row in rows]
        yield _rows(middle).mark_line(color=BLUE, strokeWidth=1.75).encode(x=x, y=y)


def _readings(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    points = thinned(picture.points, KEPT_POINTS)
    many = len(points) > MANY_POINTS
    size, line = (SMALL_DOT, 1.0) if many else (DOT, 1.5)
    for off in (False, True):
        rows: list[dict[str, Any]] = [
            {
                "x": one.shots,
                "y": one.value,
                "lo": one.value - EXPANDED * one.uncertainty,
                "hi": one.value + EXPANDED * one.uncertainty,
                "t": one.words,
            }
            for one in points
            if one.off_spec is off
        ]
        if not rows:
            continue
        if any(row["hi"] > row["lo"] for row in rows):
            yield (
                _rows(rows)
                .mark_rule(color=INK, strokeWidth=1, opacity=0.35 if many else 0.7)
                .encode(x=x, y=alt.Y("lo:Q", title=picture.value_title, scale=y["scale"], axis=y["axis"]), y2="hi:Q")
            )
        mark = {"shape": "cross", "fill": INK, "angle": 45} if off else {"shape": "circle", "fill": SHEET}
        dots = _rows(rows).mark_point(size=size, stroke=INK, strokeWidth=line, filled=False, opacity=1, **mark)
        yield dots.encode(x=x, y=y, description="t:N")


def _own(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    """Yield the face's own line, thin and broken, as far as it stays in sight."""
    low, high = _reach(picture)
    rows = [{"x": shots, "y": min(max(value, low), high)} for shots, value in picture.own]
    if len(rows) > 1:
        yield _rows(rows).mark_line(color=SOFT, strokeWidth=1.25, strokeDash=[5, 3]).encode(x=x, y=y)


def _windows(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    """Yield the gaps in the press that lie ahead."""
    low, _high = _reach(picture)
    begin, end = _reach_of_shots(picture)
    rows = [{"x": one.shots, "y": low, "t": one.words} for one in picture.windows]
    if rows:
        yield _rows(rows).mark_rule(color=BLUE, strokeWidth=6, opacity=0.22).encode(x=x)
        first = picture.windows[0]
        room = picture.width * (end - first.shots) / (end - begin)
        align, dx = ("left", 6) if LETTER * len(first.words) < room else ("right", -6)
        # One line above the word at today's rule.
        yield from _named(rows[:1], x, y, align=align, dx=dx, dy=-20, color=BLUE)


def _steps(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    """Yield what all faces shared: from what was read to what counts."""
    rows = [{"x": one.shots, "y": one.value, "y2": one.moved_to, "t": one.words} for one in picture.steps]
    if rows:
        yield _rows(rows).mark_rule(color=SOFT, strokeWidth=2).encode(x=x, y=y, y2="y2:Q")
        ends = [{**row, "y": row["y2"]} for row in rows]
        yield _rows(ends).mark_point(shape="stroke", size=90, stroke=SOFT, strokeWidth=2, opacity=1).encode(x=x, y=y)
        yield from _named(rows, x, y, align="right", dx=-7, color=SOFT)


def _asked(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    """Yield a question mark beside each reading that somebody is asked about."""
    rows: list[dict[str, Any]] = [{"x": one.shots, "y": one.value, "t": "?"} for one in picture.points if one.asked]
    if rows:
        yield from _named(rows, x, y, align="left", dx=6, dy=-7, color=BLUE, fontSize=14, fontWeight="bold")


def _reached(picture: TrendPicture, x: alt.X, y: alt.Y) -> Iterator[alt.Chart]:
    """Yield where the chances lie on the limit."""
    rows: list[dict[str, Any]] = [{"x": one.shots, "y": one.value, "t": one.words} for one in picture.reached]
    if rows:
        yield _rows(rows).mark_point(shape="diamond", size=60, fill=BLUE, stroke=BLUE, opacity=1).encode(x=x, y=y)
        outside = 1 if picture.upper is None or rows[0]["y"] < picture.upper else -1
        # In turn outside and inside the limit, and away from each other: they may lie nearer than their words are wide.
        ways = (("right", 4, outside), ("center", 0, -outside), ("left", -4, outside))
        for row, (align, dx, side) in zip(rows, ways, strict=False):
            yield from _named([row], x, y, align=align, dx=dx, dy=13 * side, color=BLUE)


def _reach_of_shots(picture: TrendPicture) -> list[float]:
    marks = [one.shots for one in picture.points] + [one.shots for one in picture.fan]
    marks += [life.begin for life in picture.lives] + ([picture.now] if picture.now is not None else [])
    if not marks:
        return [0.0, 1.0]
    begin, end = min(marks), max(marks)
    return [begin, end + max((end - begin) * 0.04, 1.0)]


def _reach(picture: TrendPicture) -> list[float]:
    """Return what the value axis spans: readings with whiskers and limits; the fan only as far as limits make sense."""
    seen = [one.value + way * EXPANDED * one.uncertainty for one in picture.points for way in (-1, 1)]
    seen += [limit for limit in (picture.lower, picture.upper) if limit is not None]
    if not seen:
        return [0.0, 1.0]
    low, high = min(seen), max(seen)
    room = max(high - low, abs(high) * 0.05, 1e-9)
    fan = [edge for one in picture.fan for edge in (one.low, one.high)]
    low = max(min([low, *fan]), low - room * 0.35) - room * 0.08
    high = min(max([high, *fan]), high + room * 0.35) + room * 0.12
    return [low, high]
