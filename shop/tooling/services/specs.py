"""Writing finish specs by revision, and the concessions that relax them for a while."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from shop.ledger.services import once
from shop.people import ra_table
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Concession, Face, Limit, Parameter, Plaque, Spec
from shop.tooling.reading import local_day, spec_at
from shop.tooling.services import spec_checks
from shop.tooling.services.checks import not_in_future, says_why
from shop.tooling.services.spec_checks import LimitDraft
from shop.units import Quantity

__all__ = ["LimitDraft", "grant_concession", "revise", "withdraw_concession"]


@once("spec", Spec, timed=False)
def revise(
    *,
    face: Face,
    reason: str,
    how_made: str,
    scale: str,
    drawing_edition: str,
    acceptance: str,
    by: Person,
    at: datetime,
    code: str = "",
    limits: Sequence[LimitDraft] = (),
    plaque: Plaque | None = None,
    pattern_depth_um: Decimal | None = None,
    micro_matt: bool = False,
    tolerance_rule: str = "",
    answers: Mapping[str, str] | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Spec:
    """Write the next revision of the face's finish spec; it holds from `at`, the ones before stay.

    The first revision may leave its reason out; it is then the first issue.
    """
    not_in_future(at, code="spec.in_future")
    Face.objects.select_for_update().get(pk=face.pk)
    last = Spec.objects.filter(face=face).order_by("-revision").first()
    reason = reason.strip() or ("" if last else "first issue")
    says_why(reason, code="spec.reason_wanted", field="reason")
    if last is not None and at < last.at:
        raise Refused(
            "spec.before_last",
            gettext_noop("Revision {revision} holds from {from_at}; the next cannot hold from {at}."),
            next_step=gettext_noop("Give a time from {from_at} on."),
            field="at",
            revision=last.revision,
            from_at=last.at,
            at=at,
        )
    limits = list(limits)
    spec_checks.check_limits(face, limits)
    spec_checks.check_code(scale, code)
    spec_checks.check_plaque(face, scale, acceptance, plaque, limits)
    spec_checks.check_lower_on_polish(how_made, limits, answers or {})
    spec = Spec.objects.create(
        face=face,
        revision=last.revision + 1 if last else 1,
        reason=reason,
        how_made=how_made,
        scale=scale,
        code=code,
        plaque=plaque,
        pattern_depth_um=pattern_depth_um,
        micro_matt=micro_matt,
        grade_ra_table=ra_table.name_of(face.insert.tool.plant),
        drawing_edition=drawing_edition,
        tolerance_rule=tolerance_rule,
        acceptance=acceptance,
        by=by,
        at=at,
    )
    Limit.objects.bulk_create(_limit(spec, limit) for limit in limits)
    return spec


@once("concession", Concession, timed=False)
def grant_concession(
    *,
    face: Face,
    number: str,
    parameter: str,
    reason: str,
    by: Person,
    at: datetime,
    lower: Decimal | None = None,
    upper: Decimal | None = None,
    until_on: date | None = None,
    until_insert_shots: int | None = None,
    until_quantity: int | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Concession:
    """Write down the customer's leave to run the face outside its spec, until it ends."""
    not_in_future(at, code="concession.in_future")
    reason = says_why(reason, code="concession.reason_wanted", field="reason")
    if not number.strip():
        raise Refused(
            "concession.number_wanted",
            gettext_noop("A concession has the customer's number."),
            next_step=gettext_noop("Enter the number under which the customer gave it."),
            field="number",
        )
    _check_ends(face, at, until_on, until_insert_shots, until_quantity)
    _check_relaxes(face, parameter, lower, upper, at)
    return Concession.objects.create(
        face=face,
        number=number.strip(),
        parameter=parameter,
        lower=lower,
        upper=upper,
        reason=reason,
        until_on=until_on,
        until_insert_shots=until_insert_shots,
        until_quantity=until_quantity,
        by=by,
        at=at,
    )


