"""Presses and runs; shots as they were counted; shots as they are worked out; damage."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow, SupersedingRow
from shop.paper.models import StoredFile
from shop.people.models import Plant
from shop.press.querysets import (
    DamageQuerySet,
    InsertShotsQuerySet,
    PlannedRunQuerySet,
    RunQuerySet,
    ShotEntryQuerySet,
    WorkedShotsQuerySet,
)
from shop.tooling.models import Face, Insert, Position, Resin, Tool


class Press(models.Model):
    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="presses")
    name = models.CharField(max_length=40)
    most_shots_per_hour = models.PositiveIntegerField(default=720, help_text=_("A faster count is questioned."))
    counter_digits = models.PositiveSmallIntegerField(default=7)

    class Meta:
        constraints = [models.UniqueConstraint(name="press_name_once", fields=["plant", "name"])]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class Run(models.Model):
    """A tool in a press from one time to another, for an order. `sets` lists the sets that run; empty is all."""

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="runs")
    press = models.ForeignKey(Press, on_delete=models.PROTECT, related_name="runs")
    order_number = models.CharField(max_length=40, blank=True)
    order_shots = models.PositiveIntegerField(null=True, blank=True)
    resin = models.ForeignKey(Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="runs")
    colour = models.CharField(max_length=40, blank=True)
    lot = models.CharField(max_length=40, blank=True)
    sets = models.JSONField(default=list)
    began_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = RunQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="tool_in_one_press", fields=["tool"], condition=Q(ended_at__isnull=True)),
            models.UniqueConstraint(name="press_holds_one_tool", fields=["press"], condition=Q(ended_at__isnull=True)),
            models.CheckConstraint(
                name="run_ends_after_it_began", condition=Q(ended_at__isnull=True) | Q(ended_at__gt=F("began_at"))
            ),
        ]


class PlannedRun(models.Model):
    """A run that is to come: entered, or from the plant's planning. What was run is told by runs and shots alone."""

    class Source(models.TextChoices):
        ENTERED = "entered", _("entered")
        FILE = "file", _("from a file")

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="planned_runs")
    press = models.ForeignKey(Press, null=True, blank=True, on_delete=models.PROTECT, related_name="planned_runs")
    order_number = models.CharField(max_length=40, blank=True)
    shots = models.PositiveIntegerField()
    resin = models.ForeignKey(Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    colour = models.CharField(max_length=40, blank=True)
    sets = models.JSONField(default=list, help_text="Sets that run; empty is all.")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    source = models.CharField(max_length=8, choices=Source.choices, default=Source.ENTERED)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    objects = PlannedRunQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="planned_run_once",
                fields=["tool", "order_number", "starts_at"],
                condition=Q(cancelled_at__isnull=True),
            ),
            models.CheckConstraint(name="planned_run_ends_after_it_starts", condition=Q(ends_at__gt=F("starts_at"))),
            models.CheckConstraint(name="planned_run_makes_shots", condition=Q(shots__gt=0)),
        ]
        indexes = [models.Index(fields=["tool", "starts_at"])]
        ordering = ["starts_at", "id"]

    def __str__(self) -> str:
        return self.order_number or f"{self.tool.number} {self.starts_at:%Y-%m-%d}"


