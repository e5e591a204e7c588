"""Open, join and close calls."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person
from shop.people.services import the_software
from shop.press.models import Damage
from shop.quality import due
from shop.quality.asked import day_in
from shop.quality.due import DueItem
from shop.refusal import Saying
from shop.tooling.models import Face, Tool
from shop.watch import looking, reasons
from shop.watch.facts import Facts, gather
from shop.watch.found import Found
from shop.watch.models import Call, Evidence, Standing


@dataclass
class Looked:
    """What a look at faces came to: calls opened, calls that gained a reason, calls closed."""

    opened: list[Call] = field(default_factory=list)
    joined: list[Call] = field(default_factory=list)
    closed: list[Call] = field(default_factory=list)


@transaction.atomic
def look(faces: Iterable[Face], *, by: Person, at: datetime, in_work: Collection[int] = ()) -> Looked:
    """Look at faces whose trends are up to date: call what needs it, and close what has lost its reason.

    Faces `in_work`, and those that stand awaiting parts, are left alone: what was read before the work says
    nothing any more and what comes after it has not been read. Damage is closed by the release alone.
    """
    ids = sorted({face.pk for face in faces} - set(in_work))
    locked = list(Face.objects.select_for_update().filter(pk__in=ids).order_by("pk"))
    known = gather(locked, at)
    late = _late(locked, at)
    looked = Looked()
    evidence: list[Evidence] = []
    for facts in known.values():
        if facts.standing is None or facts.standing.state != Standing.State.AWAITING_PARTS:
            found = looking.found_in(facts, late.get(facts.face.pk, [])) if facts.life is not None else []
            evidence += _raise(facts, found, looked, by=by)
            _close_gone(facts, {one.cause for one in found}, looked, by=by)
    Evidence.objects.bulk_create(evidence)
    return looked


@transaction.atomic
def call_damage(damage: Damage, *, by: Person, at: datetime) -> Call:
    """Call for reported damage; a call for damage that is open on the same face gains the report."""
    Tool.objects.select_for_update().get(pk=damage.tool_id)
    told = Evidence.objects.filter(damage=damage).select_related("call").first()
    if told is not None:
        return told.call
    call = Call.objects.open().filter(tool=damage.tool, face=damage.face, cause=Call.Cause.DAMAGE).first()
    if call is None:
        call = Call.objects.create(tool=damage.tool, face=damage.face, cause=Call.Cause.DAMAGE, opened_at=at)
    code = ("damage.stops_noted" if damage.note else "damage.stops") if damage.stops_run else "damage.reported"
    if damage.note and not damage.stops_run:
        code = "damage.noted"
    values = {
        "kind": Damage.Kind(damage.kind),
        "day": day_in(damage.tool.plant, damage.at),
        **({"note": damage.note} if damage.note else {}),
    }
    Evidence.objects.create(call=call, code=code, values=reasons.packed(values), damage=damage, by=by, at=at)
    return call


@transaction.atomic
def close(call: Call, because: Saying, *, at: datetime, by: Person | None = None) -> Call:
    """Close a call and keep why; one that is closed already stays as it is."""
    held: Call = Call.objects.select_for_update(of=("self",)).select_related("tool__plant").get(pk=call.pk)
    if held.closed_at is None:
        held.closed_at = max(at, held.opened_at)
        held.closed_because = reasons.kept(because)
        held.save(update_fields=["closed_at", "closed_because"])
        hand = by or the_software(held.tool.plant)
        record_change(held, "closed_at", None, held.closed_at, by=hand, at=at, why=because.code)
    call.closed_at, call.closed_because = held.closed_at, held.closed_because
    return held


def _late(faces: list[Face], at: datetime) -> dict[int, list[DueItem]]:
    found: dict[int, list[DueItem]] = {}
    for item in due.for_faces(faces, at):
        if item.overdue:
            found.setdefault(item.face.pk, []).append(item)
    return found


def _raise(facts: Facts, found: list[Found], looked: Looked, *, by: Person) -> list[Evidence]:
    """Open a call for each cause that has none, and return the evidence that is new."""
    open_calls = {Call.Cause(call.cause): call for call in facts.calls}
    causes = {one.cause for one in found}
    fresh: list[Evidence] = []
    for cause in sorted(causes):
        call = open_calls.get(cause)
        if call is None and cause == Call.Cause.FORECAST and Call.Cause.OFF_SPEC in causes:
            # The reading has overtaken the forecast: one call is enough.
            continue
        told = {str(evidence.values.get("key")) for evidence in call.evidence.all()} if call else set()
        new = [one for one in found if one.cause == cause and one.key not in told]
        if call is None:
            call = Call.objects.create(tool=facts.tool, face=facts.face, cause=cause, opened_at=facts.at)
            looked.opened.append(call)
        elif new:
            looked.joined.append(call)
        fresh += [_evidence(call, one, facts.at, by) for one in new]
    return fresh


def _evidence(call: Call, found: Found, at: datetime, by: Person) -> Evidence:
    values = {**reasons.packed(found.values), "key": found.key}
    return Evidence(call=call, code=found.code, values=values, verdict=found.verdict, by=by, at=at)


def _close_gone(facts: Facts, wanted: set[Call.Cause], looked: Looked, *, by: Person) -> None:
    for call in facts.calls:
        cause = Call.Cause(call.cause)
        stays = cause == Call.Cause.DAMAGE or cause in wanted
        if not stays and cause == Call.Cause.FORECAST:
            stays = looking.still_heading(facts)
        if not stays:
            looked.closed.append(close(call, looking.why_gone(call, facts), at=facts.at, by=by))
