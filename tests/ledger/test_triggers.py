"""Every ledger only grows: the database refuses, whatever asks."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, models, transaction

from shop.ledger import triggers
from shop.ledger.models import LedgerRow
from tests.lifted import lifted

LEDGERS = triggers.ledger_models()
every_ledger = pytest.mark.parametrize("ledger", LEDGERS, ids=lambda model: model._meta.label)
pytestmark = pytest.mark.django_db

FILLERS: list[tuple[type[models.Field[Any, Any]], Any]] = [
    (models.DateTimeField, datetime(2024, 3, 4, tzinfo=UTC)),
    (models.DateField, date(2024, 3, 4)),
    (models.BooleanField, False),
    (models.JSONField, {}),
    (models.UUIDField, uuid4()),
    (models.CharField, "x"),
    (models.TextField, "x"),
    (models.ForeignKey, 1),
    (models.Field, 1),
]


def filler(field: models.Field[Any, Any]) -> Any:
    if field.null:
        return None
    return next(value for kind, value in FILLERS if isinstance(field, kind))


@contextmanager
def one_row(ledger: type[LedgerRow]) -> Iterator[LedgerRow]:
    """Have one row in the table, whatever its checks and keys say of it: here only the triggers matter."""
    with transaction.atomic():
        with connection.cursor() as cursor:
            if connection.vendor == "sqlite":
                cursor.execute("PRAGMA ignore_check_constraints = ON")
            else:
                cursor.execute(
                    "SELECT conname FROM pg_constraint WHERE conrelid = %s::regclass AND contype IN ('c', 'f')",
                    [ledger._meta.db_table],
                )
                for (name,) in cursor.fetchall():
                    cursor.execute(f'ALTER TABLE "{ledger._meta.db_table}" DROP CONSTRAINT "{name}"')
        fields = [field for field in ledger._meta.concrete_fields if not isinstance(field, models.AutoField)]
        row = ledger(**{field.attname: filler(field) for field in fields})
        row.save_base(raw=True, force_insert=True)
        yield row
        if connection.vendor == "sqlite":
            with connection.cursor() as cursor:
                cursor.execute("PRAGMA ignore_check_constraints = OFF")
        transaction.set_rollback(True)


def test_ledgers_are_all_found() -> None:
    assert {"ledger.Change", "press.ShotEntry", "quality.Reading"} <= {model._meta.label for model in LEDGERS}


@every_ledger
def test_ledger_row_cannot_be_updated(ledger: type[LedgerRow]) -> None:
    with one_row(ledger) as row:
        with pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            ledger._base_manager.filter(pk=row.pk).update(at=datetime(2025, 1, 1, tzinfo=UTC))
        row.at = datetime(2025, 1, 1, tzinfo=UTC)
        with pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            row.save(update_fields=["at"])


@every_ledger
def test_ledger_row_cannot_be_deleted(ledger: type[LedgerRow]) -> None:
    with one_row(ledger) as row, connection.cursor() as cursor:
        with pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            ledger._base_manager.filter(pk=row.pk)._raw_delete("default")
        table = f'"{ledger._meta.db_table}"'
        around = f"REPLACE INTO {table} SELECT * FROM {table}" if connection.vendor == "sqlite" else f"TRUNCATE {table}"
        with pytest.raises(IntegrityError, match="only grows"), transaction.atomic():
            cursor.execute(f"{around} CASCADE" if connection.vendor == "postgresql" else around)
        assert ledger._base_manager.filter(pk=row.pk).exists()


@every_ledger
def test_ledger_takes_the_row_away_only_while_triggers_are_lifted(ledger: type[LedgerRow]) -> None:
    with one_row(ledger) as row:
        with lifted():
            assert ledger._base_manager.filter(pk=row.pk)._raw_delete("default") == 1
        assert named_triggers(ledger) == expected(ledger)


def test_migrate_sets_again_what_a_rebuilt_table_lost() -> None:
    ledger = LEDGERS[0]
    with connection.cursor() as cursor:
        for name in expected(ledger):
            on = f' ON "{ledger._meta.db_table}"' if connection.vendor == "postgresql" else ""
            cursor.execute(f'DROP TRIGGER "{name}"{on}')
    assert named_triggers(ledger) == set()
    call_command("migrate", verbosity=0)
    assert named_triggers(ledger) == expected(ledger)


def expected(ledger: type[LedgerRow]) -> set[str]:
    names = [name for name, _event in triggers.trigger_names(ledger)]
    return set(names if connection.vendor == "postgresql" else names[:2])


def named_triggers(ledger: type[LedgerRow]) -> set[str]:
    query = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgrelid = %s::regclass"
        if connection.vendor == "postgresql"
        else "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = %s"
    )
    with connection.cursor() as cursor:
        cursor.execute(query, [ledger._meta.db_table])
        return {name for (name,) in cursor.fetchall()}
