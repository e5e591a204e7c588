"""What quality of the demo plant keeps: tile checks, studies, plaques under control, faces that must match."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from shop.people.models import Person, Plant
from shop.quality.models import Gauge
from shop.quality.services import matches, studies, tiles, unfit
from shop.tooling.models import Face, Plaque
from shop.tooling.services import plaques

LEAST_MATCHED = 4


def prove(told: dict[str, Any], *, plant: Plant, by: Person, last: datetime) -> None:
    """Enter it all, each at its day."""
    gauges = {gauge.number: gauge for gauge in Gauge.objects.filter(plant=plant)}
    _plaques(told["rechecked"], plant, by, last)
    _tiles(told["tiles"], gauges, by, last)
    _studies(told, plant, gauges, by, last)
    fallen = told["fallen"]
    unfit.find_unfit(
        gauge=gauges[fallen["gauge"]], why=fallen["why"], by=by, at=last - timedelta(days=fallen["days_ago"])
    )


def _plaques(told: list[Any], plant: Plant, by: Person, last: datetime) -> None:
    for number, days, ago in told:
        plaque = Plaque.objects.get(plant=plant, number=number)
        at = last - timedelta(days=ago)
        plaques.edit(plaque=plaque, recheck_days=days, by=by, at=at)
        plaques.check(plaque=plaque, passed=True, note="", by=by, at=at)


def _tiles(told: list[Any], gauges: dict[str, Gauge], by: Person, last: datetime) -> None:
    for number, tile, worth, expanded, limit, read, ago in told:
        tiles.check_tile(
            gauge=gauges[number],
            tile=tile,
            value=Decimal(read),
            tile_value=Decimal(worth),
            tile_expanded=Decimal(expanded),
            limit=Decimal(limit),
            by=by,
            at=last - timedelta(days=ago),
        )


def _studies(told: dict[str, Any], plant: Plant, gauges: dict[str, Gauge], by: Person, last: datetime) -> None:
    study, eye = told["study"], told["agreement"]
    studies.enter_gauge_study(
        gauge=gauges[study["gauge"]],
        parameter="gloss",
        unit="GU",
        geometry_deg=60,
        people=study["people"],
        parts=study["parts"],
        values=[[[Decimal(one) for one in trials] for trials in people] for people in study["values"]],
        tolerance=Decimal(study["tolerance"]),
        by=by,
        at=last - timedelta(days=150),
    )
    studies.enter_agreement_study(
        plant=plant,
        categories=("accept", "reject"),
        rejects=("reject",),
        plaque=Plaque.objects.get(plant=plant, number="PL-01"),
        by=by,
        at=last - timedelta(days=120),
        **eye,
    )


def match(told: dict[str, Any], *, plant: Plant, by: Person, at: datetime) -> None:
    """Let the gloss of one tool's like faces match: those of the first tool that has enough of them."""
    by_tool: dict[tuple[int, str], list[Face]] = {}
    glossy = Face.objects.filter(
        insert__tool__plant=plant, specs__limits__parameter="gloss", specs__limits__geometry_deg=told["angle"]
    )
    for face in glossy.fitted().distinct().select_related("insert__tool").order_by("insert__tool__number", "pk"):
        by_tool.setdefault((face.insert.tool_id, face.name), []).append(face)
    faces = next(found for found in by_tool.values() if len(found) >= LEAST_MATCHED)
    matches.define(
        tool=faces[0].insert.tool,
        name=told["name"],
        parameter="gloss",
        where="part",
        geometry_deg=told["angle"],
        tolerance=Decimal(told["tolerance"]),
        unit="GU",
        faces=faces,
        by=by,
        at=at,
    )
