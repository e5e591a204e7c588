"""What the press side looks at beside Fit to run: the tools by place, the running run, the last entries."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Prefetch, Sum

from shop.people.models import Plant
from shop.press.models import Damage, Press, Run, ShotEntry, WorkedShots
from shop.tooling.models import Position, Tool


@dataclass(frozen=True)
class PressTool:
    """One tool to pick, with the run it is in."""

    tool: Tool
    run: Run | None


@dataclass(frozen=True)
class Entry:
    """One line of the shot ledger, with what it was worked out to."""

    entry: ShotEntry
    worked: WorkedShots | None


@dataclass(frozen=True)
class PressSide:
    """One tool as the press tech sees it."""

    tool: Tool
    run: Run | None
    positions: tuple[Position, ...]
    sets: tuple[str, ...]
    entries: tuple[Entry, ...]
    total: int
    made_in_run: int
    damages: tuple[Damage, ...]
    free_presses: tuple[Press, ...]

    @property
    def left_of_order(self) -> int | None:
        """Return the shots that the running order still wants; None where it wants none or does not say."""
        if self.run is None or self.run.order_shots is None or self.run.order_shots <= self.made_in_run:
            return None
        return self.run.order_shots - self.made_in_run

    @property
    def last(self) -> ShotEntry | None:
        """Return the latest entry in force."""
        return self.entries[0].entry if self.entries else None


def tools_by_place(plant: Plant) -> list[PressTool]:
    """Return the tools that may run, those in a press first."""
    running = Prefetch("runs", Run.objects.running().select_related("press"), to_attr="running")
    tools = Tool.objects.in_plant(plant).alive().prefetch_related(running)
    rows = [PressTool(tool, tool.running[0] if tool.running else None) for tool in tools]
    return sorted(rows, key=lambda row: (row.tool.place != Tool.Place.IN_PRESS, row.run is None, row.tool.number))


def press_side(tool: Tool, entries: int = 6) -> PressSide:
    """Return the tool's run, its positions and the latest entries."""
    positions = tuple(tool.positions.all())
    shots = ShotEntry.objects.of_tool(tool).select_related("worked", "by", "press", "resin").order_by("-at", "-id")
    rows = tuple(Entry(entry, getattr(entry, "worked", None)) for entry in shots[:entries])
    run = Run.objects.running().filter(tool=tool).select_related("press", "resin").first()
    made = WorkedShots.objects.filter(tool=tool, entry__run=run).aggregate(shots=Sum("shots")) if run else {}
    busy = Run.objects.running().values("press")
    return PressSide(
        tool=tool,
        run=run,
        positions=positions,
        sets=tuple(sorted({one.in_set for one in positions if one.in_set})),
        entries=rows,
        total=rows[0].worked.total if rows and rows[0].worked else 0,
        made_in_run=made.get("shots") or 0,
        damages=tuple(Damage.objects.filter(tool=tool).select_related("face", "by").order_by("-at")[:3]),
        free_presses=tuple(Press.objects.filter(plant=tool.plant_id).exclude(pk__in=busy)),
    )
