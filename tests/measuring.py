"""A tool in a press that is shot and measured day by day, for the tests of quality and watch."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from shop.people.models import Person
from shop.press.models import Press, ShotEntry
from shop.press.services import presses, runs, shots
from shop.quality.models import Gauge, Inspection, Reading, Verdict
from shop.quality.services import gauges, inspections
from shop.quality.services.checks import ReadingDraft
from shop.tooling.models import Face, Spot
from tests.factories import Built, build_tool

DAY = timedelta(days=1)
YEAR = timedelta(days=365)


@dataclass
class Shop:
    """The people, the press, the gauges and one tool; days are counted from the first morning."""

    lead: Person
    press_tech: Person
    inspector: Person
    start: datetime
    press: Press
    built: Built
    gloss: Gauge
    stylus: Gauge
    optical: Gauge
    made: list[ShotEntry] = field(default_factory=list)

    @property
    def tool(self) -> Any:
        return self.built.tool

    @property
    def face(self) -> Face:
        return self.built.face

    @property
    def gate(self) -> Spot:
        return self.spot("gate")

    def spot(self, name: str, face: Face | None = None) -> Spot:
        return Spot.objects.get(face=face or self.face, name=name)

    def day(self, days: float) -> datetime:
        return self.start + days * DAY

    def shoot(self, days: float, count: int, **given: Any) -> ShotEntry:
        """Count so many shots made by that day."""
        return shots.log(tool=self.tool, by=self.press_tech, at=self.day(days), source="by hand", count=count, **given)

    def draft(self, value: Any, **given: Any) -> ReadingDraft:
        """A reading at the gate: gloss at 60 degrees on the part, unless said otherwise."""
        parameter = given.get("parameter", "gloss")
        defaults: dict[str, Any] = {
            "face": self.face, "parameter": parameter, "where": "part", "unit": "GU", "gauge": self.gloss,
        }  # fmt: skip
        if parameter in ("Ra", "Rq", "Rz"):
            defaults |= {"where": "steel", "unit": "um", "gauge": self.stylus}
        if parameter.startswith("look"):
            defaults |= {"unit": "grade", "gauge": None}
        if "face" not in given and "spot" not in given:
            defaults["spot"] = self.gate
        return ReadingDraft(value=Decimal(str(value)), **{**defaults, **given})

    def take(self, days: float, *drafts: ReadingDraft, kind: str = "routine", **given: Any) -> Inspection:
        return inspections.take(
            tool=self.tool, kind=kind, drafts=list(drafts), by=self.inspector, at=self.day(days), **given
        )

    def read(self, days: float, value: Any, kind: str = "routine", **given: Any) -> Verdict | None:
        """Take one reading and return its verdict."""
        inspection = self.take(days, self.draft(value, **given), kind=kind)
        return Verdict.objects.filter(inspection=inspection).first()

    def reading(self, inspection: Inspection) -> Reading:
        return Reading.objects.get(inspection=inspection)


def open_shop(lead: Person, press_tech: Person, inspector: Person, at: datetime, **tool: Any) -> Shop:
    """Build the tool, put it into the press and calibrate the gauges for a year."""
    built = build_tool(lead, at, **tool)
    press = presses.add_press(plant=lead.plant, name="P7", most_shots_per_hour=2000, by=press_tech, at=at)
    runs.start_run(tool=built.tool, press=press, by=press_tech, at=at, order_number="A-1", lot="L1")
    kept = {}
    for number, kind, resolution, expanded in (
        ("G-1", "glossmeter", "0.1", "0.2"), ("S-1", "stylus", "0.001", "0.01"), ("O-1", "optical", "0.001", "0.01"),
    ):  # fmt: skip
        gauge = gauges.add_gauge(
            plant=lead.plant, number=number, kind=kind, resolution=Decimal(resolution), by=inspector, at=at
        )
        due_on: date = (at + 3 * YEAR).date()
        gauges.calibrate(gauge=gauge, due_on=due_on, expanded_a=Decimal(expanded), by=inspector, at=at)
        kept[kind] = gauge
    return Shop(lead, press_tech, inspector, at, press, built, kept["glossmeter"], kept["stylus"], kept["optical"])
