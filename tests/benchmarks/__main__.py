"""Write REPORT.md: what the work costs that people wait for, each case beside its floor in the same run.

Run as `python -m tests.benchmarks` with the extra `bench` installed; it takes some minutes. A room joins with a module
of its own that holds `ROOM` and one line in `ROOMS`.
"""

from __future__ import annotations

import platform
import sys
from datetime import UTC, datetime
from importlib import import_module
from pathlib import Path

from shop import __version__
from tests.benchmarks.measuring import Measured, Room, grown, measure

ROOMS = ("profiles", "gauges", "standards", "forecasts", "sweep")
REPORT = Path(__file__).with_name("REPORT.md")


def main() -> None:
    """Measure every case, and write the report beside this file; end with 1 where a limit is not kept."""
    if sys.argv[1:2] == ["--grow"]:
        case = next(one for one in _room(sys.argv[2]).cases if one.name == sys.argv[3])
        sys.stdout.write(f"{grown(case)}\n")
        return
    lines = [
        "# What the work costs",
        "",
        f"Facewright {__version__}, {datetime.now(UTC):%d %b %Y}, `python -m tests.benchmarks`, "
        f"Python {platform.python_version()}, one core of {platform.machine()}.",
        "",
        "Seconds are medians of processor time, by the clock where a database works along;",
        "case and floor are measured in turn, and the ratio is the median of",
        "the rounds' own. Peak is what Python and numpy held at most, grown what a process of its own grew by over",
        "idle. Figures of another machine differ, ratios little.",
    ]
    kept = True
    for name in ROOMS:
        room = _room(name)
        found = [measure(name, case) for case in room.cases]
        kept = kept and all(one.holds for one in found)
        lines += ["", f"## {room.title}", "", *_table(found)]
    REPORT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    sys.stdout.write(REPORT.read_text(encoding="utf-8"))
    sys.exit(0 if kept else 1)


def _room(name: str) -> Room:
    room: Room = import_module(f"tests.benchmarks.{name}").ROOM
    return room


def _table(found: list[Measured]) -> list[str]:
    head = "| case | seconds | its floor | seconds | ratio | peak MB | grown MB | must keep | kept |"
    return [head, "|---|---:|---|---:|---:|---:|---:|---|---|", *(_row(one) for one in found)]


def _row(one: Measured) -> str:
    case = one.case
    limits = [
        f"{case.most_s:g} s" if case.most_s else "",
        f"{case.most_mb:g} MB grown" if case.most_mb else "",
        f"ratio {case.most_ratio:g}" if case.most_ratio else "",
    ]
    asked = ", ".join(limit for limit in limits if limit) or "–"
    grew = "–" if one.grown_mb is None else f"{one.grown_mb:.0f}"
    kept = "–" if asked == "–" else "yes" if one.holds else "**no**"
    return (
        f"| {case.name} | {_s(one.took_s)} | {case.floor_name} | {_s(one.floor_s)} | {one.ratio:.3g} "
        f"| {one.traced_mb:.1f} | {grew} | {asked} | {kept} |"
    )


def _s(seconds: float) -> str:
    return f"{seconds:.3f}" if seconds >= 0.01 else f"{seconds:.5f}"


if __name__ == "__main__":
    main()
