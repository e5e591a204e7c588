"""What the demo's plant has ahead: the runs that are planned, and what it reckons with."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal

from shop.bench.services import costs
from shop.press.models import Run
from shop.press.rates import shots_per_day
from shop.press.services import planned
from shop.refusal import Refused
from shop.site.demo.setting_up import Setting
from shop.tooling.models import Tool

# First and last day of each run from now, and the order; every third tool begins a little later.
RUNS = ((3, 12, "P1"), (18, 27, "P2"), (33, 44, "P3"), (52, 61, "P4"))
LATER_DAYS = 2
# What outside houses ask for a full refinish: for the visit, for a face, and the days they keep the tool.
ASKED = (("420.00", "310.00", 18), ("380.00", "145.00", 12))
PART_COSTS = {"Reflector housing": "6.80", "Appliance cover": "3.20"}


def plan_ahead(setting: Setting, at: datetime) -> None:
    """Plan the coming runs of every tool in production, and enter costs and prices."""
    lead, press = setting.people["lead"], setting.people["press"]
    tools = list(Tool.objects.in_plant(setting.plant).filter(status=Tool.Status.PRODUCTION).order_by("number"))
    rates = shots_per_day(at=at, tool_ids=[tool.pk for tool in tools], days=180)
    for number, tool in enumerate(tools):
        last = Run.objects.filter(tool=tool).order_by("-began_at").first()
        for first, until, order in RUNS:
            starts = at + timedelta(days=first + LATER_DAYS * (number % 3))
            days = until - first
            _planned(
                tool, press=last.press if last else None, order_number=f"{tool.number[2:]}-{order}",
                shots=max(round(1.6 * rates[tool.pk] * days, -2), 500), starts_at=starts,
                ends_at=starts + timedelta(days=days), by=press, at=at,
            )  # fmt: skip
        if amount := PART_COSTS.get(tool.title):
            costs.set_part_cost(tool=tool, amount=Decimal(amount), by=lead, at=at)
    costs.set_costs(
        plant=setting.plant, currency="EUR", figures={"bench_hour": Decimal("68.00"), "bad_part": Decimal("0.90")},
        by=lead, at=at,
    )  # fmt: skip
    for house, (visit, face, days) in zip(setting.houses.values(), ASKED, strict=False):
        costs.set_price(
            house=house, work="full refinish", a_visit=Decimal(visit), a_face=Decimal(face), days=days, by=lead, at=at
        )


def _planned(tool: Tool, **asked: object) -> None:
    """Plan a run; where the press is taken then, in whichever is free."""
    try:
        planned.plan_run(tool=tool, **asked)  # type: ignore[arg-type]
    except Refused as refused:
        if refused.code != "planned.at_once":
            raise
        planned.plan_run(tool=tool, **{**asked, "press": None})  # type: ignore[arg-type]
