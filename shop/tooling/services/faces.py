"""Writing faces: entering one with its spots, its finish lives, the steel taken from it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction

from shop.ledger.services import record_change
from shop.people.models import Person
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Face, FinishLife, Insert, Spot, SteelEntry
from shop.tooling.services.checks import not_in_future, says_why
from shop.units import Quantity


@dataclass(frozen=True)
class SpotDraft:
    """A spot to be entered; x and y in per cent of the face."""

    name: str
    kind: str = Spot.Kind.MIDDLE
    x: int = 50
    y: int = 50


@dataclass(frozen=True)
class SteelBooked:
    """What was booked, and what the face has left after it; `left_um` is None where its allowance is not known."""

    entry: SteelEntry
    left_um: Decimal | None

    @property
    def allowance_known(self) -> bool:
        """Return whether anybody has said what the face has to give."""
        return self.left_um is not None


@transaction.atomic
def add_face(
    *,
    insert: Insert,
    name: str,
    by: Person,
    at: datetime,
    spots: Sequence[SpotDraft] = (),
    life_began_at: datetime | None = None,
    **fields: Any,
) -> Face:
    """Enter a face with its spots; its first life begins as "new tool"."""
    name = name.strip()
    if Face.objects.filter(insert=insert, name=name).exists():
        raise Refused(
            "face.name_taken",
            gettext_noop("Insert {insert} has a face {name} already."),
            next_step=gettext_noop("Give another name, or open the face that has it."),
            field="name",
            insert=insert.number,
            name=name,
        )
    zone_of = fields.get("zone_of")
    if zone_of is not None and zone_of.insert_id != insert.pk:
        raise Refused(
            "face.zone_of_another_insert",
            gettext_noop("A zone lies within a face of the same insert, and {face} is on another."),
            next_step=gettext_noop("Choose a face of insert {insert}."),
            field="zone_of",
            face=str(zone_of),
            insert=insert.number,
        )
    _check_shares(fields, spots)
    face = Face.objects.create(insert=insert, name=name, **fields)
    Spot.objects.bulk_create(Spot(face=face, name=spot.name, kind=spot.kind, x=spot.x, y=spot.y) for spot in spots)
    record_change(face, "name", None, name, by=by, at=at, why="entered")
    begin_life(face=face, began_by=gettext_noop("new tool"), by=by, at=life_began_at or at)
    return face


@transaction.atomic
def begin_life(*, face: Face, began_by: str, by: Person, at: datetime) -> FinishLife:
    """Begin the next finish life of the face; the one before must have ended."""
    not_in_future(at, code="life.in_future")
    Face.objects.select_for_update().get(pk=face.pk)
    last = FinishLife.objects.filter(face=face).order_by("-number").first()
    if last is not None and last.ended_at is None:
        raise Refused(
            "life.still_running",
            gettext_noop("Face {face} is in its finish life {number}, which began on {began_at} and has not ended."),
            next_step=gettext_noop("End that life first."),
            face=str(face),
            number=last.number,
            began_at=last.began_at,
        )
    if last is not None and last.ended_at is not None and at < last.ended_at:
        raise Refused(
            "life.before_last_ended",
            gettext_noop("Finish life {number} of face {face} ended at {ended_at}; the next cannot begin at {at}."),
            next_step=gettext_noop("Give a time from {ended_at} on."),
            field="at",
            face=str(face),
            number=last.number,
            ended_at=last.ended_at,
            at=at,
        )
    life = FinishLife.objects.create(
        face=face, number=last.number + 1 if last else 1, began_at=at, began_by=began_by
    )
    record_change(life, "began_at", None, at, by=by, at=at, why=began_by)
    return life


@transaction.atomic
def end_life(*, face: Face, ended_by: str, by: Person, at: datetime) -> FinishLife:
    """End the running finish life of the face: work on it begins."""
    not_in_future(at, code="life.in_future")
    Face.objects.select_for_update().get(pk=face.pk)
    life = FinishLife.objects.running().filter(face=face).first()
    if life is None:
        raise Refused(
            "life.none_running",
            gettext_noop("Face {face} has no finish life that could end."),
            next_step=gettext_noop("It may be in work already; look at its work orders."),
            face=str(face),
        )
    if at < life.began_at:
        raise Refused(
            "life.ends_before_it_began",
            gettext_noop("Finish life {number} of face {face} began at {began_at} and cannot end at {at}."),
            next_step=gettext_noop("Give a time from {began_at} on."),
            field="at",
            face=str(face),
            number=life.number,
            began_at=life.began_at,
            at=at,
        )
    record_change(life, "ended_at", None, at, by=by, at=at, why=ended_by)
    life.ended_at, life.ended_by = at, ended_by
    life.save(update_fields=["ended_at", "ended_by"])
    return life  # type: ignore[no-any-return]


@transaction.atomic
def take_steel(*, face: Face, depth_um: Decimal, work: str, by: Person, at: datetime) -> SteelBooked:
    """Book steel taken from the face; more than is left is refused, an unknown allowance is taken and said."""
    held = _hold(face, depth_um, at)
    entries = list(SteelEntry.objects.in_force().filter(face=held).order_by("at", "id"))
    there = _can_give(held.steel_to_give_um, entries, at)
    if there is not None and depth_um > there:
        raise _not_there(held, depth_um, there)
    entry = SteelEntry.objects.create(
        face=held, kind=SteelEntry.Kind.TAKEN, depth_um=depth_um, work=work, by=by, at=at
    )
    return SteelBooked(entry, SteelEntry.objects.left_by_face([held.pk])[held.pk])


@transaction.atomic
def recut(*, face: Face, allowance_um: Decimal, work: str, by: Person, at: datetime) -> SteelBooked:
    """Book a re-cut: the face has a new allowance from `at`, and keeps its history."""
    held = _hold(face, allowance_um, at)
    entry = SteelEntry.objects.create(
        face=held, kind=SteelEntry.Kind.RECUT, depth_um=allowance_um, work=work, by=by, at=at
    )
    _check_gives_what_was_taken_since(held, entry)
    return SteelBooked(entry, SteelEntry.objects.left_by_face([held.pk])[held.pk])


@transaction.atomic
def correct_steel(*, entry: SteelEntry, depth_um: Decimal, why: str, by: Person) -> SteelBooked:
    """Put a booking of steel right by one that supersedes it, at the time of the old one."""
    why = says_why(why, code="steel.corrected_without_reason")
    held = _hold(entry.face, depth_um, entry.at)
    if SteelEntry.objects.filter(supersedes=entry).exists():
        raise Refused(
            "steel.already_corrected",
            gettext_noop("This booking was put right before."),
            next_step=gettext_noop("Load the page again and correct the booking that is in force."),
        )
    entries = list(SteelEntry.objects.in_force().filter(face=held).exclude(pk=entry.pk).order_by("at", "id"))
    there = _can_give(held.steel_to_give_um, entries, entry.at)
    if entry.kind == SteelEntry.Kind.TAKEN and there is not None and depth_um > there:
        raise _not_there(held, depth_um, there)
    right = SteelEntry.objects.create(
        face=held, kind=entry.kind, depth_um=depth_um, work=entry.work, supersedes=entry, why=why, by=by, at=entry.at
    )
    _check_gives_what_was_taken_since(held, right)
    return SteelBooked(right, SteelEntry.objects.left_by_face([held.pk])[held.pk])


def _hold(face: Face, depth_um: Decimal, at: datetime) -> Face:
    not_in_future(at, code="steel.in_future")
    if depth_um < 0:
        raise Refused(
            "steel.negative",
            gettext_noop("A depth of {depth} is below nothing."),
            next_step=gettext_noop("Enter what was taken, a side, as a positive number."),
            field="depth_um",
            depth=Quantity(depth_um, "um"),
        )
    held: Face = Face.objects.select_for_update().get(pk=face.pk)
    return held


def _can_give(allowance_um: Decimal | None, entries: Iterable[SteelEntry], at: datetime) -> Decimal | None:
    """Return the most that could have been taken at `at`, with what was taken after it still possible."""
    left, least = allowance_um, None
    for entry in entries:
        if entry.at > at and least is None:
            least = left
        if entry.kind == SteelEntry.Kind.RECUT:
            if entry.at > at:
                return least
            left = entry.depth_um
            continue
        left = None if left is None else left - entry.depth_um
        if entry.at > at and left is not None and least is not None:
            least = min(least, left)
    return left if least is None else least


def _check_gives_what_was_taken_since(face: Face, recut_entry: SteelEntry) -> None:
    """Refuse a re-cut in hindsight that would not have given what was taken after it."""
    if recut_entry.kind != SteelEntry.Kind.RECUT:
        return
    taken = Decimal(0)
    for entry in SteelEntry.objects.in_force().filter(face=face, at__gte=recut_entry.at).order_by("at", "id"):
        if (entry.at, entry.pk) <= (recut_entry.at, recut_entry.pk):
            continue
        if entry.kind == SteelEntry.Kind.RECUT:
            break
        taken += entry.depth_um
    if taken > recut_entry.depth_um:
        raise _not_there(face, taken, recut_entry.depth_um)


def _not_there(face: Face, depth_um: Decimal, left_um: Decimal) -> Refused:
    return Refused(
        "steel.not_there",
        gettext_noop("Face {face} has {left} a side left to give, and {depth} would be taken."),
        next_step=gettext_noop("Choose lighter work, or plan a re-cut or welding."),
        field="depth_um",
        face=str(face),
        left=Quantity(left_um, "um"),
        depth=Quantity(depth_um, "um"),
    )


def _check_shares(fields: dict[str, Any], spots: Sequence[SpotDraft]) -> None:
    shares = [fields[name] for name in ("map_x", "map_y", "map_w", "map_h") if name in fields]
    shares += [share for spot in spots for share in (spot.x, spot.y)]
    outside = [share for share in shares if not 0 <= share <= 100]
    if outside:
        raise Refused(
            "face.off_the_map",
            gettext_noop("{share} % does not lie on the map; places on it go from 0 to 100 %."),
            next_step=gettext_noop("Place the face and its spots on the map again."),
            field="spots",
            share=outside[0],
        )
