"""Faces that must agree: define a group, end it, and judge it whenever an inspection measures two of its faces."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person
from shop.quality.matching import Apart, apart, groups_of_tools
from shop.quality.models import Inspection, MatchGroup, MatchVerdict, Reading
from shop.quality.services.checks import UNIT_OF
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Parameter, Tool, WhereMeasured
from shop.units import Quantity, convert

STEP = Decimal("0.0001")


@transaction.atomic
def define(
    *,
    tool: Tool,
    name: str,
    parameter: str,
    where: str,
    tolerance: Decimal,
    unit: str,
    faces: Sequence[Face],
    by: Person,
    at: datetime,
    geometry_deg: int | None = None,
) -> MatchGroup:
    """Say which faces of a tool must agree within what; from then on they are judged whenever two are measured.

    Raises
    ------
    Refused
        Where the name is taken, fewer than two faces or another tool's are named, the tolerance is none, or the
        parameter cannot be compared there.
    """
    # Two who define the same name at once meet at the tool.
    Tool.objects.select_for_update().get(pk=tool.pk)
    _check_name(tool, name)
    _check_faces(tool, faces)
    parameter, where = Parameter(parameter), WhereMeasured(where)
    _check_parameter(parameter, where, geometry_deg)
    allowed = convert(tolerance, unit, UNIT_OF[parameter]).quantize(STEP)
    if allowed <= 0:
        raise Refused(
            "match.tolerance_none",
            gettext_noop("A difference of {value} leaves nothing to agree within."),
            next_step=gettext_noop("Enter the largest difference that is allowed."),
            field="tolerance",
            value=Quantity(tolerance, unit),
        )
    group = MatchGroup.objects.create(
        tool=tool,
        name=name.strip(),
        parameter=parameter,
        where=where,
        geometry_deg=geometry_deg if parameter == Parameter.GLOSS else None,
        tolerance=allowed,
        unit=UNIT_OF[parameter],
    )
    group.faces.set(faces)
    said = f"{group.parameter} {allowed:f} {group.unit}: {', '.join(str(face) for face in faces)}"
    record_change(group, "faces", "", said, by=by, at=at)
    return group


@transaction.atomic
def end(*, group: MatchGroup, why: str, by: Person, at: datetime) -> MatchGroup:
    """End a group: its faces need not agree any longer; what was judged stays."""
    held: MatchGroup = MatchGroup.objects.select_for_update().get(pk=group.pk)
    if held.ended_at is not None:
        raise Refused(
            "match.ended_already",
            gettext_noop("{group} was ended on {at}."),
            next_step=gettext_noop("There is nothing left to do."),
            group=held.name,
            at=held.ended_at,
        )
    if not why.strip():
        raise Refused(
            "match.why_wanted",
            gettext_noop("{group} is ended only with a reason."),
            next_step=gettext_noop("Say why its faces need not agree any longer."),
            field="why",
            group=held.name,
        )
    held.ended_at = at
    held.save(update_fields=["ended_at"])
    record_change(held, "ended_at", None, at, by=by, at=at, why=why.strip())
    return held


def judge(taken: Iterable[tuple[Inspection, Sequence[Reading]]], *, by: Person) -> list[MatchVerdict]:
    """Judge the groups whose faces these inspections measured; to be called in the transaction that takes them."""
    taken = list(taken)
    groups = groups_of_tools({inspection.tool_id for inspection, _readings in taken})
    if not groups:
        return []
    rows = []
    for inspection, readings in taken:
        for group in groups.get(inspection.tool_id, ()):
            if group.ended_at is None or group.ended_at > inspection.at:
                found = apart(group, readings)
                if isinstance(found, Apart):
                    rows.append(_row(group, inspection, found, by))
    return MatchVerdict.objects.bulk_create(rows)


def _row(group: MatchGroup, inspection: Inspection, found: Apart, by: Person) -> MatchVerdict:
    required = Decimal(inspection.tool.plant.conformance_required)
    judged = found.judged(group, float(required), inspection.at)
    return MatchVerdict(
        group=group,
        inspection=inspection,
        lowest=found.lowest,
        highest=found.highest,
        difference=Decimal(str(round(found.difference, 5))),
        standard_uncertainty=Decimal(str(round(judged.standard_uncertainty, 6))),
        tolerance=group.tolerance,
        conformance=Decimal(str(round(judged.conformance, 6))),
        required=required,
        outcome=judged.outcome,
        missing=list(found.missing),
        by=by,
        at=inspection.at,
    )


def _check_name(tool: Tool, name: str) -> None:
    if not name.strip():
        raise Refused(
            "match.name_wanted",
            gettext_noop("The group has no name."),
            next_step=gettext_noop("Name it as the shop does, for instance: four buttons."),
            field="name",
        )
    if MatchGroup.objects.filter(tool=tool, name=name.strip()).exists():
        raise Refused(
            "match.name_taken",
            gettext_noop("Tool {tool} has a group {name} already."),
            next_step=gettext_noop("Give this one another name."),
            field="name",
            tool=tool.number,
            name=name.strip(),
        )


def _check_faces(tool: Tool, faces: Sequence[Face]) -> None:
    if len({face.pk for face in faces}) < 2:
        raise Refused(
            "match.two_faces",
            gettext_noop("A group needs at least two faces."),
            next_step=gettext_noop("Tick the faces that must agree with one another."),
            field="face",
        )
    other = next((face for face in faces if face.insert.tool_id != tool.pk), None)
    if other is not None:
        raise Refused(
            "match.face_elsewhere",
            gettext_noop("{face} is not a face of tool {tool}."),
            next_step=gettext_noop("Choose faces of this tool."),
            field="face",
            face=str(other),
            tool=tool.number,
        )


def _check_parameter(parameter: Parameter, where: WhereMeasured, geometry_deg: int | None) -> None:
    if parameter.by_eye:
        raise Refused(
            "match.by_eye",
            gettext_noop("{parameter} has no uncertainty that a difference could be held against."),
            next_step=gettext_noop("Choose what a gauge reads."),
            field="parameter",
            parameter=parameter,
        )
    if parameter != Parameter.GLOSS:
        return
    if where != WhereMeasured.PART:
        raise Refused(
            "match.gloss_on_part",
            gettext_noop("Gloss is read on the part: bare steel says nothing about it."),
            next_step=gettext_noop("Choose the part."),
            field="where",
        )
    if geometry_deg not in (20, 60, 85):
        raise Refused(
            "match.angle_wanted",
            gettext_noop("Gloss does not say its angle, and angles do not convert."),
            next_step=gettext_noop("Choose 20, 60 or 85 degrees."),
            field="geometry_deg",
        )
