"""The database itself refuses to alter a ledger: triggers on every ledger table, set again after every migrate."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.apps import apps
from django.db import connections, models, router

from shop.ledger.models import LedgerRow

_POSTGRESQL_FUNCTION = """
CREATE OR REPLACE FUNCTION ledger_only_grows() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '% only grows: % is refused', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END $$
"""


def ledger_models() -> list[type[LedgerRow]]:
    """Return every model whose table is a ledger."""
    return [model for model in apps.get_models() if issubclass(model, LedgerRow) and model._meta.managed]


def install_after_migrate(*, using: str, **_: Any) -> None:
    """Answer Django's `post_migrate`: SQLite loses its triggers whenever a migration rebuilds a table."""
    install(using)


def install(using: str) -> None:
    """Set the triggers on every ledger table that exists; the same again changes nothing."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        if connection.vendor == "postgresql":
            cursor.execute(_POSTGRESQL_FUNCTION)
        for model in ledger_models():
            if model._meta.db_table in there and router.allow_migrate_model(using, model):
                for statement in statements(connection.vendor, model):
                    cursor.execute(statement)


def statements(vendor: str, model: type[models.Model]) -> Iterator[str]:
    """Yield the statements that make one table only grow, in the dialect of one database."""
    table = model._meta.db_table
    if vendor == "postgresql":
        for name, when in trigger_names(model):
            each = "STATEMENT" if when == "TRUNCATE" else "ROW"
            yield (
                f'CREATE OR REPLACE TRIGGER "{name}" BEFORE {when} ON "{table}" '
                f"FOR EACH {each} EXECUTE FUNCTION ledger_only_grows()"
            )
    elif vendor == "sqlite":
        for name, when in trigger_names(model)[:2]:
            yield f'DROP TRIGGER IF EXISTS "{name}"'
            yield (
                f'CREATE TRIGGER "{name}" BEFORE {when} ON "{table}" '
                f"BEGIN SELECT RAISE(ABORT, '{table} only grows: {when} is refused'); END"
            )
    else:
        raise NotImplementedError(f"Ledgers are not guarded on {vendor}.")


def trigger_names(model: type[models.Model]) -> tuple[tuple[str, str], ...]:
    """Return name and event of the triggers of one ledger."""
    table = model._meta.db_table
    return tuple((f"{table}_no_{event.lower()}", event) for event in ("UPDATE", "DELETE", "TRUNCATE"))
