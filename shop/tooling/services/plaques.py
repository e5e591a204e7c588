"""Writing plaques: controlled items that are signed, copied, checked, and withdrawn with a reason."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db import transaction

from shop.ledger.services import once, record_change
from shop.paper.models import StoredFile
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop
from shop.tooling.models import Plaque, PlaqueCheck
from shop.tooling.services import names
from shop.tooling.services.checks import not_in_future, says_why

MASTER, WORKING = "master", "working"
SIDES = ("light", "dark")
MOST_DAYS = 3650


@once("plaque", Plaque, timed=False)
def add(
    *,
    plant: Plant,
    number: str,
    by: Person,
    at: datetime,
    house: str = "",
    code: str = "",
    copy: str = MASTER,
    signed_by: str = "",
    expires_on: date | None = None,
    place: str = "",
    recheck_days: int | None = None,
    pattern_depth_um: Decimal | None = None,
    photo: StoredFile | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Plaque:
    """Enter a plaque under control: whose it is, what it shows, who signed it, until when it holds."""
    _check_copy(copy)
    _check_days(recheck_days)
    _check_depth(pattern_depth_um)
    return names.add_plaque(
        plant=plant, number=number, house=house, code=code, copy=copy, signed_by=signed_by.strip(),
        expires_on=expires_on, place=place, recheck_days=recheck_days, pattern_depth_um=pattern_depth_um, photo=photo,
        by=by, at=at,
    )  # fmt: skip


@once("plaque copy", Plaque, timed=False)
def make_copy(
    *,
    master: Plaque,
    number: str,
    by: Person,
    at: datetime,
    place: str = "",
    expires_on: date | None = None,
    recheck_days: int | None = None,
    photo: StoredFile | None = None,
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> Plaque:
    """Make a working copy of a master: of the same house and code, unsigned until somebody signs it."""
    master = _locked(master)
    if master.copy != MASTER:
        raise Refused(
            "plaque.copy_of_a_copy",
            gettext_noop("{plaque} is a working copy itself: a copy of a copy drifts from the master."),
            next_step=gettext_noop("Make it from the master."),
            plaque=master.number,
        )
    _check_in_use(master)
    _check_days(recheck_days)
    made = names.add_plaque(
        plant=master.plant, number=number, house=master.house, code=master.code, copy=WORKING, master=master,
        pattern_depth_um=master.pattern_depth_um, place=place, expires_on=expires_on, recheck_days=recheck_days,
        photo=photo, by=by, at=at,
    )  # fmt: skip
    record_change(made, "master", None, master.number, by=by, at=at, why="copied")
    return made


@transaction.atomic
def edit(*, plaque: Plaque, by: Person, at: datetime, why: str = "", **fields: Any) -> Plaque:
    """Change where a plaque lies, until when it holds, how often it is checked, or its photo."""
    plaque = _locked(plaque)
    _check_in_use(plaque)
    unknown = set(fields) - {"place", "expires_on", "recheck_days", "photo"}
    if unknown:
        raise TypeError(f"not to be changed: {sorted(unknown)}")
    if "recheck_days" in fields:
        _check_days(fields["recheck_days"])
    return _write(plaque, fields, by=by, at=at, why=why)


@transaction.atomic
def sign(*, plaque: Plaque, signed_by: str, by: Person, at: datetime, expires_on: date | None = None) -> Plaque:
    """Note who signed a plaque; a new signature may carry a new date until which it holds."""
    plaque = _locked(plaque)
    _check_in_use(plaque)
    name = signed_by.strip()
    if not name:
        raise Refused(
            "plaque.signer_wanted",
            gettext_noop("Nobody is named who signed {plaque}."),
            next_step=gettext_noop("Write who signed it, and for whom."),
            field="signed_by",
            plaque=plaque.number,
        )
    fields: dict[str, Any] = {"signed_by": name}
    if expires_on is not None:
        fields["expires_on"] = expires_on
    return _write(plaque, fields, by=by, at=at, why="signed")


@transaction.atomic
def set_limit(*, plaque: Plaque, side: str, limit: Plaque | None, by: Person, at: datetime) -> Plaque:
    """Set the plaque that shows the lightest, or the darkest, that is still accepted; None takes it off.

    Raises
    ------
    Refused
        Where the limit is the plaque itself, another plant's, withdrawn, or a limit of another plaque already.
    """
    plaque = _locked(plaque)
    _check_in_use(plaque)
    if side not in SIDES:
        raise Refused(
            "plaque.no_such_side",
            gettext_noop("{value} is no side of a plaque; there are light and dark."),
            next_step=gettext_noop("Choose light or dark."),
            field="side",
            value=side,
        )
    if limit is not None:
        limit = _locked(limit)
        _check_limit(plaque, side, limit)
    for before in Plaque.objects.select_for_update().filter(limit_of=plaque, limit_side=side):
        if limit is None or before.pk != limit.pk:
            _write(before, {"limit_of": None, "limit_side": ""}, by=by, at=at, why="another limit")
    if limit is not None:
        _write(limit, {"limit_of": plaque, "limit_side": side}, by=by, at=at, why="set as limit")
    return plaque


@transaction.atomic
def set_limits(*, plaque: Plaque, limits: Mapping[str, Plaque | None], by: Person, at: datetime) -> Plaque:
    """Set the light and the dark limit at once, or neither; as `set_limit` for each side that is named."""
    for side, limit in limits.items():
        set_limit(plaque=plaque, side=side, limit=limit, by=by, at=at)
    return plaque


@once("plaque check", PlaqueCheck, timed=False)
def check(
    *,
    plaque: Plaque,
    passed: bool,
    by: Person,
    at: datetime,
    against: Plaque | None = None,
    gloss_gu: Decimal | None = None,
    note: str = "",
    ref: UUID | None = None,  # noqa: ARG001 (`once` reads it)
) -> PlaqueCheck:
    """Note that a plaque was looked at: it still says what it should, or not and why."""
    not_in_future(at, code="plaque.check_in_future")
    plaque = _locked(plaque)
    _check_in_use(plaque)
    if against is not None and (against.pk == plaque.pk or against.plant_id != plaque.plant_id):
        raise Refused(
            "plaque.checked_against_itself",
            gettext_noop("{plaque} cannot be checked against {value}."),
            next_step=gettext_noop("Choose the master, or another plaque of this plant."),
            field="against",
            plaque=plaque.number,
            value=against.number,
        )
    if gloss_gu is not None and not (gloss_gu.is_finite() and 0 <= gloss_gu < 2000):
        raise Refused(
            "plaque.gloss_impossible",
            gettext_noop("A gloss of {value} GU is not possible; it lies from 0 to 2000."),
            next_step=gettext_noop("Enter what the glossmeter showed, or leave it empty."),
            field="gloss_gu",
            value=str(gloss_gu),
        )
    words = note.strip() if passed else says_why(note, code="plaque.failed_without_reason", field="note")
    return PlaqueCheck.objects.create(
        plaque=plaque, passed=passed, against=against, gloss_gu=gloss_gu, note=words, by=by, at=at
    )


@transaction.atomic
def withdraw(*, plaque: Plaque, why: str, by: Person, at: datetime) -> Plaque:
    """Take a plaque out of use for good, and say why; working copies of a withdrawn master go with it."""
    not_in_future(at, code="plaque.withdrawn_in_future")
    plaque = _locked(plaque)
    reason = says_why(why, code="plaque.withdrawn_without_reason")
    _check_in_use(plaque)
    return _write(plaque, {"withdrawn_at": at, "withdrawn_because": reason}, by=by, at=at, why=reason)


def _locked(plaque: Plaque) -> Plaque:
    found: Plaque = Plaque.objects.select_for_update().get(pk=plaque.pk)
    return found


def _write(plaque: Plaque, fields: dict[str, Any], *, by: Person, at: datetime, why: str) -> Plaque:
    changed = [name for name, value in fields.items() if getattr(plaque, name) != value]
    for name in changed:
        record_change(plaque, name, getattr(plaque, name), fields[name], by=by, at=at, why=why)
        setattr(plaque, name, fields[name])
    if changed:
        plaque.save(update_fields=changed)
    return plaque


def _check_in_use(plaque: Plaque) -> None:
    if plaque.withdrawn_at is not None:
        raise Refused(
            "plaque.withdrawn_already",
            gettext_noop("{plaque} was withdrawn on {at}: {because}"),
            next_step=gettext_noop("Enter the plaque that takes its place."),
            plaque=plaque.number,
            at=plaque.withdrawn_at,
            because=plaque.withdrawn_because,
        )


def _check_limit(plaque: Plaque, side: str, limit: Plaque) -> None:
    _check_in_use(limit)
    if limit.pk == plaque.pk or limit.plant_id != plaque.plant_id or plaque.limit_of_id is not None:
        raise Refused(
            "plaque.limit_of_itself",
            gettext_noop("{value} cannot be a limit of {plaque}."),
            next_step=gettext_noop("Choose another plaque of this plant; a limit has no limits of its own."),
            field=side,
            plaque=plaque.number,
            value=limit.number,
        )
    if limit.limit_of_id is not None and (limit.limit_of_id, limit.limit_side) != (plaque.pk, side):
        raise Refused(
            "plaque.limit_elsewhere",
            gettext_noop("{value} is the {limit} of {plaque} already."),
            next_step=gettext_noop("Take it off there first, or choose another."),
            field=side,
            plaque=str(limit.limit_of),
            value=limit.number,
            limit=limit.get_limit_side_display(),
        )


def _check_copy(copy: str) -> None:
    if copy not in (MASTER, WORKING):
        raise Refused(
            "plaque.no_such_copy",
            gettext_noop("{value} is neither master nor working copy."),
            next_step=gettext_noop("Choose one of the two."),
            field="copy",
            value=copy,
        )


def _check_days(days: int | None) -> None:
    if days is not None and not 0 < days <= MOST_DAYS:
        raise Refused(
            "plaque.recheck_days",
            gettext_noop("A check every {value} days is not possible; it is 1 to {limit}."),
            next_step=gettext_noop("Enter a number of days, or leave it empty."),
            field="recheck_days",
            value=days,
            limit=MOST_DAYS,
        )


def _check_depth(depth: Decimal | None) -> None:
    if depth is not None and not (depth.is_finite() and 0 <= depth < 100_000):
        raise Refused(
            "plaque.depth_impossible",
            gettext_noop("A pattern depth of {value} µm is not possible."),
            next_step=gettext_noop("Enter a depth above 0, or leave it empty."),
            field="pattern_depth_um",
            value=str(depth),
        )
