"""The laser degradation data, brought in as fifteen faces of one tool, gives the printed lives from their own lines."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shop.bring.answer import Brought
from shop.watch.models import Trend
from tests.reference.printed import printed

pytestmark = pytest.mark.django_db
UNITS = range(1, 16)
BEGAN = "2020-01-01 00:00"


def a_time(hours: int, minute: int = 0) -> str:
    """Return the time at which a laser had run so long, an hour of it being a minute here."""
    day, rest = divmod(hours, 1000)
    hour, minutes = divmod(rest, 60)
    return f"2020-01-{2 + day:02d} {hour:02d}:{minutes + minute:02d}"


def tools_file() -> str:
    rows = [f"L-1,Laser,Own,{unit},U{unit},1.2343,face,polished,value,Ra,replica,10,simple,{BEGAN}" for unit in UNITS]
    head = "tool,title,customer,position,insert,steel,face,how made,scale,parameter,where,upper,acceptance,made at"
    return "\n".join([head, *rows])


def shots_file() -> str:
    """Every hour is a shot of all fifteen, counted every 250."""
    return "\n".join(["tool,at,shots", *(f"L-1,{a_time(hours)},250" for hours in range(250, 4001, 250))])


def readings_file() -> str:
    rows = [
        f"L-1,U{row['unit']},{a_time(int(row['hours']), 1)},Ra,replica,{row['increase']},um,G-1"
        for row in printed("laser_degradation").rows
    ]
    return "\n".join(["tool,insert,at,parameter,where,value,unit,gauge", *rows])


def test_each_face_s_own_line_gives_the_printed_life(brings: Callable[..., Brought]) -> None:
    assert brings("tools", tools_file()).bad == []
    assert brings("shots", shots_file(), answers={"shots.rate_impossible": "really_made"}).bad == []
    assert brings("readings", readings_file()).taken == 15 * 17
    lives = {row["unit"]: int(row["pseudo_failure_h"]) for row in printed("laser_lives").rows}
    trends = {trend.face.insert.number[1:]: trend for trend in Trend.objects.select_related("face__insert")}
    assert {unit: round((10 - trend.intercept) / trend.slope) for unit, trend in trends.items()} == lives
    # What is left is whole shots, never one more than the line allows; a face past its limit has none left.
    left = {unit: trend.left_50 for unit, trend in trends.items()}
    assert {unit for unit, shots in left.items() if shots == 0} == {unit for unit, life in lives.items() if life < 4000}
    assert all(lives[unit] - (4000 + shots) in (0, 1) for unit, shots in left.items() if shots)
