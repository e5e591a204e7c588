"""What was measured, and what it means by the rule that held."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow, SupersedingRow
from shop.paper.models import StoredFile
from shop.quality.models.gauge import Gauge
from shop.quality.querysets import InspectionQuerySet, PlanQuerySet, ReadingQuerySet, VerdictQuerySet
from shop.tooling.models import (
    Concession,
    Face,
    FinishLife,
    Limit,
    Parameter,
    Plaque,
    Resin,
    Spec,
    Spot,
    Tool,
    WhereMeasured,
)


class PlanItem(models.Model):
    """What must be measured on a face, and how often: by shots, by days, or both, whichever comes first."""

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="plan_items")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    every_shots = models.PositiveIntegerField(null=True, blank=True)
    every_days = models.PositiveSmallIntegerField(null=True, blank=True)
    values_wanted = models.PositiveSmallIntegerField(default=1)
    direction = models.CharField(max_length=40, blank=True, help_text=_("Across the lay, along it, along the flow."))
    condition = models.CharField(max_length=120, blank=True, help_text=_("How the part is conditioned before."))
    ended_at = models.DateTimeField(null=True, blank=True)

    objects = PlanQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="plan_says_how_often",
                condition=Q(every_shots__isnull=False, every_shots__gt=0)
                | Q(every_days__isnull=False, every_days__gt=0),
            ),
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("face"),
                F("parameter"),
                Coalesce("spot", 0),
                F("where"),
                name="plan_item_once",
                condition=Q(ended_at__isnull=True),
            ),
        ]


class Inspection(LedgerRow):
    """One going-over of a tool's faces: several faces and spots at once, under one set of conditions."""

    class Kind(models.TextChoices):
        FIRST_OFF = "first-off", _("first-off")
        ROUTINE = "routine", _("routine")
        LAST_OFF = "last-off", _("last-off")
        STEEL_CHECK = "steel check", _("steel check")
        PARTS_CHECK = "parts check", _("parts check")

        @property
        def releases(self) -> bool:
            """Return whether a release rests on it, so that only a gauge in date will do."""
            return self in (Inspection.Kind.STEEL_CHECK, Inspection.Kind.PARTS_CHECK)

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="inspections")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    resin = models.ForeignKey(Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    colour = models.CharField(max_length=40, blank=True)
    lot = models.CharField(max_length=40, blank=True)
    mould_temperature_c = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    hours_since_moulding = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)
    cleaned = models.BooleanField(null=True, blank=True)
    note = models.TextField(blank=True)
    photo = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    answers = models.JSONField(default=dict, help_text="Questions that were put, and what was answered.")

    objects = InspectionQuerySet.as_manager()


