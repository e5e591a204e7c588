"""What somebody means to record, before it is checked, and what is known of it afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

from shop.paper.models import StoredFile
from shop.quality.asked import Asked
from shop.quality.models import Calibration, Gauge, Inspection
from shop.refusal import Refused
from shop.tooling.models import Face, Limit, Parameter, Plaque, Spec, Spot, Tool
from shop.tooling.plaque_state import PlaqueStanding
from shop.units import Quantity

LARGEST = Decimal(999_999)


@dataclass(frozen=True)
class ReadingDraft:
    """One value as it was typed, before it is checked."""

    face: Face
    parameter: str
    where: str
    value: Decimal
    unit: str
    spot: Spot | None = None
    gauge: Gauge | None = None
    plaque: Plaque | None = None
    geometry_deg: int | None = None
    cutoff_mm: Decimal | None = None
    evaluation_length_mm: Decimal | None = None
    direction: str = ""
    illuminant: str = ""
    view_angle_deg: int | None = None
    trace: StoredFile | None = None


@dataclass(frozen=True)
class DefectDraft:
    """A fault that lamp and loupe showed, as it was typed."""

    face: Face
    kind: str
    size_mm: Decimal
    count: int = 1
    spot: Spot | None = None
    note: str = ""


@dataclass(frozen=True)
class Going:
    """One going-over, as far as every draft of it shares it."""

    tool: Tool
    kind: Inspection.Kind
    at: datetime
    day: date
    asked: Mapping[int, Asked]
    calibrations: Mapping[int, Calibration]
    answers: Mapping[str, str]
    plaques: Mapping[int, PlaqueStanding] = field(default_factory=dict)


@dataclass(frozen=True)
class Checked:
    """A draft that may be taken, with what was found out about it."""

    index: int
    draft: ReadingDraft
    asked: Asked
    spec: Spec
    value: Decimal
    unit: str
    limit: Limit | None
    plaque: Plaque | None = None
    doubtful: bool = False
    geometry_deg: int | None = None
    cutoff_mm: Decimal | None = None
    conditions_agree: bool = True


@dataclass(frozen=True)
class At:
    """One draft on its way through the checks."""

    index: int
    draft: ReadingDraft
    going: Going

    def refused(self, code: str, template: str, field: str, next_step: str, **more: object) -> Refused:
        """Return the refusal of this draft; `field` is "drafts-<index>-<name>", as the form names it."""
        question = bool(more.get("choices"))
        values: dict[str, object] = {
            "face": str(self.draft.face),
            "spot": self.draft.spot.name if self.draft.spot else str(self.draft.face),
            "parameter": Parameter(self.draft.parameter),
            "value": shown(self.draft.value, self.draft.unit),
            **more,
        }
        name = f"drafts-{self.index}-{field}"
        return Refused(code, template, next_step=next_step, field=name, question=question, **values)  # type: ignore[arg-type]

    def answered(self, code: str, choices: tuple[tuple[str, str], ...]) -> bool:
        """Return whether the question was answered with one of its choices."""
        return self.going.answers.get(code) in {choice for choice, _words in choices}


def shown(value: Decimal, unit: str) -> Quantity | str:
    """Return the value with its unit, or as it was typed where it is out of all proportion or the unit not known."""
    try:
        fits = value.is_finite() and abs(value) < LARGEST
        return Quantity(value, unit) if fits else f"{value} {unit}"
    except Refused:
        return f"{value} {unit}"
