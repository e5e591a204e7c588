"""What a reading must pass before it is taken: each fault names face, spot, value, limit and the next step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from django.utils import timezone

from shop.quality.asked import Asked
from shop.quality.models import Defect, Gauge, Inspection
from shop.quality.services.conditions import KEEP_UNJUDGED, angle_of, check_told, cutoff_of, cutoff_wanted
from shop.quality.services.drafts import LARGEST, At, Checked, DefectDraft, Going, ReadingDraft
from shop.quality.services.plaque_checks import plaque_of
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, Parameter, Spec, Tool, WhereMeasured
from shop.units import Quantity, convert

__all__ = [
    "KEEP_UNJUDGED",
    "STEP",
    "Checked",
    "DefectDraft",
    "Going",
    "ReadingDraft",
    "check",
    "check_defects",
    "cutoff_wanted",
    "not_in_future",
]

UNIT_OF = {parameter: "grade" if parameter.by_eye else "um" for parameter in Parameter} | {Parameter.GLOSS: "GU"}
GAUGES_FOR: dict[Parameter, tuple[Gauge.Kind, ...]] = {
    parameter: (Gauge.Kind.STYLUS, Gauge.Kind.OPTICAL) for parameter in Parameter if not parameter.by_eye
}
GAUGES_FOR[Parameter.GLOSS] = (Gauge.Kind.GLOSS,)
STEP = Decimal("0.0001")
LARGEST_MM = Decimal(1000)
MOST_FAULTS = 10_000
# Clocks of tablets and servers differ by a little.
AHEAD = timedelta(minutes=5)


def not_in_future(at: datetime) -> None:
    """Refuse a reading that has not happened yet."""
    if at > timezone.now() + AHEAD:
        raise Refused(
            "inspection.in_future",
            gettext_noop("{value} is in the future; the clock says {limit}."),
            next_step=gettext_noop("Enter when it was measured."),
            field="at",
            value=at,
            limit=timezone.now(),
        )


def check(index: int, draft: ReadingDraft, going: Going) -> Checked:
    """Return the draft as it may be taken.

    Raises
    ------
    Refused
        Where the draft cannot be taken, or a question must be answered first.
    """
    at = At(index, draft, going)
    asked, spec = _place(at)
    parameter = Parameter(draft.parameter)
    value, unit = _value(at, parameter)
    check_told(at, parameter)
    if parameter.by_eye:
        plaque, doubtful = plaque_of(at, spec)
        limit = next(iter(asked.limits_for(parameter, draft.where, _spot_id(draft))), None)
        return Checked(index, draft, asked, spec, value, unit, limit, plaque=plaque, doubtful=doubtful)
    gauge = _gauge(at, parameter)
    doubtful = _gauge_state(at, gauge)
    _mirror(at, gauge, spec)
    limits = asked.limits_for(parameter, draft.where, _spot_id(draft))
    if parameter == Parameter.GLOSS:
        limit, angle = angle_of(at, limits)
        agrees = limit is not None or not limits
        return Checked(
            index, draft, asked, spec, value, unit, limit, None, doubtful, geometry_deg=angle, conditions_agree=agrees
        )
    limit = next(iter(limits), None)
    cutoff, agrees = cutoff_of(at, limit, spec, value)
    return Checked(
        index, draft, asked, spec, value, unit, limit, None, doubtful, cutoff_mm=cutoff, conditions_agree=agrees
    )


def check_defects(tool: Tool, defects: Sequence[DefectDraft], faces: Mapping[int, Face]) -> None:
    """Refuse a fault on no face of the tool, of no kind, without size or count.

    Raises
    ------
    Refused
        Naming the row in `field` ("defects-<index>-<name>").
    """
    for index, draft in enumerate(defects):
        face = faces.get(draft.face.pk)
        fault = _defect_fault(draft, face is not None and face.insert.tool_id == tool.pk)
        if fault is None:
            continue
        field, template, step = fault
        raise Refused(
            f"defect.{field}",
            template,
            next_step=step,
            field=f"defects-{index}-{field}",
            face=str(draft.face),
            kind=Defect.Kind(draft.kind) if draft.kind in Defect.Kind.values else draft.kind,
            value=Quantity(draft.size_mm, "mm") if draft.size_mm.is_finite() else str(draft.size_mm),
            count=draft.count,
            tool=tool.number,
        )


def _defect_fault(draft: DefectDraft, on_tool: bool) -> tuple[str, str, str] | None:
    if not on_tool:
        return (
            "face",
            gettext_noop("{face} is not a face of tool {tool}."),
            gettext_noop("Choose a face of this tool."),
        )
    if draft.spot is not None and draft.spot.face_id != draft.face.pk:
        return "face", gettext_noop("This spot is not on {face}."), gettext_noop("Choose a spot of this face.")
    if draft.kind not in Defect.Kind.values:
        return (
            "kind",
            gettext_noop("“{kind}” is no kind of fault that is known here."),
            gettext_noop("Choose what the lamp showed."),
        )
    if not draft.size_mm.is_finite() or not 0 < draft.size_mm < LARGEST_MM:
        return (
            "size",
            gettext_noop("On {face}, {kind}: a size of {value} is not possible."),
            gettext_noop("Enter the longest extent under the loupe, in millimetres."),
        )
    if not 0 < draft.count <= MOST_FAULTS:
        return (
            "count",
            gettext_noop("On {face}, {kind}: {count} of them is not possible."),
            gettext_noop("Enter how many there are, at least one."),
        )
    return None


def _spot_id(draft: ReadingDraft) -> int | None:
    return draft.spot.pk if draft.spot else None


def _place(at: At) -> tuple[Asked, Spec]:
    draft, going = at.draft, at.going
    asked = going.asked.get(draft.face.pk)
    if asked is None or asked.face.insert.tool_id != going.tool.pk:
        raise at.refused(
            "reading.face_elsewhere",
            gettext_noop("{face} is not a face of tool {tool}."),
            "face",
            gettext_noop("Choose a face of this tool."),
            tool=going.tool.number,
        )
    if draft.spot is not None and draft.spot.face_id != draft.face.pk:
        raise at.refused(
            "reading.spot_elsewhere",
            gettext_noop("Spot {spot} is not on {face}."),
            "spot",
            gettext_noop("Choose a spot of this face."),
        )
    if asked.spec is None:
        raise at.refused(
            "reading.no_spec",
            gettext_noop("{face} had no finish spec on {at}, so {value} cannot be judged."),
            "face",
            gettext_noop("Specify its finish first, or correct the time."),
            at=going.at,
        )
    if asked.life is None and going.kind != Inspection.Kind.STEEL_CHECK:
        raise at.refused(
            "reading.between_lives",
            gettext_noop("{face} had no finish on {at}: it was in work, and {value} belongs to no finish life."),
            "face",
            gettext_noop("Record it as a steel check, or correct the time."),
            at=going.at,
        )
    return asked, asked.spec


def _value(at: At, parameter: Parameter) -> tuple[Decimal, str]:
    unit = UNIT_OF[parameter]
    if not at.draft.value.is_finite():
        raise at.refused(
            "number.not_read",
            gettext_noop("The value for {parameter} at {spot} is not a number."),
            "value",
            gettext_noop("Enter it in plain digits, for instance 0.8 or 0,8."),
            value=str(at.draft.value),
        )
    try:
        value = convert(at.draft.value, at.draft.unit, unit).quantize(STEP) if at.draft.value < LARGEST else LARGEST
    except Refused as refused:
        raise at.refused(refused.code, refused.template, "unit", refused.next_step, **refused.values) from None
    if parameter.by_eye:
        if value not in (-2, -1, 0, 1, 2):
            raise at.refused(
                "reading.grade_off_scale",
                gettext_noop("{parameter} at {spot} of {face} cannot be graded {value}; the grades go from -2 to 2."),
                "value",
                gettext_noop("Choose one of the five grades."),
                limit=Quantity(Decimal(2), "grade"),
            )
    elif value < 0 or value >= LARGEST:
        raise at.refused(
            "reading.impossible_value",
            gettext_noop("{parameter} at {spot} of {face} cannot be {value}."),
            "value",
            gettext_noop("Read the gauge again: the value lies above zero and below {limit}."),
            limit=Quantity(LARGEST, unit),
        )
    return value, unit


def _gauge(at: At, parameter: Parameter) -> Gauge:
    gauge = at.draft.gauge
    if parameter == Parameter.GLOSS and at.draft.where != WhereMeasured.PART:
        raise at.refused(
            "reading.gloss_is_read_on_the_part",
            gettext_noop("Gloss {value} at {spot} of {face} was read on {where}: bare steel says nothing about it."),
            "where",
            gettext_noop("Read it on a moulded part."),
            where=WhereMeasured(at.draft.where),
        )
    if gauge is None:
        raise at.refused(
            "reading.no_gauge",
            gettext_noop("{parameter} {value} at {spot} of {face} names no gauge."),
            "gauge",
            gettext_noop("Choose the gauge that you measured with."),
        )
    if gauge.kind not in GAUGES_FOR[parameter] or gauge.plant_id != at.going.tool.plant_id:
        raise at.refused(
            "reading.wrong_gauge",
            gettext_noop("Gauge {gauge} ({kind}) does not read {parameter} at {spot} of {face}."),
            "gauge",
            gettext_noop("Choose the gauge that you measured with."),
            gauge=gauge.number,
            kind=Gauge.Kind(gauge.kind),
        )
    return gauge


def _gauge_state(at: At, gauge: Gauge) -> bool:
    """Return whether the gauge may only inform; refuse it where a release rests on the reading."""
    last = at.going.calibrations.get(gauge.pk)
    retired = gauge.retired_at is not None and gauge.retired_at <= at.going.at
    doubtful = last is None or not last.passed or last.due_on < at.going.day or retired
    if doubtful and at.going.kind.releases:
        failed = last is not None and not last.passed
        raise at.refused(
            "gauge.failed" if failed else "gauge.overdue",
            gettext_noop("Gauge {gauge} failed its calibration: {face} cannot be released by it.")
            if failed
            else gettext_noop("Gauge {gauge} was due for calibration on {limit}: {face} cannot be released by it.")
            if last is not None
            else gettext_noop("Gauge {gauge} was never calibrated: {face} cannot be released by it."),
            "gauge",
            gettext_noop("Measure with a gauge in date, or have this one calibrated first."),
            gauge=gauge.number,
            limit=last.due_on if last else None,
        )
    return doubtful


MIRROR_CHOICES = (
    ("outside_optical", gettext_noop("It was measured outside the optical area")),
    ("witness_coupon", gettext_noop("It was measured on a witness coupon")),
)


def _mirror(at: At, gauge: Gauge, spec: Spec) -> None:
    mirror = spec.scale == Spec.Scale.GRADE and spec.code.upper().startswith("A")
    touched = gauge.kind == Gauge.Kind.STYLUS and at.draft.where == WhereMeasured.STEEL
    code = "reading.stylus_on_mirror"
    if mirror and touched and not at.answered(code, MIRROR_CHOICES):
        raise at.refused(
            code,
            gettext_noop("A stylus marks a mirror: {face} is {limit}, and gauge {gauge} touches it."),
            "gauge",
            gettext_noop("Measure optically or on a replica, or say where the stylus ran."),
            gauge=gauge.number,
            limit=spec.code,
            choices=MIRROR_CHOICES,
        )