class ShotEntry(SupersedingRow):
    """What somebody or something counted, raw. What it means in shots is worked out in `WorkedShots`.

    `basis` says how to read it: a `counter` reading follows the one before it; a plain `count` is shots
    made since the entry before; `new job` is a counter that began again at `offset`; `swapped` is another
    counter that stood at `offset` when it was fitted; `set by hand` says that the counter was moved to
    `offset` by hand after it had shown `read_before`; `rolled over` passed its last digit once.
    """

    class Basis(models.TextChoices):
        COUNTER = "counter", _("counter reading")
        COUNT = "count", _("shots")
        NEW_JOB = "new job", _("a new job began the count again")
        SWAPPED = "swapped", _("the counter was swapped")
        SET_BY_HAND = "set by hand", _("the counter was set by hand")
        ROLLED_OVER = "rolled over", _("the counter rolled over")

    class Source(models.TextChoices):
        JOB = "job counter", _("job counter")
        MACHINE = "machine counter", _("machine counter")
        MOULD = "mould counter", _("mould counter")
        HAND = "by hand", _("by hand")
        FILE = "file", _("file")

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="shot_entries")
    press = models.ForeignKey(Press, null=True, blank=True, on_delete=models.PROTECT, related_name="shot_entries")
    run = models.ForeignKey(Run, null=True, blank=True, on_delete=models.PROTECT, related_name="shot_entries")
    basis = models.CharField(max_length=12, choices=Basis.choices)
    source = models.CharField(max_length=16, choices=Source.choices)
    counter = models.PositiveBigIntegerField(null=True, blank=True)
    shots = models.PositiveBigIntegerField(null=True, blank=True)
    offset = models.PositiveBigIntegerField(default=0)
    read_before = models.PositiveBigIntegerField(null=True, blank=True)
    blocked = models.JSONField(default=list, help_text="Numbers of the positions that were blocked.")
    sets = models.JSONField(default=list, help_text="Sets that ran; empty is all.")
    resin = models.ForeignKey(Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    colour = models.CharField(max_length=40, blank=True)
    lot = models.CharField(max_length=40, blank=True)
    answers = models.JSONField(default=dict, help_text="Questions that were put, and what was answered.")

    objects = ShotEntryQuerySet.as_manager()

    class Meta:
        constraints = [
            SupersedingRow.says_why("shot_entry_says_why"),
            models.CheckConstraint(
                name="shot_entry_counts_one_way",
                condition=Q(void=True)
                | Q(basis="count", shots__isnull=False)
                | (~Q(basis="count") & Q(counter__isnull=False)),
            ),
        ]
        indexes = [models.Index(fields=["tool", "at"])]


class WorkedShots(models.Model):
    """Worked out from the ledger: the shots that one entry stands for, and the tool's total after it."""

    entry = models.OneToOneField(ShotEntry, on_delete=models.PROTECT, related_name="worked")
    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="worked_shots")
    at = models.DateTimeField()
    shots = models.PositiveBigIntegerField()
    total = models.PositiveBigIntegerField()

    objects = WorkedShotsQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["tool", "at"])]


class InsertShots(models.Model):
    """Worked out from the ledger: the injected shots of one insert in one entry, and its total after it."""

    entry = models.ForeignKey(ShotEntry, on_delete=models.PROTECT, related_name="insert_shots")
    insert = models.ForeignKey(Insert, on_delete=models.PROTECT, related_name="insert_shots")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="insert_shots")
    at = models.DateTimeField()
    shots = models.PositiveBigIntegerField()
    total = models.PositiveBigIntegerField()
    resin = models.ForeignKey(Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = InsertShotsQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(name="insert_shots_once", fields=["entry", "insert"])]
        indexes = [models.Index(fields=["insert", "at"]), models.Index(fields=["position", "at"])]


class Damage(LedgerRow):
    """Harm seen at the press or on the bench: where, what, how bad, with a photo."""

    class Kind(models.TextChoices):
        SCRATCH = "scratch", _("scratch or drag")
        DENT = "dent", _("dent")
        RUST = "rust", _("rust")
        PLATE_OUT = "plate-out", _("plate-out")
        PITTING = "pitting", _("pitting")
        BURN = "burn", _("burn mark")
        FLASH = "flash", _("flash or edge damage")
        OTHER = "other", _("other")

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="damages")
    face = models.ForeignKey(Face, null=True, blank=True, on_delete=models.PROTECT, related_name="damages")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    stops_run = models.BooleanField(default=False, help_text=_("Parts are bad now: the tool should not run."))
    note = models.TextField(blank=True)
    photo = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = DamageQuerySet.as_manager()
