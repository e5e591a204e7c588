"""Take inspections: readings and their verdicts in one transaction; put a reading right, or take it back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from django.db import transaction

from shop.ledger.services import once
from shop.paper.models import StoredFile
from shop.people.models import Person
from shop.quality.asked import Asked, Sides, asked_of, calibrations_of, day_in
from shop.quality.judging import Judged, Terms, judge_values
from shop.quality.lay import deciding
from shop.quality.models import Defect, Inspection, Reading, Verdict
from shop.quality.services import matches
from shop.quality.services.checks import (
    STEP,
    Checked,
    DefectDraft,
    Going,
    ReadingDraft,
    check,
    check_defects,
    not_in_future,
)
from shop.quality.worth import Worth, gauge_uncertainty, worths_of
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Acceptance, Concession, Face, Limit, Parameter, Plaque, Resin, Spec, Tool
from shop.tooling.plaque_state import standings
from shop.units import Quantity, convert

__all__ = ["DefectDraft", "ReadingDraft", "correct", "take", "withdraw"]


@dataclass(frozen=True)
class Group:
    """The readings of one limit at one spot, and what they are held against."""

    inspection: Inspection
    readings: Sequence[Reading]
    limit: Limit
    spec: Spec
    lower: Decimal | None
    upper: Decimal | None
    concession: Concession | None
    required: Decimal


@once("inspection", Inspection, timed=False)
def take(
    *,
    tool: Tool,
    kind: str,
    drafts: Sequence[ReadingDraft],
    by: Person,
    at: datetime,
    defects: Sequence[DefectDraft] = (),
    resin: Resin | None = None,
    colour: str = "",
    lot: str = "",
    mould_temperature_c: Decimal | None = None,
    hours_since_moulding: Decimal | None = None,
    cleaned: bool | None = None,
    note: str = "",
    photo: StoredFile | None = None,
    answers: Mapping[str, str] | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Inspection:
    """Take one going-over of a tool's faces and judge it by what held at `at`.

    Raises
    ------
    Refused
        Naming the first draft at fault in `field` ("drafts-<index>-<name>"); as a question where an answer
        in `answers` would let it through.
    """
    not_in_future(at)
    checked = _checked(tool, Inspection.Kind(kind), drafts, at, answers or {}, defects)
    inspection = Inspection.objects.create(
        tool=tool,
        kind=Inspection.Kind(kind),
        resin=resin,
        colour=colour,
        lot=lot,
        mould_temperature_c=mould_temperature_c,
        hours_since_moulding=hours_since_moulding,
        cleaned=cleaned,
        note=note,
        photo=photo,
        answers=dict(answers or {}),
        by=by,
        at=at,
    )
    readings = Reading.objects.bulk_create(reading_row(inspection, one) for one in checked)
    worths = worths_of({one.draft.gauge.pk for one in checked if one.draft.gauge}, at)
    Verdict.objects.bulk_create(
        verdict_row(group, worths, by=by) for group in groups_of(inspection, checked, readings)
    )
    Defect.objects.bulk_create(defect_row(inspection, one) for one in defects)
    matches.judge([(inspection, readings)], by=by)
    return inspection


@once("reading put right", Reading, timed=False)
def correct(
    *,
    reading: Reading,
    value: Decimal,
    why: str,
    by: Person,
    at: datetime,
    unit: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Reading:
    """Put a reading's value right by a row that supersedes it; a new verdict supersedes the old one."""
    _check_open(reading, why, at)
    converted = convert(value, unit or reading.unit, reading.unit).quantize(STEP)
    by_eye = Parameter(reading.parameter).by_eye
    if (by_eye and converted not in (-2, -1, 0, 1, 2)) or (not by_eye and converted < 0):
        raise Refused(
            "reading.impossible_value",
            gettext_noop("{parameter} on {face} cannot be {value}."),
            next_step=gettext_noop("Enter what was read."),
            field="value",
            parameter=Parameter(reading.parameter),
            face=str(reading.face),
            value=Quantity(converted, reading.unit),
        )
    put_right = _copy_of(reading, value=converted, why=why, by=by, void=False)
    put_right.save(force_insert=True)
    _judge_again(reading, why=why, by=by)
    return put_right


