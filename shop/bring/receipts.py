"""Knowing a row again: a reference made from its natural key, and a hash of what else it says."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import NAMESPACE_URL, UUID, uuid5

from shop.ledger.models import Receipt
from shop.people.models import Plant

SPACE = uuid5(NAMESPACE_URL, "facewright:bring")


@dataclass(frozen=True)
class Known:
    """What the ledger knows of a reference: the hash of its content and the row that was made."""

    content_sha256: str
    made_id: int


def ref_of(plant: Plant, kind: str, *key: object) -> UUID:
    """Return the reference of the row with this natural key in this plant."""
    return uuid5(SPACE, json.dumps([plant.pk, kind, *(str(part) for part in key)]))


def content_of(values: Mapping[str, Any] | Iterable[Any]) -> str:
    """Return a hash of what a row says, the same however the file is written."""
    said = values if isinstance(values, Mapping) else list(values)
    return hashlib.sha256(json.dumps(said, sort_keys=True, default=_plain).encode()).hexdigest()


def known_among(refs: Iterable[UUID]) -> dict[UUID, Known]:
    """Return what the ledger knows of these references."""
    wanted = list(refs)
    found: dict[UUID, Known] = {}
    for start in range(0, len(wanted), 5000):
        rows = Receipt.objects.filter(ref__in=wanted[start : start + 5000])
        for ref, content, made_id in rows.values_list("ref", "content_sha256", "made_id"):
            found[ref] = Known(content, made_id)
    return found


def _plain(value: Any) -> str:
    if hasattr(value, "normalize"):
        return format(value.normalize() + 0, "f")
    if hasattr(value, "astimezone"):
        from datetime import UTC

        return str(value.astimezone(UTC).isoformat())
    return str(value)
