"""Planning the interval in shots after which a face is called whatever it reads."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from uuid import UUID

from shop.ledger.services import once, record_change
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face
from shop.tooling.services.checks import says_why
from shop.units import Quantity
from shop.watch.models import RefinishInterval

FIELD = "refinish interval"
MOST_SHOTS = 100_000_000


@once("refinish interval", Face, timed=False)
def plan_interval(
    *,
    face: Face,
    shots: int | None,
    why: str,
    by: Person,
    at: datetime,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Face:
    """Set the face's planned interval; without `shots` none is planned any more.

    Raises
    ------
    Refused
        When no reason is given, or no face could run that many shots.
    """
    why = says_why(why, code="interval.reason_wanted")
    if shots is not None and not 0 < shots <= MOST_SHOTS:
        raise Refused(
            "interval.not_possible",
            gettext_noop("An interval of {shots} is not between 1 shot and {most}."),
            next_step=gettext_noop("Enter how many shots the finish is to run, or leave it empty for no interval."),
            field="shots",
            shots=Quantity(Decimal(shots), "shots"),
            most=Quantity(Decimal(MOST_SHOTS), "shots"),
        )
    held: Face = Face.objects.select_for_update().get(pk=face.pk)
    planned = RefinishInterval.objects.filter(face=held).first()
    if shots is None:
        RefinishInterval.objects.filter(face=held).delete()
    else:
        RefinishInterval.objects.update_or_create(face=held, defaults={"shots": shots})
    # On the face, so that the trail goes on where an interval is dropped and planned anew.
    record_change(held, FIELD, planned.shots if planned else None, shots, by=by, at=at, why=why)
    return held
