"""Take the ledger triggers away for a moment: for emptying a test database, and for nothing else."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.db import connections

from shop.ledger import triggers


@contextmanager
def lifted(using: str = "default") -> Iterator[None]:
    """Drop the triggers of every ledger table and set them again."""
    connection = connections[using]
    with connection.cursor() as cursor:
        there = set(connection.introspection.table_names(cursor))
        for model in triggers.ledger_models():
            table = model._meta.db_table
            for name, _event in triggers.trigger_names(model) if table in there else ():
                on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')
    try:
        yield
    finally:
        triggers.install(using)
