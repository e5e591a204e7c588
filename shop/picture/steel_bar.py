"""Steel left: what refinishing may still take of a face, as a length."""

from __future__ import annotations

from dataclasses import dataclass

from shop.picture.svg import element, number, picture

WIDTH, HEIGHT = 120.0, 12.0


@dataclass(frozen=True)
class SteelBar:
    """What is left of what there was to give, both a side in one unit; `next_takes` is what the next work needs."""

    left: float
    whole: float
    text: str
    next_takes: float = 0.0


def steel_bar(bar: SteelBar) -> str:
    """Return the bar as SVG: solid is there, dashed is gone, a rule shows where the next work would end."""
    whole = max(bar.whole, bar.left, 1e-9)
    there = max(bar.left, 0.0) / whole * (WIDTH - 2)
    drawn = [
        element(
            "rect",
            class_="gone",
            x=1,
            y=3,
            width=WIDTH - 2,
            height=6,
            fill="none",
            stroke="currentColor",
            stroke_dasharray="3 2",
            stroke_opacity=0.6,
        ),
        element("rect", class_="there", x=1, y=3, width=there, height=6, fill="currentColor", fill_opacity=0.7),
    ]
    if bar.next_takes > 0:
        after = 1 + max(bar.left - bar.next_takes, 0.0) / whole * (WIDTH - 2)
        drawn.append(element("path", class_="whole", d=f"M{number(after)} 0V12", stroke="currentColor", fill="none"))
    return picture("steel-bar", WIDTH, HEIGHT, bar.text, *drawn)
