"""Tools whose faces wear towards a limit, shot and measured through the loop, for the tests of when to pull."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from shop import loop
from shop.people.models import Person
from shop.tooling.models import Tool
from tests.factories import satin
from tests.measuring import Shop, open_shop

DAYS = 24
SHOTS_A_DAY = 4000


def wearing_tool(
    lead: Person, press_tech: Person, inspector: Person, now: datetime, rates: Sequence[float], **tool: Any
) -> Shop:
    """Run a tool of satin faces for 24 days up to now, each glossier by its rate a day and read every third day."""
    start = now - timedelta(days=DAYS, hours=1)
    shop = open_shop(lead, press_tech, inspector, start, cavities=len(rates), **tool)
    for face in shop.built.faces.values():
        satin(face, lead, start)
    for day in range(1, DAYS + 1):
        shop.shoot(day, SHOTS_A_DAY)
        if day % 3 == 0:
            drafts = []
            for number, rate in enumerate(rates, start=1):
                face = shop.built.faces[f"show {number}"]
                level = 2.5 + rate * day + (0.02 if day % 2 else -0.02)
                drafts.append(shop.draft(round(level, 2), face=face, spot=shop.spot("gate", face)))
            shop.take(day + 0.01, *drafts)
    loop.brought_up_to_date([face.pk for face in shop.built.faces.values()], at=now)
    return shop


def again(shop: Shop) -> Tool:
    """Return the tool as a page fetches it."""
    return Tool.objects.select_related("plant", "resin", "customer").get(pk=shop.tool.pk)