class Reading(SupersedingRow):
    """One value on one face at one spot. Life and spec revision are those that held at `at`.

    A steel check comes between two lives, when the old finish is gone and the next has made no shot: `life` is empty.
    `conditions_agree` is false where the cut-off or the angle is not the spec's: kept, but not judged.
    """

    class Direction(models.TextChoices):
        ACROSS = "across", _("across the lay")
        ALONG = "along", _("along the lay")

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="readings")
    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="readings")
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    life = models.ForeignKey(FinishLife, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    spec = models.ForeignKey(Spec, on_delete=models.PROTECT, related_name="readings")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    value = models.DecimalField(max_digits=10, decimal_places=4)
    unit = models.CharField(max_length=8)
    gauge = models.ForeignKey(Gauge, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    plaque = models.ForeignKey(Plaque, null=True, blank=True, on_delete=models.PROTECT, related_name="readings")
    gauge_overdue = models.BooleanField(default=False)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    cutoff_mm = models.DecimalField(max_digits=5, decimal_places=3, null=True, blank=True)
    evaluation_length_mm = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)
    direction = models.CharField(max_length=6, choices=Direction.choices, blank=True)
    illuminant = models.CharField(max_length=20, blank=True, help_text=_("The light of a comparison, as D65."))
    view_angle_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    trace = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    conditions_agree = models.BooleanField(default=True)

    objects = ReadingQuerySet.as_manager()

    class Meta:
        constraints = [
            SupersedingRow.says_why("reading_says_why"),
            models.CheckConstraint(
                name="reading_by_gauge_or_plaque",
                condition=Q(parameter__in=["look gloss", "look roughness"], gauge__isnull=True, plaque__isnull=False)
                | (~Q(parameter__in=["look gloss", "look roughness"]) & Q(gauge__isnull=False)),
            ),
            models.CheckConstraint(
                name="reading_value_possible",
                condition=Q(parameter__in=["look gloss", "look roughness"], value__gte=-2, value__lte=2)
                | (~Q(parameter__in=["look gloss", "look roughness"]) & Q(value__gte=0)),
            ),
        ]
        indexes = [models.Index(fields=["face", "parameter", "at"])]


class Verdict(SupersedingRow):
    """What the readings of one parameter at one spot in one inspection mean. It never changes.

    Where a reading was put right, a new verdict supersedes this one, and both stay.
    """

    class Outcome(models.TextChoices):
        YES = "yes", _("conforms")
        NO = "no", _("off spec")
        NOT_PROVEN = "not proven", _("not proven")

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="verdicts")
    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="verdicts")
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="verdicts")
    life = models.ForeignKey(FinishLife, null=True, blank=True, on_delete=models.PROTECT, related_name="verdicts")
    spec = models.ForeignKey(Spec, on_delete=models.PROTECT, related_name="verdicts")
    limit = models.ForeignKey(Limit, on_delete=models.PROTECT, related_name="verdicts")
    concession = models.ForeignKey(Concession, null=True, blank=True, on_delete=models.PROTECT, related_name="verdicts")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    outcome = models.CharField(max_length=12, choices=Outcome.choices)
    acceptance = models.CharField(max_length=8)
    rule = models.CharField(max_length=8, help_text="The acceptance rule as applied, never 'default'.")
    statistic = models.DecimalField(max_digits=12, decimal_places=5, help_text="What was held against the limits.")
    count = models.PositiveSmallIntegerField()
    standard_uncertainty = models.DecimalField(max_digits=12, decimal_places=6)
    conformance = models.DecimalField(max_digits=7, decimal_places=6, null=True, blank=True)
    required = models.DecimalField(max_digits=4, decimal_places=3)
    lower = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    upper = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    for_release = models.BooleanField(default=False)
    informative = models.BooleanField(
        default=False, help_text="Shown, not decided on: Ra where a plaque governs, or a gauge out of date."
    )

    objects = VerdictQuerySet.as_manager()

    class Meta:
        constraints = [
            SupersedingRow.says_why("verdict_says_why"),
            models.CheckConstraint(name="verdict_outcome_known", condition=Q(outcome__in=["yes", "no", "not proven"])),
            models.CheckConstraint(
                name="verdict_conformance_is_a_chance",
                condition=Q(conformance__isnull=True) | Q(conformance__gte=0, conformance__lte=1),
            ),
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("inspection"),
                F("limit"),
                Coalesce("spot", 0),
                name="verdict_once",
                condition=Q(supersedes__isnull=True),
            ),
        ]
        indexes = [models.Index(fields=["face", "at"])]


class Defect(LedgerRow):
    """A fault that lamp and loupe showed on a face: its kind, its size and how many there are."""

    class Kind(models.TextChoices):
        PIT = "pit", _("pit")
        SCRATCH = "scratch", _("scratch")
        PEEL = "orange peel", _("orange peel")
        STAIN = "stain", _("stain")
        INCLUSION = "inclusion", _("inclusion")
        WITNESS = "witness", _("witness of an older step")
        BARE = "bare", _("bare of its coating")

    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="defects")
    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="defects")
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12, choices=Kind.choices)
    size_mm = models.DecimalField(max_digits=7, decimal_places=3)
    count = models.PositiveSmallIntegerField(default=1)
    note = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="defect_has_size_and_count", condition=Q(size_mm__gt=0, count__gt=0)),
        ]
