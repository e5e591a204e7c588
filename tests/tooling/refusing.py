"""How the tests of this room look at a refusal."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from shop.ledger.models import Change
from shop.refusal import Refused


def refused(code: str, call: Callable[..., Any], /, **given: Any) -> Refused:
    """Return the refusal with that code; its words can be said with its values."""
    with pytest.raises(Refused) as caught:
        call(**given)
    assert caught.value.code == code
    assert caught.value.plain()
    assert caught.value.next_step
    return caught.value


def refused_by(constraint: str, write: Callable[[], object]) -> None:
    """Fail unless the database refuses the write by that constraint."""
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        write()
    # SQLite names the columns of a unique constraint, PostgreSQL the constraint.
    assert constraint in str(caught.value) or "UNIQUE" in str(caught.value)


def trail(row: Any) -> list[tuple[str, str, str, str]]:
    """Return what the trail of changes says of a row."""
    changes = Change.objects.filter(room=row._meta.label_lower, row_id=row.pk).order_by("id")
    return list(changes.values_list("field", "old", "new", "why"))
