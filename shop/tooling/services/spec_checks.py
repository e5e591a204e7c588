"""What a finish spec must satisfy before it is written."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation

from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Acceptance, Face, HowMade, Parameter, Plaque, Spec, Spot, WhereMeasured
from shop.units import Quantity

ANGLES_DEG = (20, 60, 85)
UNITS = {
    Parameter.RA: "um",
    Parameter.RQ: "um",
    Parameter.RZ: "um",
    Parameter.GLOSS: "GU",
    Parameter.LOOK_GLOSS: "grade",
    Parameter.LOOK_ROUGHNESS: "grade",
}
VDI_HIGHEST = 45


@dataclass(frozen=True)
class LimitDraft:
    """A limit to be entered: the sides in `unit` (um, GU or grade), of which at least one is given."""

    parameter: str
    where: str
    lower: Decimal | None
    upper: Decimal | None
    unit: str
    spot: Spot | None = None
    geometry_deg: int | None = None
    cutoff_mm: Decimal | None = None


def check_limit(face: Face, limit: LimitDraft) -> None:
    """Refuse a limit that says nothing, or something that cannot be measured."""
    name = Parameter(limit.parameter).label
    _check_sides(limit, str(name))
    if limit.spot is not None and limit.spot.face_id != face.pk:
        raise Refused(
            "spec.spot_of_another_face",
            gettext_noop("Spot {spot} does not lie on face {face}."),
            next_step=gettext_noop("Choose a spot of this face, or none for the whole face."),
            field="limits",
            spot=limit.spot.name,
            face=str(face),
        )
    if limit.unit != UNITS[Parameter(limit.parameter)]:
        raise Refused(
            "spec.limit_unit",
            gettext_noop("{parameter} is not limited in {unit}."),
            next_step=gettext_noop("Enter the limit in {wanted}."),
            field="limits",
            parameter=name,
            unit=limit.unit,
            wanted=UNITS[Parameter(limit.parameter)],
        )
    if limit.parameter == Parameter.GLOSS:
        _check_gloss(limit)


def _check_sides(limit: LimitDraft, name: str) -> None:
    if limit.lower is None and limit.upper is None:
        raise Refused(
            "spec.limit_without_side",
            gettext_noop("The limit for {parameter} has neither a lower nor an upper side."),
            next_step=gettext_noop("Enter at least one side, or leave the limit out."),
            field="limits",
            parameter=name,
        )
    if limit.lower is not None and limit.upper is not None and limit.lower >= limit.upper:
        raise Refused(
            "spec.limit_sides",
            gettext_noop("For {parameter} the lower side {lower} is not below the upper side {upper}."),
            next_step=gettext_noop("Check both sides."),
            field="limits",
            parameter=name,
            lower=Quantity(limit.lower, limit.unit),
            upper=Quantity(limit.upper, limit.unit),
        )


def _check_gloss(limit: LimitDraft) -> None:
    if limit.where != WhereMeasured.PART:
        raise Refused(
            "spec.gloss_on_steel",
            gettext_noop("Gloss is measured on the moulded part, not on {where}."),
            next_step=gettext_noop("Limit gloss on the part, and roughness on the steel or a replica."),
            field="limits",
            where=WhereMeasured(limit.where).label,
        )
    if limit.geometry_deg not in ANGLES_DEG:
        raise Refused(
            "spec.gloss_without_angle",
            gettext_noop("A gloss limit names its angle, for gloss at one angle says nothing of another."),
            next_step=gettext_noop("Give 20, 60 or 85 degrees, as the drawing has it."),
            field="limits",
        )


def check_limits(face: Face, limits: Sequence[LimitDraft]) -> None:
    """Refuse a limit that cannot be, and one that is given twice."""
    for limit in limits:
        check_limit(face, limit)
    check_twice(limits)


def check_twice(limits: Sequence[LimitDraft]) -> None:
    """Refuse two limits for the same parameter, place, spot and angle."""
    seen = set()
    for limit in limits:
        key = (limit.parameter, limit.spot and limit.spot.pk, limit.where, limit.geometry_deg)
        if key in seen:
            raise Refused(
                "spec.limit_twice",
                gettext_noop("{parameter} is limited twice at the same place."),
                next_step=gettext_noop("Keep one of the two."),
                field="limits",
                parameter=Parameter(limit.parameter).label,
            )
        seen.add(key)


def check_lower_on_polish(how_made: str, limits: Sequence[LimitDraft], answers: Mapping[str, object]) -> None:
    """Ask whether smoother than a roughness is really off spec on a polish: a published band's lower edge is not."""
    asked = "spec.lower_on_polish"
    if how_made not in (HowMade.POLISHED, HowMade.STONED) or answers.get(asked) == "yes_keep":
        return
    for limit in limits:
        if limit.parameter in (Parameter.RA, Parameter.RQ, Parameter.RZ) and limit.lower is not None:
            raise Refused(
                asked,
                gettext_noop(
                    "A lower side of {lower} for {parameter} would make a face that is polished better off spec."
                ),
                next_step=gettext_noop(
                    "Leave the lower side empty where it is only the edge of a published band; keep it where the "
                    "customer wants it no smoother."
                ),
                field="limits",
                question=True,
                choices=(("yes_keep", gettext_noop("Keep it: smoother is off spec")),),
                parameter=Parameter(limit.parameter).label,
                lower=Quantity(limit.lower, limit.unit),
            )


