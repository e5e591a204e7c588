"""The share of finishes that outlast a count of shots: steps as they were seen, a band, and a law through them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from shop.picture.svg import element, number, picture

LEFT, RIGHT, TOP, BOTTOM = 44.0, 12.0, 14.0, 58.0
SHARES = (0.0, 0.25, 0.5, 0.75, 1.0)


@dataclass(frozen=True)
class SurvivalCurve:
    """One group: its steps (shots, share), the band at each, the law's line, and how many run yet at some counts."""

    name: str
    steps: tuple[tuple[float, float], ...]
    band: tuple[tuple[float, float, float], ...] = ()
    law: tuple[tuple[float, float], ...] = ()
    censored: tuple[tuple[float, float], ...] = ()
    at_risk: tuple[tuple[float, int], ...] = ()


@dataclass(frozen=True)
class SurvivalChart:
    """Everything on the picture; words are in the reader's language, ticks (shots, words) too."""

    text: str
    shots_title: str
    risk_title: str
    curves: tuple[SurvivalCurve, ...]
    longest: float
    ticks: tuple[tuple[float, str], ...]
    width: float = 760.0
    height: float = 330.0


def survival_chart(chart: SurvivalChart) -> str:
    """Return the chart as SVG; the first curve is ink, the second blue and broken."""
    bottom = chart.height - BOTTOM - 16 * len(chart.curves)

    def x(shots: float) -> float:
        return LEFT + shots / chart.longest * (chart.width - LEFT - RIGHT)

    def y(share: float) -> float:
        return TOP + (1.0 - share) * (bottom - TOP)

    inside: list[str] = []
    for share in SHARES:
        inside.append(element("line", class_="ruling", x1=LEFT, x2=chart.width - RIGHT, y1=y(share), y2=y(share)))
        words = f"{round(share * 100)} %"
        inside.append(element("text", class_="soft", x=LEFT - 6, y=y(share) + 4, text_anchor="end", words=words))
    for shots, words in chart.ticks:
        inside.append(element("text", class_="soft", x=x(shots), y=bottom + 16, text_anchor="middle", words=words))
    inside.append(
        element("text", class_="soft", x=chart.width - RIGHT, y=bottom + 32, text_anchor="end", words=chart.shots_title)
    )
    for place, curve in enumerate(chart.curves):
        inside += _curve(curve, place, x, y)
        inside += _risk(curve, chart, place, x, bottom + 48 + 16 * place)
    return picture("survival-chart", chart.width, chart.height, chart.text, *inside)


def _curve(curve: SurvivalCurve, place: int, x: Callable[[float], float], y: Callable[[float], float]) -> Iterable[str]:
    kind = "second" if place else "first"
    if curve.band:
        yield element("path", class_=f"band {kind}", d=_band(curve.band, x, y))
    yield element("path", class_=f"curve {kind}", d=_steps(curve.steps, x, y), fill="none")
    if curve.law:
        path = "L".join(f"{number(x(shots))} {number(y(share))}" for shots, share in curve.law)
        yield element("path", class_=f"law {kind}", d=f"M{path}", fill="none")
    for shots, share in curve.censored:
        yield element("path", class_=f"runs {kind}", d=f"M{number(x(shots))} {number(y(share) - 4)}v8", fill="none")
    shots, share = curve.steps[-1]
    yield element("text", class_=f"name {kind}", x=x(shots) - 4, y=y(share) - 6, text_anchor="end", words=curve.name)


def _steps(steps: Sequence[tuple[float, float]], x: Callable[[float], float], y: Callable[[float], float]) -> str:
    path = [f"M{number(x(0.0))} {number(y(1.0))}"]
    for shots, share in steps:
        path.append(f"H{number(x(shots))}V{number(y(share))}")
    return "".join(path)


def _band(band: Sequence[tuple[float, float, float]], x: Callable[[float], float], y: Callable[[float], float]) -> str:
    there = [f"M{number(x(band[0][0]))} {number(y(band[0][2]))}"]
    for (shots, _low, high), after in pairwise(band):
        there.append(f"L{number(x(shots))} {number(y(high))}H{number(x(after[0]))}")
    back = []
    for before, (shots, _low, _high) in zip(reversed(band[:-1]), reversed(band), strict=False):
        back.append(f"L{number(x(shots))} {number(y(before[1]))}H{number(x(before[0]))}")
    return "".join([*there, *back, "Z"])


def _risk(
    curve: SurvivalCurve, chart: SurvivalChart, place: int, x: Callable[[float], float], y: float
) -> Iterable[str]:
    if place == 0:
        yield element("text", class_="soft", x=0, y=y - 16, words=chart.risk_title)
    for shots, count in curve.at_risk:
        yield element(
            "text", class_=f"risk {'second' if place else 'first'}", x=x(shots), y=y, text_anchor="middle",
            words=str(count),
        )  # fmt: skip
