"""What a signature rests on: the verdicts that a stage asks for, and which of them are there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from shop.bench.models import Line, Move, Passing, WorkOrder
from shop.bench.states import State
from shop.quality.models import Inspection, Verdict
from shop.tooling.models import Acceptance, Face, Limit, Parameter, Spec, WhereMeasured

STEEL_SIDE = (WhereMeasured.STEEL, WhereMeasured.REPLICA)


@dataclass(frozen=True)
class Want:
    """One limit that a stage must see judged on one face, and the verdicts there are on it."""

    face: Face
    limit: Limit
    verdicts: tuple[Verdict, ...]

    @property
    def words(self) -> str:
        """Return the face, the parameter and where it is measured, as a short name."""
        spot = f", {self.limit.spot.name}" if self.limit.spot else ""
        return f"{self.face} {self.limit.get_parameter_display()} ({self.limit.get_where_display()}{spot})"


@dataclass(frozen=True)
class Checked:
    """How a stage stands: what is wanted, what failed, what is not proven, what only the eye can pass.

    `taken_back` are verdicts that are gone with their readings, at spots where nothing else was judged.
    """

    missing: tuple[Want, ...]
    off_spec: tuple[Verdict, ...]
    not_proven: tuple[Verdict, ...]
    by_eye: tuple[Face, ...]
    inspections: tuple[int, ...]
    deciding: tuple[Verdict, ...]
    taken_back: tuple[Verdict, ...]

    @property
    def complete(self) -> bool:
        """Return whether nothing is missing and nothing failed."""
        return not self.missing and not self.off_spec


def steel(order: WorkOrder, at: datetime) -> Checked:
    """Return how the steel stands: every steel and replica limit of the faces whose finish was changed."""
    since = _last_move(order, State.STEEL_CHECK)
    lines = order.lines.open().changing_finish()
    return _checked(order, lines, STEEL_SIDE, (Inspection.Kind.STEEL_CHECK,), since, at)


def parts(order: WorkOrder, at: datetime) -> Checked:
    """Return how the parts stand: every part limit of the order's faces, on first-offs since the steel passed."""
    since = _last_move(order, State.PARTS_CHECK)
    lines = order.lines.open().filter(face__isnull=False)
    kinds = (Inspection.Kind.PARTS_CHECK, Inspection.Kind.FIRST_OFF)
    return _checked(order, lines, (WhereMeasured.PART,), kinds, since, at)


def signed_since(order: WorkOrder, stage: Passing.Stage) -> Passing | None:
    """Return the latest signature of the stage since the steel last passed, or None."""
    last_steel = order.passings.filter(stage=Passing.Stage.STEEL, passed=True).order_by("-id").first()
    found = order.passings.filter(stage=stage, id__gt=last_steel.pk if last_steel else 0)
    return found.order_by("-id").first()


def _last_move(order: WorkOrder, to: State) -> datetime | None:
    moved: Move | None = order.moves.filter(to_state=to).order_by("-id").first()
    return moved.at if moved else None


def _checked(
    order: WorkOrder,
    lines: Iterable[Line],
    where: tuple[WhereMeasured, ...],
    kinds: tuple[Inspection.Kind, ...],
    since: datetime | None,
    at: datetime,
) -> Checked:
    faces = {line.face_id: line.face for line in lines.select_related("face__insert")}  # type: ignore[attr-defined]
    specs = Spec.objects.at_time(at).with_limits().filter(face__in=faces)
    last = list(
        Verdict.objects.filter(superseded_by__isnull=True)
        .filter(Q(at__gte=since) if since else Q(), face__in=faces, where__in=where, at__lte=at)
        .filter(inspection__tool=order.tool_id, inspection__kind__in=kinds)
        .select_related("face__insert", "spot", "limit")
        .order_by("at", "id")
    )
    verdicts = [verdict for verdict in last if not verdict.void]
    missing: list[Want] = []
    deciding: list[Verdict] = []
    by_eye = dict(faces)
    for spec in specs:
        for want in _wanted(spec, faces[spec.face_id], where, verdicts):
            decided = [verdict for verdict in want.verdicts if not verdict.informative]
            if decided:
                deciding += decided
                by_eye.pop(spec.face_id, None)
            elif not want.verdicts:
                missing.append(want)
                by_eye.pop(spec.face_id, None)
    judged = {(verdict.limit_id, verdict.spot_id) for verdict in verdicts}
    outcome = Verdict.Outcome
    return Checked(
        missing=tuple(missing),
        off_spec=tuple(verdict for verdict in deciding if verdict.outcome == outcome.NO),
        not_proven=tuple(verdict for verdict in deciding if verdict.outcome == outcome.NOT_PROVEN),
        by_eye=tuple(by_eye.values()),
        inspections=tuple(dict.fromkeys(verdict.inspection_id for verdict in verdicts)),
        deciding=tuple(deciding),
        taken_back=tuple(
            verdict
            for verdict in last
            if verdict.void and not verdict.informative and (verdict.limit_id, verdict.spot_id) not in judged
        ),
    )


def _wanted(
    spec: Spec, face: Face, where: tuple[WhereMeasured, ...], verdicts: list[Verdict]
) -> Iterable[Want]:
    """Yield the limits that the stage asks for, each with the latest verdict at every spot."""
    for limit in spec.limits.all():
        by_eye = Parameter(limit.parameter).by_eye
        # Where the plaque governs, what a gauge says is shown and does not decide.
        if limit.where not in where or (spec.acceptance == Acceptance.PLAQUE and not by_eye):
            continue
        latest = {verdict.spot_id: verdict for verdict in verdicts if verdict.limit_id == limit.pk}
        yield Want(face=face, limit=limit, verdicts=tuple(latest.values()))
