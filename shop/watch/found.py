"""One reason for a call, as cause, key, code and values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from shop.quality.models import Verdict
from shop.watch.models import Call


@dataclass(frozen=True)
class Found:
    """One reason for a call. `key` tells it from other reasons of its cause: a new one adds to the evidence."""

    cause: Call.Cause
    key: str
    code: str
    values: dict[str, Any]
    verdict: Verdict | None = None
