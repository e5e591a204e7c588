"""Write the inspection plan."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person
from shop.quality.models import PlanItem
from shop.refusal import Refused, Word, gettext_noop
from shop.tooling.models import Face, Spot


@transaction.atomic
def plan(
    *,
    face: Face,
    parameter: str,
    where: str,
    by: Person,
    at: datetime,
    spot: Spot | None = None,
    every_shots: int | None = None,
    every_days: int | None = None,
    values_wanted: int = 1,
    direction: str = "",
    condition: str = "",
) -> PlanItem:
    """Plan a measurement; one that is planned for the same place already ends and gives way."""
    _check(face, parameter, where, spot, every_shots, every_days)
    Face.objects.select_for_update().get(pk=face.pk)
    before = PlanItem.objects.in_force().filter(face=face, parameter=parameter, spot=spot, where=where).first()
    if before is not None:
        end(item=before, by=by, at=at, why="planned anew")
    item = PlanItem.objects.create(
        face=face,
        parameter=parameter,
        where=where,
        spot=spot,
        every_shots=every_shots,
        every_days=every_days,
        values_wanted=max(1, values_wanted),
        direction=direction,
        condition=condition,
    )
    record_change(item, "planned", "", f"{every_shots or '-'} shots, {every_days or '-'} days", by=by, at=at)
    return item


@transaction.atomic
def end(*, item: PlanItem, by: Person, at: datetime, why: str = "") -> PlanItem:
    """End a planned measurement."""
    held: PlanItem = PlanItem.objects.select_for_update().get(pk=item.pk)
    if held.ended_at is None:
        held.ended_at = at
        held.save(update_fields=["ended_at"])
        record_change(held, "ended_at", None, at, by=by, at=at, why=why)
    return held


def _check(
    face: Face, parameter: str, where: str, spot: Spot | None, every_shots: int | None, every_days: int | None
) -> None:
    if not every_shots and not every_days:
        raise Refused(
            "plan.how_often",
            gettext_noop("{parameter} on {face} is planned neither by shots nor by days."),
            next_step=gettext_noop("Enter after how many shots or days it must be measured."),
            field="every_shots",
            parameter=Word(parameter),
            face=str(face),
        )
    if spot is not None and spot.face_id != face.pk:
        raise Refused(
            "plan.spot_elsewhere",
            gettext_noop("Spot {spot} is not on {face}."),
            next_step=gettext_noop("Choose a spot of this face."),
            field="spot",
            spot=spot.name,
            face=str(face),
        )
    if parameter == "gloss" and where != "part":
        raise Refused(
            "reading.gloss_is_read_on_the_part",
            gettext_noop("Gloss on {face} cannot be read on {where}: steel says nothing about it."),
            next_step=gettext_noop("Plan it on the moulded part."),
            field="where",
            face=str(face),
            where=Word(where),
        )
