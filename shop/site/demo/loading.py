"""The two years, lived through in their order: rows of the files up to an event, then the event."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils.formats import date_format
from django.utils.translation import gettext

from shop import loop
from shop.bring.columns import FILES
from shop.bring.service import take_rows
from shop.bring.sheet import Row, read_sheet
from shop.people.models import Plant
from shop.press.models import Run
from shop.press.services import runs
from shop.refusal import Refused, gettext_noop
from shop.site.demo.ahead import plan_ahead
from shop.site.demo.making import Files
from shop.site.demo.proving import match, prove
from shop.site.demo.setting_up import Setting, set_up
from shop.site.demo.visits import Visit
from shop.tooling.models import Face, Insert, Position, Tool

NAME = "Musterwerk Talbrücke"
# Whose hand enters the rows of a file.
HANDS = {"tools": "quality", "shots": "press", "readings": "quality"}
Tell = Callable[[str], None]


def there() -> Plant | None:
    """Return the demo's plant where it has been loaded; it is loaded whole or not at all."""
    return Plant.objects.filter(name=NAME).first()


@transaction.atomic
def load(files: Files, *, end: date, password: str, tell: Tell) -> Plant:
    """Load the plant in one transaction, so that a load that is cut short leaves nothing behind."""
    zone = ZoneInfo(files.told["plant"]["time_zone"])
    last = datetime(end.year, end.month, end.day, 23, 30, tzinfo=zone)
    tell("people, presses, gauges, plaques")
    setting = set_up(files.told, first=last - timedelta(days=735), last=last, password=password)
    tell("tools, inserts and faces")
    story = Story(setting, files, zone)
    story.take_tools(last)
    quality = setting.people["quality"]
    match(files.told["proof"]["matched"], plant=setting.plant, by=quality, at=last - timedelta(days=730))
    tell("two years of shots and readings, with their visits to the bench")
    story.tell_all(tell)
    tell("gauges' studies and tiles, plaques, faces that must match")
    prove(files.told["proof"], plant=setting.plant, by=quality, last=last)
    tell("planned runs and costs")
    plan_ahead(setting, last)
    return setting.plant


class Story:
    """The rows still to come, tool by tool, and the events that part them."""

    def __init__(self, setting: Setting, files: Files, zone: ZoneInfo) -> None:
        """Read the files."""
        self.setting, self.files, self.zone = setting, files, zone
        self.rows: dict[str, dict[str, list[Row]]] = {"shots": defaultdict(list), "readings": defaultdict(list)}
        for kind, by_tool in self.rows.items():
            for row in self._read(kind):
                by_tool[row["tool"]].append(row)
        self.tools: dict[str, Tool] = {}

    def _read(self, kind: str) -> list[Row]:
        rows, bad = read_sheet(self.files.content(kind), FILES[kind], self.zone)
        if bad:
            raise Refused("demo.bad_row", gettext_noop("{kind}.csv is at fault: {bad}"), kind=kind, bad=str(bad[0]))
        return rows

    def take_tools(self, at: datetime) -> None:
        """Take tools.csv, and remember the tools."""
        self._take("tools", self._read("tools"), at)
        self.tools = {
            tool.number: tool
            for tool in Tool.objects.filter(plant=self.setting.plant).select_related("plant", "customer", "resin")
        }

    def tell_all(self, tell: Tell) -> None:
        """Take rows and events in their order, then the rows that are left."""
        shown = ""
        for event in self.files.events:
            at = datetime.fromisoformat(event["at"]).replace(tzinfo=self.zone)
            if event["at"][:7] >= shown:
                shown = f"{at + timedelta(days=92):%Y-%m}"
                tell("  " + gettext("until {month}").format(month=date_format(at, "M Y")))
            self._take_until(event["tool"], at)
            getattr(self, "_" + event["kind"].replace(" ", "_"))(event, self.tools[event["tool"]], at)
        for number in self.tools:
            self._take_until(number, datetime.max.replace(tzinfo=UTC))

    def _take_until(self, tool: str, at: datetime) -> None:
        for kind, by_tool in self.rows.items():
            due = [row for row in by_tool[tool] if row["at"] <= at]
            if due:
                by_tool[tool] = by_tool[tool][len(due) :]
                self._take(kind, due, due[-1]["at"])

    def _take(self, kind: str, rows: list[Row], at: datetime) -> None:
        brought = take_rows(kind, rows, plant=self.setting.plant, by=self.setting.people[HANDS[kind]], at=at)
        if brought.bad:
            bad = brought.bad[0]
            said = bad.reason.template.format(**bad.reason.values)
            raise Refused(
                "demo.bad_row",
                gettext_noop("{kind}.csv line {line}, {column}: {value} {said}"),
                kind=kind,
                line=bad.line,
                column=bad.column,
                value=bad.value,
                said=said,
            )

    def _face(self, event: dict[str, Any], tool: Tool) -> Face:
        found: Face = Face.objects.get(insert__tool=tool, insert__number=event["insert"], name=event["face"])
        return found

    def _moment(self, text: str | None) -> datetime | None:
        return datetime.fromisoformat(text).replace(tzinfo=self.zone) if text else None

    def _visit(self, event: dict[str, Any], tool: Tool, at: datetime) -> None:
        tool.refresh_from_db(fields=["place", "status"])
        visit = Visit(self.setting, tool, event, at)
        visit.live(self._moment(event.get("back_at")), self._moment(event.get("parts_at")))

    def _damage(self, event: dict[str, Any], tool: Tool, at: datetime) -> None:
        loop.damage_called(
            tool=tool,
            kind=event["damage"],
            face=self._face(event, tool),
            note=event["note"],
            stops_run=event["stops_run"],
            by=self.setting.people["press"],
            at=at,
        )

    def _concession(self, event: dict[str, Any], tool: Tool, at: datetime) -> None:
        loop.concession_granted(
            face=self._face(event, tool),
            number=event["number"],
            parameter=event["parameter"],
            lower=None if event["lower"] is None else Decimal(str(event["lower"])),
            upper=Decimal(str(event["upper"])),
            until_on=date.fromisoformat(event["until"]),
            reason=event["reason"],
            by=self.setting.people["engineer"],
            at=at,
        )

    def _swap(self, event: dict[str, Any], tool: Tool, at: datetime) -> None:
        for number, position in event["moves"]:
            loop.insert_moved(
                insert=Insert.objects.get(tool=tool, number=number),
                position=Position.objects.get(tool=tool, number=position),
                why=event["why"],
                by=self.setting.people["lead"],
                at=at,
            )

    def _run(self, event: dict[str, Any], tool: Tool, at: datetime) -> None:
        runs.start_run(
            tool=tool,
            press=self.setting.presses[event["press"]],
            order_number=event["order"],
            order_shots=event["shots"],
            resin=self.setting.resins[event["resin"]],
            colour=event["colour"],
            by=self.setting.people["press"],
            at=at,
        )

    def _run_ends(self, _event: dict[str, Any], tool: Tool, at: datetime) -> None:
        runs.end_run(run=Run.objects.running().get(tool=tool), by=self.setting.people["press"], at=at)
