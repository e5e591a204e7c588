"""A plant on an ordinary day: one satin cover with two cavities that has run for months, and the people around it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from django.utils import timezone

from shop import loop
from shop.people.models import Person
from shop.tooling.services.spec_checks import LimitDraft
from tests.factories import specify
from tests.measuring import Shop, open_shop

STARTED_DAYS_AGO = 60
SHOTS_A_DAY = 1000
LIMITS = [
    LimitDraft("Ra", "steel", None, Decimal("0.8"), "um"),
    LimitDraft("gloss", "part", Decimal("2.0"), Decimal("4.0"), "GU", geometry_deg=60),
]


@dataclass(frozen=True)
class Scene:
    """Names to go by, so that the tests need no database while Chromium runs."""

    tool: str
    title: str
    worn: str
    lead: str
    polisher: str
    press: str
    quality: str


def satin_cover(lead: Person, polisher: Person, press: Person, quality: Person, *, wear_gu_a_day: str) -> Scene:
    """Run a tool for two months through the loop: measured every ten days, wearing so much gloss a day."""
    shop = open_shop(lead, press, quality, timezone.now() - timedelta(days=STARTED_DAYS_AGO), cavities=2)
    for face in shop.built.faces.values():
        specify(face, lead, shop.start, LIMITS, how_made="stoned", acceptance="simple")
    _run(shop, Decimal(wear_gu_a_day))
    first = shop.built.face
    return Scene(
        tool=shop.tool.number,
        title=shop.tool.title,
        worn=str(first),
        lead=lead.username,
        polisher=polisher.username,
        press=press.username,
        quality=quality.username,
    )


def _run(shop: Shop, wear: Decimal) -> None:
    noise = [Decimal("0.02"), Decimal("-0.03"), Decimal("0.01"), Decimal("0.03"), Decimal("-0.02"), Decimal("0.00")]
    worn, sound = shop.built.faces.values()
    for place, days in enumerate(range(0, STARTED_DAYS_AGO - 5, 10)):
        if days:
            shop.shoot(days, 10 * SHOTS_A_DAY)
        drafts = [
            shop.draft(Decimal("2.4") + wear * days + noise[place], face=worn, spot=shop.spot("gate", worn)),
            shop.draft(Decimal("2.4") + noise[place], face=sound, spot=shop.spot("gate", sound)),
        ]
        loop.reading_taken(tool=shop.tool, kind="routine", drafts=drafts, by=shop.inspector, at=shop.day(days + 0.01))
