"""Studies of gauges and of people who judge by eye: the values as entered, and what came of them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import SupersedingRow
from shop.people.models import Plant
from shop.quality.models.gauge import Gauge
from shop.tooling.models import Parameter, Plaque


class GaugeStudy(SupersedingRow):
    """A gauge, so many people, parts and trials. `values[part][person][trial]` are kept as typed; the rest follows."""

    class Method(models.TextChoices):
        RANGE = "range", _("average and range")
        ANOVA = "anova", _("analysis of variance")

    class Fitness(models.TextChoices):
        FIT = "fit", _("fit")
        CONDITIONAL = "conditional", _("conditional")
        NOT_FIT = "not fit", _("not fit")

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="studies")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    unit = models.CharField(max_length=8)
    method = models.CharField(max_length=6, choices=Method.choices, default=Method.ANOVA)
    tolerance = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    people = models.JSONField()
    parts = models.JSONField()
    values = models.JSONField()
    repeatability = models.DecimalField(max_digits=12, decimal_places=6)
    repeatability_df = models.DecimalField(max_digits=8, decimal_places=2)
    percent_grr = models.DecimalField(max_digits=6, decimal_places=2)
    percent_of_tolerance = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    ndc = models.PositiveSmallIntegerField(null=True, blank=True)
    fitness = models.CharField(max_length=12, choices=Fitness.choices)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            SupersedingRow.says_why("study_says_why"),
            models.CheckConstraint(
                name="study_figures_possible",
                condition=Q(repeatability__gte=0, repeatability_df__gt=0, percent_grr__gte=0),
            ),
        ]
        indexes = [models.Index(fields=["gauge", "at"])]


class AgreementStudy(SupersedingRow):
    """People who judged the same pieces by eye: `judgements[piece][person][trial]`, and the master's where there is."""

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="agreement_studies")
    title = models.CharField(max_length=120)
    plaque = models.ForeignKey(Plaque, null=True, blank=True, on_delete=models.PROTECT, related_name="studies")
    categories = models.JSONField()
    people = models.JSONField()
    pieces = models.JSONField()
    judgements = models.JSONField()
    master = models.JSONField(null=True, blank=True)
    weights = models.CharField(max_length=10, default="none")
    kappa = models.DecimalField(max_digits=6, decimal_places=4, null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            SupersedingRow.says_why("agreement_says_why"),
            models.CheckConstraint(
                name="agreement_kappa_possible", condition=Q(kappa__isnull=True) | Q(kappa__gte=-1, kappa__lte=1)
            ),
        ]
