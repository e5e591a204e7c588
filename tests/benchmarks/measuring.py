"""What a case is, and how it is measured: rounds taken in turn with its floor, medians, and the peak of memory."""

from __future__ import annotations

import ctypes
import gc
import subprocess
import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import Any

ROUNDS = 7
MB = 1024 * 1024


@dataclass(frozen=True)
class Case:
    """Something that is measured. `floor` does the least that anybody could do instead, named by `floor_name`.

    `most_s` limits the time of `run`, `most_ratio` its ratio to the floor's, `most_mb` what the process grows by over
    idle; None asks for nothing. Time is the processor's, or the clock's where another process works along.
    `make` makes what both are given, outside the time.
    """

    name: str
    make: Callable[[], Any]
    run: Callable[[Any], object]
    floor_name: str
    floor: Callable[[Any], object]
    most_s: float | None = None
    most_mb: float | None = None
    most_ratio: float | None = None
    by_clock: bool = False
    rounds: int = ROUNDS


@dataclass(frozen=True)
class Room:
    """The cases of one room, and what its heading says."""

    title: str
    cases: tuple[Case, ...]


@dataclass(frozen=True)
class Measured:
    """What came of a case: seconds of processor and of the clock, memory in MB."""

    case: Case
    cpu_s: float
    wall_s: float
    floor_s: float
    ratio: float
    traced_mb: float
    grown_mb: float | None

    @property
    def took_s(self) -> float:
        """Return the seconds that are asked about."""
        return self.wall_s if self.case.by_clock else self.cpu_s

    @property
    def holds(self) -> bool:
        """Return whether it keeps what it must."""
        in_time = self.case.most_s is None or self.took_s <= self.case.most_s
        in_time = in_time and (self.case.most_ratio is None or self.ratio <= self.case.most_ratio)
        memory = self.traced_mb if self.grown_mb is None else self.grown_mb
        return in_time and (self.case.most_mb is None or memory <= self.case.most_mb)


def measure(room: str, case: Case) -> Measured:
    """Measure a case: once unseen, then it and its floor in turn, so that a busy machine slows both alike."""
    given = case.make()
    case.run(given)
    case.floor(given)
    cpu, wall, floor = [], [], []
    for _round in range(case.rounds):
        took = _timed(case.run, given)
        cpu.append(took[0])
        wall.append(took[1])
        floor.append(_timed(case.floor, given)[case.by_clock])
    times = wall if case.by_clock else cpu
    return Measured(
        case=case,
        cpu_s=median(cpu),
        wall_s=median(wall),
        floor_s=median(floor),
        # Of each round's own ratio: what slowed that round slowed both.
        ratio=median(one / least if least > 0 else float("inf") for one, least in zip(times, floor, strict=True)),
        traced_mb=_traced_mb(case, given),
        grown_mb=None if case.most_mb is None else _grown_mb(room, case),
    )


def _timed(what: Callable[[Any], object], given: Any) -> tuple[float, float]:
    gc.collect()
    cpu, wall = time.process_time(), time.perf_counter()
    what(given)
    return time.process_time() - cpu, time.perf_counter() - wall


def _traced_mb(case: Case, given: Any) -> float:
    gc.collect()
    tracemalloc.start()
    try:
        case.run(given)
        return tracemalloc.get_traced_memory()[1] / MB
    finally:
        tracemalloc.stop()


def _grown_mb(room: str, case: Case) -> float:
    """Return by how much a process of its own grows over idle while it runs the case once."""
    command = [sys.executable, "-m", "tests.benchmarks", "--grow", room, case.name]
    said = subprocess.run(command, check=True, capture_output=True, text=True)
    return float(said.stdout)


def grown(case: Case) -> float:
    """Run a case once in this process; return by how much it grew, in MB."""
    given = case.make()
    gc.collect()
    # What the making has left behind would be used again unseen.
    ctypes.CDLL(None).malloc_trim(0)
    # The highest so far may be that of the making: it is set back, so that only the run counts.
    Path("/proc/self/clear_refs").write_text("5", encoding="ascii")
    idle = _status("VmRSS")
    case.run(given)
    return (_status("VmHWM") - idle) / 1024


def _status(name: str) -> int:
    lines = Path("/proc/self/status").read_text(encoding="ascii").splitlines()
    return int(next(line for line in lines if line.startswith(f"{name}:")).split()[1])
