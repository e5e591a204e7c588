"""Taking a file whose rows stand each for themselves: known rows are told apart, the others tried one by one."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any

from django.db import models, transaction

from shop.bring.answer import Brought
from shop.bring.receipts import content_of, known_among, ref_of
from shop.bring.sheet import Row, bad_row
from shop.ledger.models import Receipt
from shop.people.models import Person, Plant
from shop.refusal import Refused, gettext_noop


class FileOf:
    """One taking of such a file. Its caller rolls back where a fault means that nothing is to be taken."""

    def __init__(
        self,
        kind: str,
        rows: Sequence[Row],
        plant: Plant,
        by: Person,
        at: datetime,
        *,
        ref_of_row: Callable[[Row], tuple[object, ...]],
    ) -> None:
        """Remember for whom the file is taken; `ref_of_row` returns the kind and the natural key of a row."""
        self.plant, self.by, self.at = plant, by, at
        self.refs = [(row, ref_of(plant, *map(str, ref_of_row(row)))) for row in rows]
        self.ref_by_line = {row.line: ref for row, ref in self.refs}
        self.brought = Brought(kind)
        self.receipts: list[Receipt] = []

    def new_rows(self) -> Iterator[Row]:
        """Yield the rows that were not brought before; a row given twice, or told otherwise now, is a fault."""
        known = known_among(ref for _row, ref in self.refs)
        seen = set()
        for row, ref in self.refs:
            column = next(iter(row.texts))
            if ref in seen:
                self.brought.bad.append(bad_row(row, column, "bring.row_twice", TWICE))
            elif ref not in known:
                yield row
            elif known[ref].content_sha256 == content_of(row.values):
                self.brought.known += 1
            else:
                self.brought.bad.append(bad_row(row, column, "bring.other_content", OTHERWISE))
            seen.add(ref)

    def tried(self, row: Row, column: str, making: Callable[[], models.Model]) -> models.Model | None:
        """Return what was made of the row and write its receipt, or note in `column` why it was refused."""
        try:
            with transaction.atomic():
                made = making()
        except Refused as refused:
            named = refused.field.replace("_", " ")
            self.brought.bad.append(row.bad(named if named in row.texts else column, refused))
            return None
        self.receipts.append(
            Receipt(
                ref=self.ref_by_line[row.line],
                kind=f"bring {self.brought.kind}",
                content_sha256=content_of(row.values),
                made_id=made.pk,
                by=self.by,
                at=self.at,
            )
        )
        self.brought.taken += 1
        return made

    def differs(self, row: Row, there: models.Model, fields: Mapping[str, str]) -> bool:
        """Return whether the row says otherwise than what is there already, and note each difference."""
        found = False
        for column, field in fields.items():
            had: Any = getattr(there, field)
            if row[column] is not None and row[column] != had:
                found = True
                self.brought.bad.append(
                    bad_row(row, column, "bring.is_there", IS_THERE, thing=str(there), had=str(had))
                )
        return found

    def done(self) -> Brought:
        """Write the receipts, and return what was found and taken."""
        Receipt.objects.bulk_create(self.receipts, batch_size=1000)
        return self.brought


TWICE = gettext_noop("an earlier row is about the same")
OTHERWISE = gettext_noop("the row was brought before with other values; nothing that is there is changed by a file")
IS_THERE = gettext_noop("{thing} is there with {had}")