@once("concession withdrawn", Concession, timed=False)
def withdraw_concession(
    *,
    concession: Concession,
    why: str,
    by: Person,
    at: datetime,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Concession:
    """Take the concession away from `at` on; what was judged by it before stays judged."""
    why = says_why(why, code="concession.withdrawn_without_reason")
    not_in_future(at, code="concession.in_future")
    held = Concession.objects.select_for_update().get(pk=concession.pk)
    if held.void or Concession.objects.filter(supersedes=held).exists():
        raise Refused(
            "concession.already_withdrawn",
            gettext_noop("Concession {number} was withdrawn before."),
            next_step=gettext_noop("Load the page again."),
            number=held.number,
        )
    return Concession.objects.create(
        face=held.face,
        number=held.number,
        parameter=held.parameter,
        lower=held.lower,
        upper=held.upper,
        reason=held.reason,
        until_on=held.until_on,
        until_insert_shots=held.until_insert_shots,
        until_quantity=held.until_quantity,
        supersedes=held,
        void=True,
        why=why,
        by=by,
        at=at,
    )


def _limit(spec: Spec, limit: LimitDraft) -> Limit:
    return Limit(
        spec=spec,
        parameter=limit.parameter,
        spot=limit.spot,
        where=limit.where,
        lower=limit.lower,
        upper=limit.upper,
        unit=limit.unit,
        geometry_deg=limit.geometry_deg,
        cutoff_mm=limit.cutoff_mm,
        by=spec.by,
        at=spec.at,
    )


def _check_ends(face: Face, at: datetime, until_on: date | None, shots: int | None, quantity: int | None) -> None:
    if until_on is None and not shots and not quantity:
        raise Refused(
            "concession.without_end",
            gettext_noop("This concession would never end."),
            next_step=gettext_noop("Give a date, a count of shots or a quantity of parts at which it ends."),
            field="until_on",
        )
    granted_on = local_day(face, at)
    if until_on is not None and until_on < granted_on:
        raise Refused(
            "concession.ended_before",
            gettext_noop("This concession would end on {until_on}, before it is granted on {granted_on}."),
            next_step=gettext_noop("Check both dates."),
            field="until_on",
            until_on=until_on,
            granted_on=granted_on,
        )


def _check_relaxes(face: Face, parameter: str, lower: Decimal | None, upper: Decimal | None, at: datetime) -> None:
    spec = spec_at(face, at)
    limits = [] if spec is None else [limit for limit in spec.limits.all() if limit.parameter == parameter]
    if not limits:
        raise Refused(
            "concession.nothing_limited",
            gettext_noop("The spec of face {face} has no limit for {parameter}."),
            next_step=gettext_noop("Choose a parameter that the spec limits."),
            field="parameter",
            face=str(face),
            parameter=Parameter(parameter).label,
        )
    if lower is None and upper is None:
        raise Refused(
            "concession.without_side",
            gettext_noop("The concession relaxes neither side."),
            next_step=gettext_noop("Enter the limit that the customer allows."),
            field="upper",
        )
    uppers = [limit.upper for limit in limits if limit.upper is not None]
    lowers = [limit.lower for limit in limits if limit.lower is not None]
    unit = limits[0].unit
    if upper is not None and (not uppers or upper <= min(uppers)):
        raise _not_relaxed("upper", parameter, upper, min(uppers, default=None), unit)
    if lower is not None and (not lowers or lower >= max(lowers)):
        raise _not_relaxed("lower", parameter, lower, max(lowers, default=None), unit)


def _not_relaxed(side: str, parameter: str, wanted: Decimal, limit: Decimal | None, unit: str) -> Refused:
    if limit is None:
        return Refused(
            "concession.side_not_in_spec",
            gettext_noop("The spec does not limit {parameter} on that side, so {wanted} would tighten it."),
            next_step=gettext_noop("Leave that side empty."),
            field=side,
            parameter=Parameter(parameter).label,
            wanted=Quantity(wanted, unit),
        )
    return Refused(
        "concession.not_relaxed",
        gettext_noop("{wanted} is no wider than the spec's {limit} for {parameter}; a concession only relaxes."),
        next_step=gettext_noop("Check the limit, or revise the spec to make it tighter."),
        field=side,
        parameter=Parameter(parameter).label,
        wanted=Quantity(wanted, unit),
        limit=Quantity(limit, unit),
    )
