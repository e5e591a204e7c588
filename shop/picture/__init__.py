"""Pictures of finishes: values in, SVG out. Colours belong to the style sheet, by class."""

from __future__ import annotations

from functools import singledispatch

from shop.picture.face_map import FaceMap, face_map
from shop.picture.finish_bar import Bar, finish_bar
from shop.picture.life_line import LifeLine, life_line
from shop.picture.steel_bar import SteelBar, steel_bar
from shop.picture.trend_chart import TrendPicture, trend_chart


@singledispatch
def draw(thing: object) -> str:
    """Return the drawing of a value of this package as SVG text."""
    raise TypeError(f"nothing draws {type(thing).__name__}")


draw.register(Bar)(finish_bar)
draw.register(FaceMap)(face_map)
draw.register(LifeLine)(life_line)
draw.register(SteelBar)(steel_bar)
draw.register(TrendPicture)(trend_chart)
