"""What the readings ask: steps that all faces of a tool share on one inspection, and readings far off their trend."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shop.quality.models import Inspection, Reading
from shop.tooling.models import Face, Parameter, Tool, WhereMeasured
from shop.watch.querysets import QuestionQuerySet


class CommonStep(models.Model):
    """How much higher all faces of a tool read on one inspection than their own wear has them; worked out anew."""

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="common_steps")
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="common_steps")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    unit = models.CharField(max_length=8)
    offset = models.FloatField()
    se = models.FloatField()
    faces = models.PositiveIntegerField()
    named = models.BooleanField(default=False, help_text="It is more than scatter.")
    worked_out_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "inspection",
                "parameter",
                "where",
                Coalesce("geometry_deg", 0),
                name="one_common_step_of_a_kind",
            ),
        ]


class Question(models.Model):
    """Something that only a person can tell: why all faces stepped together, or whether a far reading is right.

    `code` and `values` are worded when shown. Until it is answered the reading counts as it is.
    """

    class Kind(models.TextChoices):
        STEP = "common step", _("a step of all faces")
        OUTLIER = "outlier", _("a reading far off its trend")

    class Answer(models.TextChoices):
        PROCESS = "process", _("process: temperature, cycle, pressure")
        RESIN_LOT = "resin lot", _("resin lot")
        CLEANING = "cleaning", _("cleaning, or residue")
        GAUGE = "gauge", _("gauge")
        EVENT = "event", _("something happened to the steel")
        WEAR = "wear", _("it is wear")
        RIGHT = "right", _("the reading is right")
        WRONG = "wrong", _("the reading is wrong")

    kind = models.CharField(max_length=12, choices=Kind.choices)
    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="questions")
    face = models.ForeignKey(Face, null=True, blank=True, on_delete=models.PROTECT, related_name="questions")
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="questions")
    reading = models.ForeignKey(Reading, null=True, blank=True, on_delete=models.PROTECT, related_name="questions")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    code = models.CharField(max_length=40)
    values = models.JSONField(default=dict)
    asked_at = models.DateTimeField()
    answer = models.CharField(max_length=12, choices=Answer.choices, blank=True)
    note = models.TextField(blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )
    gone_at = models.DateTimeField(
        null=True, blank=True, help_text="When later readings had shown that there was nothing to ask."
    )

    objects = QuestionQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "inspection",
                "parameter",
                "where",
                Coalesce("geometry_deg", 0),
                Coalesce("reading", 0),
                name="one_question_of_a_kind",
            ),
            models.CheckConstraint(
                name="question_answered_by_somebody",
                condition=Q(answer="", answered_at__isnull=True, answered_by__isnull=True)
                | (~Q(answer="") & Q(answered_at__isnull=False, answered_by__isnull=False)),
            ),
            models.CheckConstraint(
                name="outlier_names_its_reading",
                condition=Q(kind="common step", reading__isnull=True) | Q(kind="outlier", reading__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["answered_at", "asked_at"])]
