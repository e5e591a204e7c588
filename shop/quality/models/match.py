"""Faces that must agree with one another, and whether they did."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow
from shop.quality.models.inspection import Inspection, Reading, Verdict
from shop.tooling.models import Face, Parameter, Tool, WhereMeasured


class MatchGroup(models.Model):
    """Faces of one tool that must agree within a tolerance, measured with one gauge."""

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="match_groups")
    name = models.CharField(max_length=80)
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    tolerance = models.DecimalField(max_digits=10, decimal_places=4, help_text=_("The largest difference allowed."))
    unit = models.CharField(max_length=8)
    faces = models.ManyToManyField(Face, related_name="match_groups")
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(name="match_group_name_once", fields=["tool", "name"]),
            models.CheckConstraint(name="match_tolerance_positive", condition=Q(tolerance__gt=0)),
        ]

    def __str__(self) -> str:
        return self.name


class MatchVerdict(LedgerRow):
    """How far the faces of a group were apart in one inspection, and what that means."""

    group = models.ForeignKey(MatchGroup, on_delete=models.PROTECT, related_name="verdicts")
    inspection = models.ForeignKey(Inspection, on_delete=models.PROTECT, related_name="match_verdicts")
    lowest = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    highest = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="+")
    difference = models.DecimalField(max_digits=12, decimal_places=5)
    standard_uncertainty = models.DecimalField(max_digits=12, decimal_places=6)
    tolerance = models.DecimalField(max_digits=10, decimal_places=4)
    conformance = models.DecimalField(max_digits=7, decimal_places=6)
    required = models.DecimalField(max_digits=4, decimal_places=3)
    outcome = models.CharField(max_length=12, choices=Verdict.Outcome.choices)
    missing = models.JSONField(default=list, help_text="Names of faces that were not measured this time.")

    class Meta:
        constraints = [
            models.UniqueConstraint(name="match_verdict_once", fields=["group", "inspection"]),
            models.CheckConstraint(
                name="match_figures_possible",
                condition=Q(difference__gte=0, standard_uncertainty__gte=0, conformance__gte=0, conformance__lte=1),
            ),
        ]
