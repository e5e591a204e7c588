"""What spoke against the finish of a line, or for care, when its route was laid: kept as codes and values."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any

from shop.craft.suitability import NO, Row
from shop.quality import suits
from shop.refusal import Saying
from shop.watch import reasons

if TYPE_CHECKING:
    from shop.bench.models import Line


@dataclass(frozen=True)
class Note:
    """One topic as it was answered then: no or with care, why, from which source, and what would help."""

    topic: str
    verdict: str
    saying: Saying
    change: Saying | None
    decides: Saying | None
    source: tuple[str, str]

    @property
    def refuses(self) -> bool:
        """Return whether the face cannot have the finish, rather than only with care."""
        return self.verdict == NO


def suits_of(line: Line, at: datetime) -> list[dict[str, Any]]:
    """Return what is to be kept with a line: whether its face can have the finish, with the steel this work takes."""
    if line.face is None or line.spec is None:
        return []
    limits = line.spec.limits.all()
    answer = suits.answer_for(line.face, line.spec, limits, at, taken_um=line.planned_steel_um)
    return [_kept(row) for row in suits.told(answer)]


def notes_of(line: Line) -> tuple[Note, ...]:
    """Return what was kept with a line, to be worded for the reader."""
    return tuple(
        Note(
            topic=kept["topic"],
            verdict=kept["verdict"],
            saying=_said(kept["said"]),
            change=_said(kept["change"]) if kept["change"] else None,
            decides=_said(kept["decides"]) if kept["decides"] else None,
            source=(kept["source"][0], kept["source"][1]) if kept["source"] else ("", ""),
        )
        for kept in line.suits
    )


def _kept(row: Row) -> dict[str, Any]:
    return {
        "topic": row.topic,
        "verdict": row.verdict,
        "said": reasons.kept(row.saying),
        "change": reasons.kept(row.change) if row.change else None,
        "decides": reasons.kept(row.decides) if row.decides else None,
        "source": [row.source.title, row.source.edition] if row.source else None,
    }


def _said(kept: dict[str, Any]) -> Saying:
    return reasons.worded(kept["code"], kept["values"], kept.get("template", ""))
