"""The writers of the ledger: a write is taken once, and a change leaves its trail."""

from __future__ import annotations

import dataclasses
import hashlib
import inspect
import json
from collections.abc import Callable, Mapping, Sequence, Set
from datetime import UTC, date, datetime
from decimal import Decimal
from enum import Enum
from functools import wraps
from typing import Any, ParamSpec, TypeVar
from uuid import UUID

from django.contrib.auth.base_user import AbstractBaseUser
from django.db import connection, models, transaction

from shop.ledger.models import Change, Receipt
from shop.refusal import Refused, gettext_noop

Args = ParamSpec("Args")
Made = TypeVar("Made", bound=models.Model)


def once(
    kind: str, model: type[Made], *, timed: bool = True
) -> Callable[[Callable[Args, Made]], Callable[Args, Made]]:
    """Return a decorator that lets a service with a `ref` write once for each reference.

    The same reference with the same content answers with the row that was made then. Content is every argument
    but `ref` and `by`; with `timed=False` also without `at`, for doors that put the clock's time there themselves.

    Raises
    ------
    Refused
        When the reference was used before for something else.
    """

    def decorate(service: Callable[Args, Made]) -> Callable[Args, Made]:
        signature = inspect.signature(service)
        left_out = {"ref", "by"} if timed else {"ref", "by", "at"}

        @wraps(service)
        def taken_once(*args: Args.args, **kwargs: Args.kwargs) -> Made:
            given = signature.bind(*args, **kwargs).arguments
            ref = given.get("ref")
            with transaction.atomic():
                if ref is None:
                    return service(*args, **kwargs)
                content = _content_sha256(signature, given, left_out)
                hold(f"receipt {ref}")
                if made_before := _answer_again(ref, kind, content, model):
                    return made_before
                made = service(*args, **kwargs)
                Receipt.objects.create(
                    ref=ref, kind=kind, content_sha256=content, made_id=made.pk, by_id=given["by"].pk, at=given["at"]
                )
                return made

        return taken_once

    return decorate


def hold(name: str) -> None:
    """Keep whoever would hold the same name waiting until this transaction is over: for what has no row to lock yet."""
    # SQLite's transactions are immediate and wait for one another anyway.
    if connection.vendor == "postgresql":
        key = int.from_bytes(hashlib.sha256(name.encode()).digest()[:8], signed=True)
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [key])


def record_change(
    row: models.Model, field: str, old: object, new: object, *, by: AbstractBaseUser, at: datetime, why: str = ""
) -> Change | None:
    """Write down that one field of one row was changed; nothing where nothing changed."""
    was, becomes = _as_text(old), _as_text(new)
    if was == becomes:
        return None
    return Change.objects.create(
        room=row._meta.label_lower, row_id=row.pk, field=field, old=was, new=becomes, why=why, by_id=by.pk, at=at
    )


def _answer_again(ref: UUID, kind: str, content: str, model: type[Made]) -> Made | None:
    receipt = Receipt.objects.filter(ref=ref).first()
    if receipt is None:
        return None
    if (receipt.kind, receipt.content_sha256) != (kind, content):
        raise Refused(
            "ref.other_content",
            gettext_noop("This form was already taken at {taken_at}, with other values."),
            next_step=gettext_noop("Look at what was taken, load the form again and enter what is still missing."),
            question=True,
            taken_at=receipt.entered_at,
        )
    return model._default_manager.get(pk=receipt.made_id)


def _content_sha256(signature: inspect.Signature, given: Mapping[str, Any], left_out: set[str]) -> str:
    # What equals its default is left out, so that a parameter added later does not change yesterday's hashes.
    content = {
        name: _canonical(value)
        for name, value in given.items()
        if name not in left_out and value != signature.parameters[name].default
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True, ensure_ascii=False).encode()).hexdigest()


def _canonical(value: object) -> object:
    """Return the value in the one form it has for comparing, whatever door it came through."""
    if isinstance(value, Enum):
        return _canonical(value.value)
    if value is None or isinstance(value, bool | int | str):
        return value
    if isinstance(value, Decimal | float):
        return _canonical_number(Decimal(str(value)))
    if isinstance(value, models.Model):
        return [value._meta.label_lower, value.pk]
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    return _canonical_moment(value) or _canonical_many(value)


def _canonical_number(value: Decimal) -> str:
    return format(value.normalize() + 0, "f")


def _canonical_moment(value: object) -> str:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, UUID) else ""


def _canonical_many(value: object) -> object:
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        named = ((field.name, getattr(value, field.name)) for field in dataclasses.fields(value))
        return [type(value).__name__, {name: _canonical(part) for name, part in named}]
    if isinstance(value, Mapping):
        return {str(name): _canonical(part) for name, part in value.items()}
    if isinstance(value, Set):
        return sorted((_canonical(part) for part in value), key=repr)
    if isinstance(value, Sequence) or hasattr(value, "__iter__"):
        return [_canonical(part) for part in value]
    raise TypeError(f"{type(value).__name__} has no canonical form for a receipt")


def _as_text(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, models.Model):
        return f"{value.pk} {value}"
    return str(value.value) if isinstance(value, Enum) else str(value)
