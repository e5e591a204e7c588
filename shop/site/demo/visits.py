"""A visit of a tool to the bench, lived through step by step as the people of the plant would."""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from shop import loop
from shop.bench.models import Line, Step, WorkOrder
from shop.bench.services import passing, planning, proposing, working
from shop.quality.models import Gauge
from shop.quality.services import inspections
from shop.quality.services.checks import ReadingDraft
from shop.site.demo.setting_up import Setting
from shop.tooling.models import Face, Plaque, Tool

AGREED = {"due.inside_lead_time": "yes_agreed", "handover.steps_open": "not_needed"}
HOUR = timedelta(hours=1)
ON_THE_WAY = ("raised", "accepted", "planned", "on the bench", "steel check", "parts check", "released")


class Visit:
    """One visit, from the call to wherever its story ends."""

    def __init__(self, setting: Setting, tool: Tool, story: dict[str, Any], pulled_at: datetime) -> None:
        """Remember who does what."""
        self.setting, self.tool, self.story, self.at = setting, tool, story, pulled_at
        people = setting.people
        self.lead, self.quality, self.press = people["lead"], people["quality"], people["press"]
        self.polisher = people[story["polisher"]]
        self.house = setting.houses.get(story["house"])
        in_tool = Face.objects.in_tool(tool).select_related("insert__tool__plant").prefetch_related("spots")
        self.faces: dict[tuple[str, str], Face] = {(face.insert.number, face.name): face for face in in_tool}

    def live(self, back_at: datetime | None, parts_at: datetime | None) -> WorkOrder:
        """Live through the visit as far as the story goes."""
        until = self.story["until"]
        reached = ON_THE_WAY.index("on the bench" if until == "sent out" else until)
        order = self._raised()
        if reached >= 1:
            order = planning.accept(order=order, by=self.lead, at=self.at - HOUR)
        if reached >= 2:
            order = self._planned(order)
        if reached >= 3:
            order = loop.started(order=order, by=self.lead if self.house else self.polisher, at=self.at)
            if until == "on the bench":
                self._begun(order)
        if reached >= 4 and back_at is not None:
            order = self._handed_over(order, back_at)
        if reached >= 5 and back_at is not None:
            loop.steel_passed(order=order, why="Compared with the plaque", by=self.quality, at=back_at + HOUR)
        if reached >= 6 and parts_at is not None:
            self._released(order, parts_at)
        return order

    def _raised(self) -> WorkOrder:
        """Look at the tool, and have the order say what the story says."""
        seen_at = self.at - 2 * HOUR
        loop.brought_up_to_date([face.pk for face in self.faces.values()], at=seen_at)
        order = WorkOrder.objects.filter(tool=self.tool).not_begun().order_by("id").first()
        if order is None:
            order = proposing.raise_order(tool=self.tool, by=self.lead, at=seen_at, why="seen at the press")
        wanted = {self.faces[line["insert"], line["face"]].pk: line for line in self.story["lines"]}
        for line in Line.objects.open().filter(order=order, face__isnull=False):
            if not self.story.get("keep") and line.face_id not in wanted:
                planning.drop_line(line=line, why="good until the next visit", by=self.lead, at=seen_at)
        there = {line.face_id: line for line in Line.objects.open().filter(order=order)}
        for face_id, means in wanted.items():
            self._line(order, there.get(face_id), means, seen_at)
        return order

    def _line(self, order: WorkOrder, line: Line | None, means: dict[str, Any], at: datetime) -> None:
        face = self.faces[means["insert"], means["face"]]
        if line is None:
            planning.add_line(order=order, face=face, work=means["work"], how=means["how"], by=self.lead, at=at)
        elif line.work != means["work"]:
            planning.set_work(line=line, work=means["work"], how=means["how"], by=self.lead, at=at)

    def _planned(self, order: WorkOrder) -> WorkOrder:
        due_on = (self.at + timedelta(days=21 if self.house else 4)).date()
        at = self.at - HOUR / 2
        if self.house:
            return planning.send_to(
                order=order, outside_house=self.house, due_on=due_on, answers=AGREED, by=self.lead, at=at
            )
        return planning.give_to(order=order, polisher=self.polisher, due_on=due_on, by=self.lead, at=at)

    def _begun(self, order: WorkOrder) -> None:
        """Sign the first steps of each line and book the first hours."""
        for number, line in enumerate(Line.objects.open().filter(order=order)):
            for step in list(line.steps.select_related("line"))[: 2 - number % 2]:
                self._sign(step, 1.25, self.at + 3 * HOUR)

    def _sign(self, step: Step, swing: float, at: datetime) -> None:
        """Sign a step, and book what it took: near the plan, and never quite as planned."""
        working.step_done(step=step, by=self.polisher, at=at)
        if step.planned_minutes:
            minutes = max(1, round(step.planned_minutes * swing))
            working.book(line=step.line, step=step, minutes=minutes, by=self.polisher, at=at)

    def _handed_over(self, order: WorkOrder, back_at: datetime) -> WorkOrder:
        minutes = {self.faces[line["insert"], line["face"]].pk: line["minutes"] for line in self.story["lines"]}
        for line in Line.objects.open().filter(order=order):
            if not self.house and line.face_id in minutes:
                for step in line.steps.select_related("line"):
                    self._sign(step, 0.75 + minutes[line.face_id] % 50 / 100, back_at - 2 * HOUR)
        if self.house:
            order = loop.came_back(order=order, by=self.lead, at=back_at)
        else:
            order = loop.handed_over(order=order, answers=AGREED, by=self.polisher, at=back_at)
        if self.story["until"] != "steel check":
            self._measured("steel check", ("steel", "replica"), back_at + HOUR / 2)
        return order

    def _released(self, order: WorkOrder, parts_at: datetime) -> None:
        self._measured("parts check", ("part",), parts_at)
        # What comes after is looked at when its readings come in, or by the sweep at the end.
        passing.pass_parts(
            order=order, passed=True, why="Compared with the plaque", by=self.quality, at=parts_at + HOUR
        )
        passing.release(order=order, by=self.lead, at=parts_at + 2 * HOUR)

    def _measured(self, kind: str, where: tuple[str, ...], at: datetime) -> None:
        drafts = [self._draft(reading) for reading in self.story["readings"] if reading["where"] in where]
        if drafts:
            inspections.take(
                tool=self.tool, kind=kind, drafts=drafts, resin=self.tool.resin, cleaned=True, by=self.quality, at=at
            )

    def _draft(self, reading: dict[str, Any]) -> ReadingDraft:
        face = self.faces[reading["insert"], reading["face"]]
        plant = self.setting.plant
        return ReadingDraft(
            face=face,
            parameter=reading["parameter"],
            where=reading["where"],
            value=Decimal(str(reading["value"])),
            unit=reading["unit"],
            spot=next((spot for spot in face.spots.all() if spot.name == reading["spot"]), None),
            gauge=Gauge.objects.filter(plant=plant, number=reading["gauge"]).first() if reading["gauge"] else None,
            plaque=Plaque.objects.filter(plant=plant, number=reading["plaque"]).first() if reading["plaque"] else None,
            geometry_deg=reading["angle"] or None,
            cutoff_mm=Decimal(str(reading["cut-off"])) if reading["cut-off"] else None,
        )
