"""The conditions a value was taken under: angle, cut-off, evaluation length, lay, light."""

from __future__ import annotations

from decimal import Decimal

from shop.quality.models import Reading
from shop.quality.services.drafts import At
from shop.refusal import Refused, gettext_noop
from shop.standards import roughness
from shop.tooling.models import Limit, Parameter, Spec
from shop.units import Quantity

KEEP_UNJUDGED = ("keep_unjudged", gettext_noop("Keep it without a verdict"))

LONGEST_MM = Decimal(200)
MOST_WORDS = 20


def check_told(at: At, parameter: Parameter) -> None:
    """Refuse a direction, an evaluation length or a light that cannot be."""
    draft = at.draft
    if draft.direction and draft.direction not in Reading.Direction.values:
        raise at.refused(
            "reading.no_such_direction",
            gettext_noop("“{limit}” is no direction for {parameter} at {spot} of {face}."),
            "direction",
            gettext_noop("Choose across or along the lay."),
            limit=draft.direction,
        )
    length = draft.evaluation_length_mm
    if length is not None and not parameter.by_eye:
        _check_length(at, length)
    if len(draft.illuminant) > MOST_WORDS or (draft.view_angle_deg is not None and not 0 <= draft.view_angle_deg <= 90):
        raise at.refused(
            "reading.light_not_possible",
            gettext_noop("{face} cannot have been looked at in the light {limit} from {angle}°."),
            "view_angle_deg",
            gettext_noop("Name the light in a few letters, as D65, and give an angle from 0 to 90 degrees."),
            limit=draft.illuminant or "–",
            angle="–" if draft.view_angle_deg is None else draft.view_angle_deg,
        )


def _check_length(at: At, length: Decimal) -> None:
    if not length.is_finite() or not 0 < length <= LONGEST_MM:
        raise at.refused(
            "reading.evaluation_length_impossible",
            gettext_noop("An evaluation length of {length} mm is not possible at {spot} of {face}."),
            "evaluation_length_mm",
            gettext_noop("Enter what the gauge was set to, above 0 and up to {limit} mm."),
            length=str(length),
            limit=LONGEST_MM,
        )
    if at.draft.cutoff_mm is not None and length < at.draft.cutoff_mm:
        raise at.refused(
            "reading.evaluation_length_below_cutoff",
            gettext_noop("{face}, {spot}: no sampling length of {limit} fits into an evaluation length of {length}."),
            "evaluation_length_mm",
            gettext_noop("Enter the length that was evaluated, at least one cut-off."),
            length=Quantity(length, "mm"),
            limit=Quantity(at.draft.cutoff_mm, "mm"),
        )


def angle_of(at: At, limits: list[Limit]) -> tuple[Limit | None, int | None]:
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


def cutoff_of(at: At, limit: Limit | None, spec: Spec, value: Decimal) -> tuple[Decimal | None, bool]:
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
