"""A roughness profile: above, what was measured with its mean line; below, what the filter leaves of it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shop.picture.svg import element, number, picture

WIDTH, PANEL, GAP = 960.0, 150.0, 34.0
LEFT, RIGHT, TOP, FOOT = 58.0, 12.0, 18.0, 34.0
MOST_COLUMNS = 1200


@dataclass(frozen=True, repr=False)
class Band:
    """Lowest and highest height of each pixel column, in um, at places in mm."""

    at_mm: tuple[float, ...]
    low_um: tuple[float, ...]
    high_um: tuple[float, ...]


@dataclass(frozen=True)
class ProfilePicture:
    """The profile without its form, its mean line, and the filtered profile, all reduced to pixel columns.

    `bounds_mm` are the sampling lengths that were evaluated, from the first start to the last end.
    """

    primary: Band
    mean_line: Band
    roughness: Band
    length_mm: float
    bounds_mm: tuple[float, ...]
    primary_name: str
    roughness_name: str
    text: str
    decimal_comma: bool = False
    width: float = WIDTH


def columns_for(width: float = WIDTH) -> int:
    """Return how many pixel columns a profile has in a picture of this width."""
    return min(int(width - LEFT - RIGHT), MOST_COLUMNS)


def profile_chart(profile: ProfilePicture) -> str:
    """Return both panels as SVG, over one axis of length."""
    lower_top = TOP + PANEL + GAP
    height = lower_top + PANEL + FOOT
    upper = _Panel(profile, TOP, _range(profile.primary, profile.mean_line))
    lower = _Panel(profile, lower_top, _range(profile.roughness))
    drawn = [
        upper.window(),
        upper.frame(profile.primary_name),
        upper.band(profile.primary, "trace"),
        upper.middle(profile.mean_line),
        lower.window(),
        lower.frame(profile.roughness_name),
        lower.lengths(),
        lower.band(profile.roughness, "trace"),
        lower.zero(),
        lower.axis(),
    ]
    return picture("profile-chart", profile.width, height, profile.text, *drawn)


def ticks(low: float, high: float, wanted: int) -> list[float]:
    """Return round marks of an axis, about as many as wanted: steps of 1, 2 or 5 times a power of ten."""
    span = high - low
    if not span > 0 or not math.isfinite(span):
        return [low]
    rough = span / max(wanted, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(one * power for one in (1, 2, 5, 10) if one * power >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    return [round(at * step, 12) for at in range(first, math.floor(high / step + 1e-9) + 1)]


def _range(*bands: Band) -> tuple[float, float]:
    low = min(min(band.low_um) for band in bands)
    high = max(max(band.high_um) for band in bands)
    room = 0.06 * (high - low) or 0.5
    return low - room, high + room


class _Panel:
    """One panel: places and heights become coordinates."""

    def __init__(self, profile: ProfilePicture, top: float, heights: tuple[float, float]) -> None:
        self.profile, self.top = profile, top
        self.low, self.high = heights
        self.right = profile.width - RIGHT

    def x(self, at_mm: float) -> float:
        return LEFT + at_mm / self.profile.length_mm * (self.right - LEFT)

    def y(self, height_um: float) -> float:
        return self.top + (self.high - height_um) / (self.high - self.low) * PANEL

    def window(self) -> str:
        """Draw the length that was evaluated."""
        bounds = self.profile.bounds_mm
        if len(bounds) < 2:
            return ""
        x0, x1 = self.x(bounds[0]), self.x(bounds[-1])
        return element(
            "rect", class_="evaluated", x=x0, y=self.top, width=x1 - x0, height=PANEL, fill="currentColor",
            fill_opacity=0.06,
        )  # fmt: skip

    def lengths(self) -> str:
        """Draw where one sampling length ends and the next begins."""
        drawn = "".join(f"M{number(self.x(at))} {number(self.top)}v{number(PANEL)}" for at in self.profile.bounds_mm)
        return element("path", class_="length", d=drawn, fill="none", stroke="currentColor", stroke_dasharray="3 3")

    def frame(self, name: str) -> str:
        marks = "".join(
            element(
                "path", class_="grid", d=f"M{number(LEFT)} {number(self.y(at))}H{number(self.right)}", fill="none",
                stroke="currentColor", stroke_opacity=0.25,
            )
            + element("text", class_="soft", words=self._figure(at), x=LEFT - 6, y=self.y(at) + 4, text_anchor="end")
            for at in ticks(self.low, self.high, 4)
        )  # fmt: skip
        head = element("text", class_="name", words=name, x=LEFT, y=self.top - 5)
        unit = element("text", class_="soft", words="µm", x=LEFT - 6, y=self.top - 5, text_anchor="end")
        return marks + head + unit

    def axis(self) -> str:
        foot = self.top + PANEL
        drawn = [element("path", class_="axis", d=f"M{number(LEFT)} {number(foot)}H{number(self.right)}",
                         fill="none", stroke="currentColor")]  # fmt: skip
        for at in ticks(0.0, self.profile.length_mm, 8 if self.profile.width > 500 else 4):
            if self.x(at) < self.right - 24:
                drawn.append(
                    element("text", class_="soft", words=self._figure(at), x=self.x(at), y=foot + 15,
                            text_anchor="middle")
                )  # fmt: skip
        drawn.append(element("text", class_="soft", words="mm", x=self.right, y=foot + 15, text_anchor="end"))
        return "".join(drawn)

    def band(self, band: Band, class_: str) -> str:
        """Draw the lowest and highest of each column; where both are one, that is a line."""
        xs = [number(self.x(at)) for at in band.at_mm]
        there = [f"{x} {number(self.y(high))}" for x, high in zip(xs, band.high_um, strict=True)]
        back = [f"{x} {number(self.y(low))}" for x, low in zip(reversed(xs), reversed(band.low_um), strict=True)]
        return element(
            "path", class_=class_, d=f"M{'L'.join(there)}L{'L'.join(back)}Z", fill="currentColor",
            stroke="currentColor", stroke_width=0.8, stroke_linejoin="round",
        )  # fmt: skip

    def middle(self, band: Band) -> str:
        points = [
            f"{number(self.x(at))} {number(self.y((low + high) / 2))}"
            for at, low, high in zip(band.at_mm, band.low_um, band.high_um, strict=True)
        ]
        return element(
            "path", class_="mean", d=f"M{'L'.join(points)}", fill="none", stroke="currentColor", stroke_width=2
        )

    def zero(self) -> str:
        if not self.low < 0 < self.high:
            return ""
        d = f"M{number(LEFT)} {number(self.y(0.0))}H{number(self.right)}"
        return element("path", class_="mean", d=d, fill="none", stroke="currentColor", stroke_width=1.5)

    def _figure(self, value: float) -> str:
        said = f"{value:.6g}".replace("-", "\u2212")
        return said.replace(".", ",") if self.profile.decimal_comma else said
