"""SVG as text: elements with escaped words, and the few shapes that several pictures share."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape


def number(value: float) -> str:
    """Return a coordinate, short and without an exponent."""
    return f"{value:.2f}".rstrip("0").rstrip(".") if value == value else "0"


def element(name: str, *inside: str, words: str = "", **attributes: str | float | None) -> str:
    """Return one element. `inside` is SVG already, `words` is escaped; an underscore ends a reserved name."""
    written = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(value if isinstance(value, str) else number(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    body = "".join(inside) + escape(words)
    return f"<{name}{written}>{body}</{name}>" if body else f"<{name}{written}/>"


def picture(kind: str, width: float, height: float, title: str, *inside: str, role: str = "img") -> str:
    """Return a whole drawing with its text alternative."""
    return element(
        "svg",
        element("title", words=title),
        *inside,
        xmlns="http://www.w3.org/2000/svg",
        class_=f"drawing {kind}",
        viewBox=f"0 0 {number(width)} {number(height)}",
        role=role,
        focusable="false",
    )


def hatching(x0: float, x1: float, y0: float, y1: float, step: float = 4.0) -> str:
    """Return path data of 45 degree lines filling a rectangle, worked out so that no pattern with an id is needed."""
    height = y1 - y0
    lines = []
    start = x0 - height + step / 2
    while start < x1:
        left, right = max(start, x0), min(start + height, x1)
        if right > left:
            lines.append(
                f"M{number(left)} {number(y1 - (left - start))}L{number(right)} {number(y1 - (right - start))}"
            )
        start += step
    return "".join(lines)


def scatter(seed: int) -> Iterator[float]:
    """Yield numbers between 0 and 1 that look random and are the same every time."""
    state = seed
    while True:
        state = (state * 1103515245 + 12345) % 2147483648
        yield state / 2147483648
