"""What a reading must pass before it is taken: each fault names face, spot, value, limit and the next step."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.utils import timezone

from shop.quality.asked import Asked
from shop.quality.models import Calibration, Gauge, Inspection
from shop.refusal import Refused, gettext_noop
from shop.standards import roughness
from shop.tooling.models import Face, Limit, Parameter, Plaque, Spec, Spot, Tool, WhereMeasured
from shop.units import Quantity, convert

UNIT_OF = {parameter: "grade" if parameter.by_eye else "um" for parameter in Parameter} | {Parameter.GLOSS: "GU"}
GAUGES_FOR: dict[Parameter, tuple[Gauge.Kind, ...]] = {
    parameter: (Gauge.Kind.STYLUS, Gauge.Kind.OPTICAL) for parameter in Parameter if not parameter.by_eye
}
GAUGES_FOR[Parameter.GLOSS] = (Gauge.Kind.GLOSS,)
KEEP_UNJUDGED = ("keep_unjudged", gettext_noop("Keep it without a verdict"))
STEP = Decimal("0.0001")
LARGEST = Decimal(999_999)
# Clocks of tablets and servers differ by a little.
AHEAD = timedelta(minutes=5)


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
class _At:
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
    at = _At(index, draft, going)
    asked, spec = _place(at)
    parameter = Parameter(draft.parameter)
    value, unit = _value(at, parameter)
    if parameter.by_eye:
        plaque, doubtful = _plaque(at, spec)
        limit = next(iter(asked.limits_for(parameter, draft.where, _spot_id(draft))), None)
        return Checked(index, draft, asked, spec, value, unit, limit, plaque=plaque, doubtful=doubtful)
    gauge = _gauge(at, parameter)
    doubtful = _gauge_state(at, gauge)
    _mirror(at, gauge, spec)
    limits = asked.limits_for(parameter, draft.where, _spot_id(draft))
    if parameter == Parameter.GLOSS:
        limit, angle = _angle(at, limits)
        agrees = limit is not None or not limits
        return Checked(
            index, draft, asked, spec, value, unit, limit, None, doubtful, geometry_deg=angle, conditions_agree=agrees
        )
    limit = next(iter(limits), None)
    cutoff, agrees = _cutoff(at, limit, spec, value)
    return Checked(
        index, draft, asked, spec, value, unit, limit, None, doubtful, cutoff_mm=cutoff, conditions_agree=agrees
    )


def _spot_id(draft: ReadingDraft) -> int | None:
    return draft.spot.pk if draft.spot else None


def _place(at: _At) -> tuple[Asked, Spec]:
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


def _value(at: _At, parameter: Parameter) -> tuple[Decimal, str]:
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


def _plaque(at: _At, spec: Spec) -> tuple[Plaque, bool]:
    plaque = at.draft.plaque or spec.plaque
    if plaque is None:
        raise at.refused(
            "reading.no_plaque",
            gettext_noop("{parameter} at {spot} of {face} is compared with a plaque, and none is named."),
            "plaque",
            gettext_noop("Choose the plaque that you compared with."),
        )
    expired = plaque.expires_on is not None and plaque.expires_on < at.going.day
    if expired and at.going.kind.releases:
        raise at.refused(
            "plaque.expired",
            gettext_noop("Plaque {plaque} ran out on {limit}: {face} cannot be released by it."),
            "plaque",
            gettext_noop("Compare with a plaque in date."),
            plaque=plaque.number,
            limit=plaque.expires_on,
        )
    return plaque, expired


def _gauge(at: _At, parameter: Parameter) -> Gauge:
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


def _gauge_state(at: _At, gauge: Gauge) -> bool:
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


def _mirror(at: _At, gauge: Gauge, spec: Spec) -> None:
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


def _angle(at: _At, limits: list[Limit]) -> tuple[Limit | None, int | None]:
    """Return the limit of the angle that was used; no angle said means the only one that the spec names."""
    angle = at.draft.geometry_deg
    if angle is None:
        if len(limits) > 1:
            raise at.refused(
                "reading.angle_wanted",
                gettext_noop("Gloss {value} at {spot} of {face} does not say its angle; the spec names {limit}."),
                "geometry_deg",
                gettext_noop("Choose the angle that the gauge was set to."),
                limit=_angles(limits),
            )
        return (limits[0], limits[0].geometry_deg) if limits else (None, None)
    found = next((limit for limit in limits if limit.geometry_deg == angle), None)
    code = "reading.angle_not_in_spec"
    if limits and found is None and not at.answered(code, (KEEP_UNJUDGED,)):
        raise at.refused(
            code,
            gettext_noop("Gloss {value} at {spot} of {face} was read at {angle}; the spec names {limit}."),
            "geometry_deg",
            gettext_noop("Read it at the spec's angle: angles do not convert. Or keep it without a verdict."),
            angle=Quantity(Decimal(angle), "deg"),
            limit=_angles(limits),
            choices=(KEEP_UNJUDGED,),
        )
    return found, angle


def _angles(limits: list[Limit]) -> list[Quantity]:
    return [Quantity(Decimal(limit.geometry_deg or 0), "deg") for limit in limits]


def _cutoff(at: _At, limit: Limit | None, spec: Spec, value: Decimal) -> tuple[Decimal | None, bool]:
    """Return the cut-off that was used and whether it is the one to use; none said means that one."""
    wanted = cutoff_wanted(limit, spec, value)
    used = at.draft.cutoff_mm
    if used is None or wanted is None or used == wanted:
        return used or wanted, True
    code = "reading.cutoff_not_in_spec"
    if not at.answered(code, (KEEP_UNJUDGED,)):
        raise at.refused(
            code,
            gettext_noop("{parameter} {value} at {spot} of {face} was read with cut-off {cutoff}; it takes {limit}."),
            "cutoff_mm",
            gettext_noop("Measure with cut-off {limit}, or keep it without a verdict."),
            cutoff=Quantity(used, "mm"),
            limit=Quantity(wanted, "mm"),
            choices=(KEEP_UNJUDGED,),
        )
    return used, False


def cutoff_wanted(limit: Limit | None, spec: Spec, value: Decimal) -> Decimal | None:
    """Return the cut-off that spec or drawing edition ask for; None where neither says one."""
    if limit is not None and limit.cutoff_mm is not None:
        return limit.cutoff_mm
    if limit is None or limit.parameter not in (Parameter.RA, Parameter.RZ):
        return None
    if spec.drawing_edition == Spec.Edition.ASME:
        return None
    # The older edition goes by what is measured, the newer by the limit.
    size = value if spec.drawing_edition == Spec.Edition.ISO_1996 else limit.upper or limit.lower
    if not size:
        return None
    try:
        found = roughness.measuring_conditions(limit.parameter, float(size), spec.drawing_edition)
    except Refused:
        return None
    return Decimal(str(found.cutoff_mm))
