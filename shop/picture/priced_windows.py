"""What a thousand shots cost by the day of pulling: visit and work grow cheaper with waiting, bad parts dearer."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shop.picture.svg import element, hatching, number, picture

WIDTH, HEIGHT = 760.0, 300.0
LEFT, RIGHT, TOP, BOTTOM = 82.0, 132.0, 26.0, 34.0
NARROW = 480.0  # below this the lines are named by the words under the picture
NARROW_RIGHT = 14.0
LETTER = 6.4  # about what a letter takes
LINE = 14.0  # apart, so that two names can be read
REACH = 3.0  # how far over the cheapest the picture goes: what is dearer still is beyond it

Place = Callable[[float], float]


@dataclass(frozen=True)
class Gap:
    """A gap in the press: its first and last day, counted from today."""

    first: float
    last: float
    text: str


@dataclass(frozen=True)
class Priced:
    """One choice: its day, what a thousand shots cost, its letter, and whether it is the cheapest."""

    day: float
    rate: float
    letter: str
    cheapest: bool
    text: str
    href: str = ""


@dataclass(frozen=True)
class PricedWindows:
    """Costs of a thousand shots by day, in all and for bad parts alone, with gaps of the press and the choices.

    `marks` name days on the axis, `prices` amounts; `names` are the words for the whole and for the bad parts.
    """

    days: tuple[float, ...]
    whole: tuple[float, ...]
    waiting: tuple[float, ...]
    names: tuple[str, str]
    gaps: tuple[Gap, ...] = ()
    choices: tuple[Priced, ...] = ()
    marks: tuple[tuple[float, str], ...] = ()
    prices: tuple[tuple[float, str], ...] = ()
    title: str = ""
    text: str = ""
    width: float = WIDTH
    height: float = HEIGHT


def top_of(whole: Sequence[float], choices: Sequence[Priced] = ()) -> float:
    """Return how high the picture goes: over every choice within reach of the cheapest, and over the curve so far."""
    least = min([*whole, *(one.rate for one in choices)], default=1.0)
    highest = max([*whole, *(one.rate for one in choices)], default=1.0)
    return max(min(highest, least * REACH) * 1.06, 1e-9)


def priced_windows(drawn: PricedWindows) -> str:
    """Return the picture as SVG."""
    named = drawn.width >= NARROW
    right = drawn.width - (RIGHT if named else NARROW_RIGHT)
    bottom = drawn.height - BOTTOM
    top = top_of(drawn.whole, drawn.choices)
    last = max(drawn.days[-1] if drawn.days else 0.0, 1.0)

    def x(day: float) -> float:
        return LEFT + min(max(day, 0.0), last) / last * (right - LEFT)

    def y(rate: float) -> float:
        return bottom - min(max(rate, 0.0), top) / top * (bottom - TOP)

    parts = [
        "".join(_gap(gap, x, bottom) for gap in drawn.gaps),
        "".join(_price(amount, words, y, right) for amount, words in drawn.prices if amount <= top),
        "".join(_day(words, x(day), bottom) for day, words in _apart(drawn.marks, x, right)),
        element("path", class_="axis", d=f"M{number(LEFT)} {number(bottom)}H{number(right)}", fill="none",
                stroke="currentColor"),
        _curve("waiting", drawn.days, drawn.waiting, x, y, top),
        _curve("whole", drawn.days, drawn.whole, x, y, top),
        _names(drawn, x, y, top) if named else "",
        "".join(_choice(one, x, y, top, bottom) for one in drawn.choices),
        element("text", words=drawn.title, class_="soft", x=0, y=12, font_size=12.0, fill="currentColor"),
    ]  # fmt: skip
    return picture("priced-windows", drawn.width, drawn.height, drawn.text, *parts, role="group")


def _gap(gap: Gap, x: Place, bottom: float) -> str:
    left, right = x(gap.first), max(x(gap.last), x(gap.first) + 3.0)
    title = element("title", words=gap.text)
    ground = element("rect", title, class_="gap", x=left, y=TOP, width=right - left, height=bottom - TOP)
    lines = hatching(left, right, TOP, bottom, 9.0)
    return ground + element("path", class_="hatch", d=lines, fill="none", stroke="currentColor", stroke_opacity=0.35)


def _price(amount: float, words: str, y: Place, right: float) -> str:
    rule = element("path", class_="ruling", d=f"M{number(LEFT)} {number(y(amount))}H{number(right)}", fill="none")
    label = element(
        "text", words=words, x=LEFT - 14, y=y(amount) + 4, text_anchor="end", font_size=12.0, fill="currentColor"
    )
    return rule + label


def _apart(marks: Sequence[tuple[float, str]], x: Place, right: float) -> list[tuple[float, str]]:
    """Return the marks whose words do not run into the ones before or out of the picture."""
    kept: list[tuple[float, str]] = []
    free = 0.0
    for day, words in marks:
        half = len(words) * LETTER / 2
        if x(day) - half >= free and x(day) + half <= right + LETTER * 4:
            kept.append((day, words))
            free = x(day) + half + LETTER
    return kept


def _day(words: str, x: float, bottom: float) -> str:
    tick = element("path", class_="axis", d=f"M{number(x)} {number(bottom)}v5", fill="none", stroke="currentColor")
    label = element("text", words=words, x=x, y=bottom + 20, text_anchor="middle", font_size=12.0, fill="currentColor")
    return tick + label


def _curve(kind: str, days: Sequence[float], rates: Sequence[float], x: Place, y: Place, top: float) -> str:
    """Return a line through the rates; it ends where it leaves the picture and begins where it comes back."""
    path, pen_down = [], False
    for day, rate in zip(days, rates, strict=True):
        if rate > top:
            pen_down = False
            continue
        path.append(f"{'L' if pen_down else 'M'}{number(x(day))} {number(y(rate))}")
        pen_down = True
    return element("path", class_=f"curve {kind}", d="".join(path), fill="none", stroke="currentColor") if path else ""


def _names(drawn: PricedWindows, x: Place, y: Place, top: float) -> str:
    """Return the names of both lines beside where they end or leave the picture, apart from each other."""
    ends = []
    for kind, words, rates in (("whole", drawn.names[0], drawn.whole), ("waiting", drawn.names[1], drawn.waiting)):
        inside = [place for place, rate in enumerate(rates) if rate <= top]
        if inside:
            ends.append((y(rates[inside[-1]]), x(drawn.days[inside[-1]]), words, kind))
    named, free = [], 0.0
    for height, at, words, kind in sorted(ends):
        level = max(height + 4, free)
        free = level + LINE
        named.append(
            element("text", words=words, class_=f"name {kind}", x=at + 10, y=level, font_size=12.0, fill="currentColor")
        )
    return "".join(named)


def _choice(one: Priced, x: Place, y: Place, top: float, bottom: float) -> str:
    at, height = x(one.day), y(one.rate)
    beyond = one.rate > top
    shape = element(
        "path" if one.cheapest else "circle",
        element("title", words=one.text),
        class_="choice" + (" is-cheapest" if one.cheapest else "") + (" is-beyond" if beyond else ""),
        **(
            {"d": f"M{number(at)} {number(height - 10)}l10 10l-10 10l-10 -10z"}
            if one.cheapest
            else {"cx": at, "cy": height, "r": 8.5}
        ),
    )
    stem = element("path", class_="stem", d=f"M{number(at)} {number(height)}V{number(bottom)}", fill="none")
    letter = element(
        "text",
        words=one.letter,
        class_="letter" + (" is-cheapest" if one.cheapest else ""),
        x=at,
        y=height + 4,
        text_anchor="middle",
        font_size=11.0,
        aria_hidden="true",
    )
    whole = stem + shape + letter
    return element("a", whole, href=one.href, aria_label=one.text) if one.href else whole
