"""Book the steel that the work of a line took."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from shop.bench.models import Line, Work
from shop.bench.services import working
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face
from shop.tooling.services import faces


def book(line: Line, face: Face, taken_um: Decimal | None, *, work: str, by: Person, at: datetime) -> None:
    """Book what the work took of the face, or the allowance that a re-cut gave it."""
    if line.work == Work.RECUT:
        if taken_um is None:
            raise Refused(
                "steel.no_allowance",
                gettext_noop("{face} was re-cut: its new allowance is missing."),
                next_step=gettext_noop("Enter what wall and shut-off let refinishing take from now on."),
                field="steel_um",
                face=str(face),
            )
        faces.recut(face=face, allowance_um=taken_um, work=work, by=by, at=at)
        return
    depth_um = working.steel_to_book(line) if taken_um is None else taken_um
    if depth_um > 0:
        faces.take_steel(face=face, depth_um=depth_um, work=work, by=by, at=at)