@once("reading taken back", Reading, timed=False)
def withdraw(
    *,
    reading: Reading,
    why: str,
    by: Person,
    at: datetime,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Reading:
    """Take a reading back that belongs nowhere, as one of another face; its verdict is judged without it."""
    _check_open(reading, why, at)
    taken_back = _copy_of(reading, value=reading.value, why=why, by=by, void=True)
    taken_back.save(force_insert=True)
    _judge_again(reading, why=why, by=by)
    return taken_back


def _checked(
    tool: Tool, kind: Inspection.Kind, drafts: Sequence[ReadingDraft], at: datetime, answers: Mapping[str, str],
    defects: Sequence[DefectDraft],
) -> list[Checked]:  # fmt: skip
    if not drafts and not defects:
        raise Refused(
            "inspection.empty",
            gettext_noop("This {kind} of tool {tool} has no reading."),
            next_step=gettext_noop("Enter at least one value."),
            field="drafts",
            kind=kind,
            tool=tool.number,
        )
    faces = {draft.face.pk: draft.face for draft in drafts} | {draft.face.pk: draft.face for draft in defects}
    check_defects(tool, defects, faces)
    # Whoever ends or begins a life of these faces meanwhile has to wait: a reading belongs to one life.
    list(Face.objects.select_for_update().filter(pk__in=faces).order_by("pk").values_list("pk"))
    asked = asked_of(faces.values(), at)
    going = Going(
        tool=tool,
        kind=kind,
        at=at,
        day=day_in(tool.plant, at),
        asked=asked,
        calibrations=calibrations_of([draft.gauge.pk for draft in drafts if draft.gauge], at),
        answers=answers,
        plaques=standings(plaques_of(drafts, asked), at),
    )
    return [check(index, draft, going) for index, draft in enumerate(drafts)]


def plaques_of(drafts: Sequence[ReadingDraft], asked: Mapping[int, Asked]) -> list[Plaque]:
    """Return the plaques that drafts were compared with: those that they name, else those of the specs."""
    found = []
    for draft in drafts:
        if Parameter(draft.parameter).by_eye:
            held = asked.get(draft.face.pk)
            found.append(draft.plaque or (held.spec.plaque if held and held.spec else None))
    return [plaque for plaque in found if plaque is not None]


def defect_row(inspection: Inspection, draft: DefectDraft) -> Defect:
    """Return the ledger row of a fault; it is not saved here."""
    return Defect(
        inspection=inspection,
        face=draft.face,
        spot=draft.spot,
        kind=draft.kind,
        size_mm=draft.size_mm,
        count=draft.count,
        note=draft.note[:200],
        by=inspection.by,
        at=inspection.at,
    )


def reading_row(inspection: Inspection, one: Checked) -> Reading:
    """Return the ledger row of a draft that was checked; it is not saved here."""
    draft = one.draft
    return Reading(
        inspection=inspection,
        face=draft.face,
        spot=draft.spot,
        life=one.asked.life,
        spec=one.spec,
        parameter=draft.parameter,
        where=draft.where,
        value=one.value,
        unit=one.unit,
        gauge=None if one.plaque else draft.gauge,
        plaque=one.plaque,
        gauge_overdue=one.doubtful,
        geometry_deg=one.geometry_deg,
        cutoff_mm=one.cutoff_mm,
        evaluation_length_mm=None if one.plaque else draft.evaluation_length_mm,
        direction=draft.direction,
        illuminant=draft.illuminant.strip() if one.plaque else "",
        view_angle_deg=draft.view_angle_deg if one.plaque else None,
        trace=draft.trace,
        conditions_agree=one.conditions_agree,
        by=inspection.by,
        at=inspection.at,
    )


def groups_of(inspection: Inspection, checked: Sequence[Checked], readings: Sequence[Reading]) -> Iterable[Group]:
    """Yield the readings of each limit at each spot, with what they are held against."""
    grouped: dict[tuple[int, int | None], list[Reading]] = {}
    first: dict[tuple[int, int | None], tuple[Checked, Limit, Sides]] = {}
    for one, reading in zip(checked, readings, strict=True):
        if one.limit is None or not one.conditions_agree:
            continue
        key = (one.limit.pk, reading.spot_id)
        grouped.setdefault(key, []).append(reading)
        first.setdefault(key, (one, one.limit, one.asked.sides(one.limit)))
    required = inspection.tool.plant.conformance_required
    for key, (one, limit, sides) in first.items():
        yield Group(
            inspection,
            deciding(grouped[key]),
            limit,
            one.spec,
            sides.lower,
            sides.upper,
            sides.concession,
            Decimal(required),
        )


def verdict_row(group: Group, worths: Mapping[int, Worth], *, by: Person) -> Verdict:
    """Return the ledger row of what a group of readings means; it is not saved here."""
    parameter = Parameter(group.limit.parameter)
    judged = _judged(group, worths)
    of = group.readings[0]
    plaque_governs = group.spec.acceptance == Acceptance.PLAQUE and not parameter.by_eye
    return Verdict(
        inspection=group.inspection,
        face=of.face,
        spot=of.spot,
        life=of.life,
        spec=group.spec,
        limit=group.limit,
        concession=group.concession,
        parameter=parameter,
        where=of.where,
        outcome=judged.outcome,
        acceptance=group.spec.acceptance,
        rule=judged.rule,
        statistic=Decimal(str(round(judged.statistic, 5))),
        count=judged.count,
        standard_uncertainty=Decimal(str(round(judged.standard_uncertainty, 6))),
        conformance=None if judged.conformance is None else Decimal(str(round(judged.conformance, 6))),
        required=group.required,
        lower=group.lower,
        upper=group.upper,
        for_release=group.inspection.kind in (Inspection.Kind.STEEL_CHECK, Inspection.Kind.PARTS_CHECK),
        informative=plaque_governs or any(reading.gauge_overdue for reading in group.readings),
        by=by,
        at=group.inspection.at,
    )


def _judged(group: Group, worths: Mapping[int, Worth]) -> Judged:
    terms = Terms(
        parameter=group.limit.parameter,
        lower=None if group.lower is None else float(group.lower),
        upper=None if group.upper is None else float(group.upper),
        edition=group.spec.drawing_edition,
        tolerance_rule=group.spec.tolerance_rule,
        acceptance=group.spec.acceptance,
        required=float(group.required),
    )
    values = [float(reading.value) for reading in group.readings]
    known = [gauge_uncertainty(reading, worths) for reading in group.readings]
    gauges = [gauge for gauge in known if gauge is not None]
    # Where several gauges were used, the least certain of them speaks for all.
    least_certain = max(gauges, key=lambda gauge: gauge.at(values[0]), default=None)
    return judge_values(values, terms, least_certain)


def _check_open(reading: Reading, why: str, at: datetime) -> None:
    not_in_future(at)
    # The face stands in for the row, which nobody may lock for change: two corrections at once meet here.
    Face.objects.select_for_update().get(pk=reading.face_id)
    if reading.void or Reading.objects.filter(supersedes=reading.pk).exists():
        raise Refused(
            "reading.already_corrected",
            gettext_noop("This reading of {face}, {value}, was put right before."),
            next_step=gettext_noop("Load the page again and put the latest one right."),
            face=str(reading.face),
            value=Quantity(reading.value, reading.unit),
        )
    if not why.strip():
        raise Refused(
            "reading.why_wanted",
            gettext_noop("A reading of {face} is put right only with a reason."),
            next_step=gettext_noop("Say what was wrong with {value}."),
            field="why",
            face=str(reading.face),
            value=Quantity(reading.value, reading.unit),
        )


def _copy_of(reading: Reading, *, value: Decimal, why: str, by: Person, void: bool) -> Reading:
    kept = {
        field.attname: getattr(reading, field.attname)
        for field in Reading._meta.concrete_fields
        if field.name not in ("id", "entered_at", "supersedes", "void", "why", "by", "value")
    }
    return Reading(**kept, value=value, supersedes=reading, void=void, why=why.strip(), by=by)


@transaction.atomic
def _judge_again(reading: Reading, *, why: str, by: Person) -> None:
    """Supersede the verdict that the reading went into, by what held for that verdict."""
    old = _verdict_of(reading)
    if old is None:
        return
    left = Reading.objects.usable().filter(
        inspection=reading.inspection_id,
        face=reading.face_id,
        spot=reading.spot_id,
        parameter=reading.parameter,
        where=reading.where,
        geometry_deg=reading.geometry_deg,
    )
    readings = list(left.select_related("gauge", "face", "spot", "life").order_by("id"))
    if readings:
        group = Group(
            old.inspection, deciding(readings), old.limit, old.spec, old.lower, old.upper, old.concession, old.required
        )
        new = verdict_row(group, worths_of({one.gauge_id for one in readings if one.gauge_id}, old.at), by=by)
        new.supersedes, new.why = old, why.strip()
    else:
        new = _void_of(old, why=why, by=by)
    new.save(force_insert=True)


def _verdict_of(reading: Reading) -> Verdict | None:
    if not reading.conditions_agree:
        return None
    found = Verdict.objects.in_force().filter(
        inspection=reading.inspection_id,
        face=reading.face_id,
        spot=reading.spot_id,
        parameter=reading.parameter,
        where=reading.where,
        limit__geometry_deg=reading.geometry_deg,
    )
    return found.select_related("inspection__tool__plant", "limit", "spec", "concession").first()


def _void_of(old: Verdict, *, why: str, by: Person) -> Verdict:
    kept = {
        field.attname: getattr(old, field.attname)
        for field in Verdict._meta.concrete_fields
        if field.name not in ("id", "entered_at", "supersedes", "void", "why", "by")
    }
    return Verdict(**kept, supersedes=old, void=True, why=why.strip(), by=by)
