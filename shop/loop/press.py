"""News from the press: shots, put right or taken away, and damage."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from shop.loop.pieces import faces_of, fitted_faces, look, propose
from shop.people.models import Person
from shop.press.models import Damage, ShotEntry
from shop.press.services import damage as press_damage
from shop.press.services import shots
from shop.tooling.models import Tool
from shop.watch.services import calls


@transaction.atomic
def shots_logged(*, tool: Tool, by: Person, at: datetime, **counted: Any) -> ShotEntry:
    """Take shots into the ledger, and look at every face that made them."""
    entry = shots.log(tool=tool, by=by, at=at, **counted)
    look(fitted_faces(tool), at=at)
    return entry


@transaction.atomic
def shots_corrected(*, entry: ShotEntry, why: str, by: Person, at: datetime, **counted: Any) -> ShotEntry:
    """Put a shot entry right, and look again at every face of the tool."""
    corrected = shots.correct(entry=entry, why=why, by=by, at=at, **counted)
    look(faces_of(entry.tool), at=at)
    return corrected


@transaction.atomic
def shots_voided(*, entry: ShotEntry, why: str, by: Person, at: datetime, ref: UUID | None = None) -> ShotEntry:
    """Take a shot entry away, and look again at every face of the tool."""
    gone = shots.void(entry=entry, why=why, by=by, at=at, ref=ref)
    look(faces_of(entry.tool), at=at)
    return gone


@transaction.atomic
def damage_called(*, tool: Tool, by: Person, at: datetime, **seen: Any) -> Damage:
    """Take a report of damage, call it, and propose the work."""
    damage = press_damage.report(tool=tool, by=by, at=at, **seen)
    calls.call_damage(damage, by=by, at=at)
    propose(tool, at=at)
    if damage.face is not None:
        look([damage.face], at=at)
    return damage
