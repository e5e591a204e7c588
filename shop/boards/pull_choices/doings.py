"""The works that would do on a face, each with its route's minutes and steel, who does it outside, and its life."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from shop.bench.models import OutsidePrice, Work
from shop.boards.pull_choices.facts import FaceFacts, ToolFacts
from shop.boards.pull_choices.lives import Gain, gain_of
from shop.craft.gains import SEED_MINUTES, works_that_do
from shop.craft.media import STOCKED
from shop.craft.routes import Route, RouteAsk, plan_route
from shop.craft.visits import Doing
from shop.tooling.models import Parameter, Spec

UNPRICED = "no price known"
USUAL_DAYS = 21


@dataclass(frozen=True)
class Candidate:
    """One work on one face: what it is reckoned with, and where that is from.

    `steel_short_um` is how much steel is missing for it; such a work is ruled out. `area_known` says that its minutes
    are the route's; `price` is what a house asks where part of it is done outside.
    """

    facts: FaceFacts
    work: str
    doing: Doing
    steel_um: Decimal
    steel_short_um: Decimal
    gain: Gain
    area_known: bool
    outside: bool
    price: OutsidePrice | None

    @property
    def label(self) -> str:
        """Return the work in the reader's words."""
        return str(Work(self.work).label)

    @property
    def takes_steel(self) -> bool:
        """Return whether it takes steel of the face."""
        return self.steel_um > 0


def candidates(facts: FaceFacts, tool: ToolFacts) -> list[Candidate]:
    """Return the works that would do on a face, lightest first, those without the steel for it among them."""
    works = works_that_do(
        facts.spec.how_made, facts.lightest, micro_matt=facts.spec.micro_matt, one_place=facts.one_place
    )
    return [_candidate(facts, tool, work) for work in works]


def _candidate(facts: FaceFacts, tool: ToolFacts, work: str) -> Candidate:
    route = route_of(facts, work)
    outside = any(step.outside for step in route.steps)
    price = _price(tool.prices, work) if outside else None
    minutes = SEED_MINUTES[work] if route.minutes is None else float(route.minutes)
    gain = gain_of(facts, work, tool.lives, filled=tool.filled)
    left = facts.steel_left_um
    return Candidate(
        facts=facts,
        work=work,
        doing=Doing(
            work=work,
            minutes=minutes,
            steel_um=float(route.steel_um),
            law=gain.law,
            house=(price.house.name if price else UNPRICED) if outside else "",
            a_visit=float(price.a_visit) if price else 0.0,
            a_face=float(price.a_face) if price else 0.0,
            days=_days(tool, price) if outside else 0,
        ),
        steel_um=route.steel_um,
        steel_short_um=max(route.steel_um - left, Decimal(0)) if left is not None else Decimal(0),
        gain=gain,
        area_known=route.minutes is not None,
        outside=outside,
        price=price,
    )


def route_of(facts: FaceFacts, work: str) -> Route:
    """Return the route that the face's spec asks for by this work, as the bench will lay it."""
    spec, face = facts.spec, facts.face
    ask = RouteAsk(
        how_made=spec.how_made,
        work=work,
        put_back=spec.how_made,
        scale=spec.scale,
        target_code=spec.code,
        target_ra_um=_target_ra_um(spec),
        steel=face.insert.steel,
        coating=face.insert.coating,
        area_cm2=None if face.area_cm2 is None else float(face.area_cm2),
        pattern_depth_um=None if spec.pattern_depth_um is None else float(spec.pattern_depth_um),
        micro_matt=spec.micro_matt,
    )
    return plan_route(ask, STOCKED)


def _target_ra_um(spec: Spec) -> float | None:
    """Return the middle of the spec's Ra limits, else the one there is, from limits that were fetched along."""
    limits = sorted((one for one in spec.limits.all() if one.parameter == Parameter.RA), key=lambda one: one.pk)
    if not limits:
        return None
    sides = [float(side) for side in (limits[0].lower, limits[0].upper) if side is not None]
    return sum(sides) / len(sides)


def _price(prices: Sequence[OutsidePrice], work: str) -> OutsidePrice | None:
    """Return the cheapest house for one face by this work."""
    asked = [price for price in prices if price.work == work]
    return min(asked, key=lambda price: price.a_visit + price.a_face, default=None)


def _days(tool: ToolFacts, price: OutsidePrice | None) -> int:
    if price is not None:
        return price.house.lead_time_days if price.days is None else price.days
    return tool.houses[0].lead_time_days if tool.houses else USUAL_DAYS