def check_plaque(face: Face, scale: str, acceptance: str, plaque: Plaque | None, limits: Sequence[LimitDraft]) -> None:
    """Refuse a spec that rests on a plaque and names none, one of another plant, or one out of use."""
    by_eye = any(Parameter(limit.parameter).by_eye for limit in limits)
    if plaque is None and (acceptance == Acceptance.PLAQUE or scale == Spec.Scale.PLAQUE or by_eye):
        raise Refused(
            "spec.plaque_wanted",
            gettext_noop("This spec is decided by plaque, and no plaque is named."),
            next_step=gettext_noop("Choose the signed plaque, or decide by measured values."),
            field="plaque",
        )
    if plaque is not None and plaque.plant_id != face.insert.tool.plant_id:
        raise Refused(
            "spec.plaque_of_another_plant",
            gettext_noop("Plaque {plaque} is kept in another plant."),
            next_step=gettext_noop("Choose a plaque of this plant."),
            field="plaque",
            plaque=plaque.number,
        )
    if plaque is not None and plaque.withdrawn_at is not None:
        raise Refused(
            "spec.plaque_withdrawn",
            gettext_noop("{plaque} was withdrawn on {at}: {because}"),
            next_step=gettext_noop("Choose the signed plaque, or decide by measured values."),
            field="plaque",
            plaque=plaque.number,
            at=plaque.withdrawn_at,
            because=plaque.withdrawn_because,
        )


def check_code(scale: str, code: str) -> None:
    """Refuse a code that the scale does not have."""
    known = {
        Spec.Scale.VDI: _is_vdi(code),
        Spec.Scale.GRADE: re.fullmatch(r"[A-D]-[123]", code) is not None,
        Spec.Scale.N: re.fullmatch(r"N([1-9]|1[0-2])", code) is not None,
    }
    if not known.get(Spec.Scale(scale), True):
        raise Refused(
            "spec.code_unknown",
            gettext_noop("{scale} has no {entered}."),
            next_step=gettext_noop("VDI 3400 goes from 0 to 45, grades from A-1 to D-3, N grades from N1 to N12."),
            field="code",
            scale=Spec.Scale(scale).label,
            entered=code or "-",
        )


def _is_vdi(code: str) -> bool:
    try:
        return 0 <= Decimal(code) <= VDI_HIGHEST
    except InvalidOperation:
        return False
