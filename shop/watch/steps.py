"""What the inspections of a tool share, told from each face's own wear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from shop.watch.models import Trend

# Parameter, where it is measured, angle.
Kind = tuple[str, str, int | None]


@dataclass(frozen=True)
class Split:
    """What is taken off the readings of one kind: by inspection, and how well the line that is shared is known."""

    offsets: dict[int, float] = field(default_factory=dict)
    shared: list[list[float]] | None = None


def split(trends: Sequence[Trend], at: datetime) -> dict[tuple[int, Kind], Split]:
    """Return, by tool and kind, what the inspections share; `trends` are all running ones of whole tools."""
    return {}
