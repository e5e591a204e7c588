"""Pictures of finishes: values in, SVG out. Colours belong to the style sheet, by class."""

from __future__ import annotations

from functools import singledispatch


@singledispatch
def draw(thing: object) -> str:
    """Return the drawing of a value of this package as SVG text."""
    raise TypeError(f"nothing draws {type(thing).__name__}")
