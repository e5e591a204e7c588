"""What an inspection found: each verdict in words, with the next step, and the parts that are suspect."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet

from shop.bench.models import Line, WorkOrder
from shop.bench.states import State
from shop.boards import suspects
from shop.boards.bars import bar_of_verdict, guard_of, quantity
from shop.boards.matches import InInspection, of_inspection
from shop.boards.measured_conditions import Rechecked, rechecked
from shop.picture.finish_bar import Bar
from shop.quality import doubt
from shop.quality.lay import deciding
from shop.quality.models import Defect, Inspection, Reading, Verdict
from shop.refusal import Saying, gettext_noop
from shop.tooling.models import Acceptance, Parameter
from shop.units import Quantity


@dataclass(frozen=True)
class Found:
    """One verdict with its words."""

    verdict: Verdict
    readings: tuple[Reading, ...]
    words: Saying
    step: Saying
    bar: Bar
    order: WorkOrder | None
    doubts: tuple[doubt.Doubt, ...] = ()

    @property
    def across_decide(self) -> bool:
        """Return whether those read along the lay stand beside others and decide nothing."""
        return len(deciding(self.readings)) < len(self.readings)

    @property
    def conformance_percent(self) -> Quantity | None:
        """Return the chance that it conforms, in per cent."""
        chance = self.verdict.conformance
        return None if chance is None else Quantity(min(round(100 * chance, 1), Decimal("99.9")), "percent")

    @property
    def required_percent(self) -> Quantity:
        """Return the chance that is required, in per cent."""
        return Quantity(100 * self.verdict.required, "percent")


@dataclass(frozen=True)
class Measured:
    """One inspection as found."""

    inspection: Inspection
    found: tuple[Found, ...]
    unjudged: tuple[Reading, ...]
    suspects: tuple[suspects.Suspects, ...]
    waiting: WorkOrder | None
    defects: tuple[Defect, ...] = ()
    rechecked: tuple[Rechecked, ...] = ()
    matches: InInspection | None = None

    @property
    def worst(self) -> str:
        """Return the outcome that counts: off spec before not proven before conforms; empty where none was judged."""
        outcomes = {row.verdict.outcome for row in self.found if not row.verdict.informative}
        for outcome in (Verdict.Outcome.NO, Verdict.Outcome.NOT_PROVEN, Verdict.Outcome.YES):
            if outcome in outcomes:
                return outcome
        return ""


_RANK = {Verdict.Outcome.NO: 0, Verdict.Outcome.NOT_PROVEN: 1, Verdict.Outcome.YES: 2}


def measured(inspection: Inspection, at: datetime) -> Measured:
    """Return what the inspection found, the worst first."""
    verdicts = list(
        inspection.verdicts.in_force()
        .select_related("face__insert__tool", "spot", "limit", "concession", "spec", "life")
        .order_by("face__insert__number", "face__name", "id")
    )
    readings = list(
        inspection.readings.in_force()
        .select_related("face__insert", "spot", "gauge", "plaque", "by", "trace", "spec")
        .prefetch_related("spec__limits")
        .order_by("id")
    )
    orders = _orders([verdict.face_id for verdict in verdicts])
    doubts = doubt.verdicts_in_doubt(verdicts)
    rows = [
        _found(verdict, readings, orders.get(verdict.face_id), doubts.get(verdict.pk, ())) for verdict in verdicts
    ]
    rows.sort(key=lambda row: (row.verdict.informative, _RANK[Verdict.Outcome(row.verdict.outcome)]))
    judged = {reading.pk for row in rows for reading in row.readings}
    return Measured(
        inspection=inspection,
        found=tuple(rows),
        unjudged=tuple(reading for reading in readings if reading.pk not in judged),
        suspects=tuple(suspects.of_verdicts(verdicts, at)),
        waiting=_waiting(inspection),
        defects=tuple(inspection.defects.select_related("face__insert", "spot").order_by("face", "spot", "kind", "id")),
        rechecked=tuple(rechecked(readings)),
        matches=of_inspection(inspection),
    )


def _waiting(inspection: Inspection) -> WorkOrder | None:
    """Return the order that waits for this check to be signed."""
    state = {Inspection.Kind.STEEL_CHECK: State.STEEL_CHECK, Inspection.Kind.PARTS_CHECK: State.PARTS_CHECK}.get(
        Inspection.Kind(inspection.kind)
    )
    if state is None:
        return None
    orders: QuerySet[WorkOrder] = WorkOrder.objects.filter(tool=inspection.tool_id, state=state)
    return orders.order_by("-raised_at").first()


def _orders(face_ids: list[int]) -> dict[int, WorkOrder]:
    lines = Line.objects.open().filter(face__in=face_ids, order__closed_at__isnull=True).select_related("order")
    return {line.face_id: line.order for line in lines if line.face_id}


def _found(
    verdict: Verdict, readings: list[Reading], order: WorkOrder | None, doubts: tuple[doubt.Doubt, ...]
) -> Found:
    held = tuple(
        reading
        for reading in readings
        if reading.conditions_agree
        and (reading.face_id, reading.spot_id, reading.parameter, reading.where)
        == (verdict.face_id, verdict.spot_id, verdict.parameter, verdict.where)
        and reading.geometry_deg in (None, verdict.limit.geometry_deg)
    )
    return Found(verdict, held, in_words(verdict), _step(verdict, order), bar_of_verdict(verdict), order, doubts)


# Conforms, off spec, not proven; by the side that decides.
_WORDS = {
    ("yes", "upper"): gettext_noop("{parameter} {value} is inside {limit}{guard}."),
    ("yes", "lower"): gettext_noop("{parameter} {value} is above the lower limit {limit}{guard}."),
    ("no", "upper"): gettext_noop("{parameter} {value} is above {limit}{guard}."),
    ("no", "lower"): gettext_noop("{parameter} {value} is below {limit}{guard}."),
    ("not proven", "upper"): gettext_noop("{parameter} {value} is too close to {limit} to prove either way{guard}."),
    ("not proven", "lower"): gettext_noop("{parameter} {value} is too close to {limit} to prove either way{guard}."),
}


def in_words(verdict: Verdict) -> Saying:
    """Return the verdict as a sentence with value, limit, guard and chance of conformance."""
    side, limit = _nearer(verdict)
    value = float(verdict.statistic)
    values: dict[str, Any] = {
        "parameter": Parameter(verdict.parameter),
        "value": quantity(value, verdict.limit.unit),
        "limit": quantity(limit, verdict.limit.unit),
        "guard": _guard(verdict, side, limit),
    }
    if Parameter(verdict.parameter).by_eye:
        values["grade"] = grade(verdict.parameter, value)
        return Saying(f"verdict.eye.{verdict.outcome}", _EYE_WORDS[verdict.outcome], values)
    return Saying(f"verdict.{verdict.outcome}", _WORDS[verdict.outcome, side], values)


_EYE_WORDS = {
    "yes": gettext_noop("{parameter}: {grade}, which the plaque allows."),
    "no": gettext_noop("{parameter}: {grade}, which the plaque does not allow."),
    "not proven": gettext_noop("{parameter}: {grade}, which is not proven either way."),
}
# The five answers of an eye against a plaque, by what it looks at.
GRADES: dict[str, dict[int, str]] = {
    Parameter.LOOK_GLOSS: {
        -2: gettext_noop("clearly duller"),
        -1: gettext_noop("slightly duller"),
        0: gettext_noop("matches"),
        1: gettext_noop("slightly glossier"),
        2: gettext_noop("clearly glossier"),
    },
    Parameter.LOOK_ROUGHNESS: {
        -2: gettext_noop("clearly smoother"),
        -1: gettext_noop("slightly smoother"),
        0: gettext_noop("matches"),
        1: gettext_noop("slightly rougher"),
        2: gettext_noop("clearly rougher"),
    },
}


def grade(parameter: str, value: float) -> Saying:
    """Return a graded comparison in words."""
    nearest = max(-2, min(2, round(value)))
    return Saying(f"grade.{nearest}", GRADES[parameter][nearest], {})


def _nearer(verdict: Verdict) -> tuple[str, float]:
    value = float(verdict.statistic)
    lower, upper = verdict.lower, verdict.upper
    if upper is None:
        return "lower", float(lower or 0)
    if lower is None or abs(float(upper) - value) <= abs(value - float(lower)):
        return "upper", float(upper)
    return "lower", float(lower)


def _guard(verdict: Verdict, side: str, limit: float) -> Saying | str:
    width = guard_of(float(verdict.standard_uncertainty), float(verdict.required))
    if verdict.acceptance != Acceptance.GUARDED or width == 0.0:
        return ""
    edge = limit - width if side == "upper" else limit + width
    return Saying("verdict.guard", gettext_noop(" (guard {edge})"), {"edge": quantity(edge, verdict.limit.unit)})


def _step(verdict: Verdict, order: WorkOrder | None) -> Saying:
    if verdict.informative:
        return Saying("step.informative", gettext_noop("Shown for information: it does not decide."), {})
    if verdict.outcome == Verdict.Outcome.YES:
        return Saying("step.none", gettext_noop("Nothing to do."), {})
    if verdict.outcome == Verdict.Outcome.NOT_PROVEN:
        return Saying("step.second", gettext_noop("Measure a second part, or use a gauge of smaller uncertainty."), {})
    if order is not None:
        return Saying(
            "step.booked", gettext_noop("Hold the suspect parts. Work order {order} is open."), {"order": order.number}
        )
    template = gettext_noop("Hold the suspect parts. Clean the face, measure a second part, or raise a work order.")
    return Saying("step.hold", template, {})
