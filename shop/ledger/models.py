"""What a ledger is: rows that are added and never altered, and the trail of changes to the rows that are."""

from __future__ import annotations

import uuid
from typing import Any, Self

from django.conf import settings
from django.db import models
from django.utils import timezone


class LedgerRow(models.Model):
    """A row that the database refuses to update or delete.

    `at` is when the thing happened, `entered_at` when the server took it.
    """

    at = models.DateTimeField(db_index=True)
    entered_at = models.DateTimeField(default=timezone.now, editable=False)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        abstract = True


class SupersedingRow(LedgerRow):
    """A ledger row that may put an earlier one right.

    A row with `supersedes` takes the place of that row; with `void` it only takes it away. Either says why.
    """

    supersedes = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="superseded_by"
    )
    void = models.BooleanField(default=False)
    why = models.TextField(blank=True)

    class Meta:
        abstract = True

    @staticmethod
    def says_why(name: str) -> models.CheckConstraint:
        """Return the constraint that a superseding row gives its reason, and only such a row is void."""
        return models.CheckConstraint(
            name=name,
            condition=models.Q(supersedes__isnull=True, void=False)
            | (models.Q(supersedes__isnull=False) & ~models.Q(why="")),
        )


class SupersedingQuerySet(models.QuerySet[Any]):
    """Reading of ledgers whose rows may be superseded."""

    def in_force(self) -> Self:
        """Return the rows that nothing has superseded and that void nothing."""
        return self.filter(superseded_by__isnull=True, void=False)


class Receipt(LedgerRow):
    """One write that came from a form, a device or a file, known by the reference made there."""

    ref = models.UUIDField(primary_key=True, default=uuid.uuid4)
    kind = models.CharField(max_length=40)
    content_sha256 = models.CharField(max_length=64)
    made_id = models.BigIntegerField()


class Change(LedgerRow):
    """One field of one row that was changed: the trail that an auditor follows."""

    room = models.CharField(max_length=40)
    row_id = models.BigIntegerField()
    field = models.CharField(max_length=60)
    old = models.TextField(blank=True)
    new = models.TextField(blank=True)
    why = models.TextField(blank=True)

    class Meta:
        indexes = [models.Index(fields=["room", "row_id", "at"])]
