"""Stored files and issued documents."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow


class StoredFile(models.Model):
    """A file kept under the hash of its content, so that the same file is kept once and cannot change unseen."""

    sha256 = models.CharField(max_length=64, unique=True)
    name = models.CharField(max_length=200)
    media_type = models.CharField(max_length=80)
    size = models.PositiveBigIntegerField()
    stored_at = models.DateTimeField(default=timezone.now)
    stored_by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.name


class Document(LedgerRow):
    """A paper that was issued: its snapshot, its bytes by hash, its language and size. Never redrawn."""

    class Kind(models.TextChoices):
        TRAVELLER = "traveller", _("traveller")
        CERTIFICATE = "certificate", _("certificate")
        STANDARDS = "standards", _("standards check")

    kind = models.CharField(max_length=20, choices=Kind.choices)
    number = models.CharField(max_length=40, unique=True)
    subject = models.CharField(max_length=60, db_index=True, help_text="What it is about, as room:number.")
    issue = models.PositiveSmallIntegerField(default=1)
    language = models.CharField(max_length=8)
    paper_size = models.CharField(max_length=8)
    snapshot = models.JSONField()
    file = models.ForeignKey(StoredFile, on_delete=models.PROTECT, related_name="+")
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(name="document_issue_once", fields=["kind", "subject", "issue"]),
            models.CheckConstraint(
                name="document_reissue_replaces",
                condition=Q(issue=1, replaces__isnull=True) | Q(issue__gt=1, replaces__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.number


class Cancellation(LedgerRow):
    """A document taken out of use; its bytes stay."""

    document = models.OneToOneField(Document, on_delete=models.PROTECT, related_name="cancellation")
    why = models.TextField()

    class Meta:
        constraints = [models.CheckConstraint(name="cancellation_says_why", condition=~Q(why=""))]
