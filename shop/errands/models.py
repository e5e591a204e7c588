"""The errand: one piece of work to be done by whoever is free."""

from __future__ import annotations

from django.db import models
from django.utils import timezone


class Errand(models.Model):
    """One job. It is waiting, claimed by a worker, done, or given up after too many tries."""

    class State(models.TextChoices):
        WAITING = "waiting"
        CLAIMED = "claimed"
        DONE = "done"
        FAILED = "failed"

    kind = models.CharField(max_length=40)
    key = models.CharField(max_length=120, help_text="The same kind and key waits only once.")
    content = models.JSONField(default=dict)
    state = models.CharField(max_length=8, choices=State.choices, default=State.WAITING)
    not_before = models.DateTimeField(default=timezone.now)
    made_at = models.DateTimeField(default=timezone.now)
    tries = models.PositiveSmallIntegerField(default=0)
    claimed_by = models.CharField(max_length=120, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    progress = models.CharField(max_length=120, blank=True)
    outcome = models.JSONField(default=dict)
    fault = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="errand_waits_once", fields=["kind", "key"], condition=models.Q(state="waiting")
            ),
        ]
        indexes = [models.Index(fields=["state", "not_before"])]
