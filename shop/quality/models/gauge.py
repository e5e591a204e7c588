"""Gauges: their calibrations, checks on the tile, offsets from one another."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow
from shop.paper.models import StoredFile
from shop.people.models import Plant
from shop.quality.querysets import GaugeQuerySet
from shop.tooling.models import Parameter


class Gauge(models.Model):
    """A measuring instrument. Its state and uncertainty are those of its latest calibration."""

    class Kind(models.TextChoices):
        STYLUS = "stylus", _("stylus")
        OPTICAL = "optical", _("optical roughness")
        GLOSS = "glossmeter", _("glossmeter")
        COMPARATOR = "comparator", _("comparator")
        THICKNESS = "thickness", _("coating thickness")

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="gauges")
    number = models.CharField(max_length=40)
    kind = models.CharField(max_length=12, choices=Kind.choices)
    serial = models.CharField(max_length=60, blank=True)
    resolution = models.DecimalField(max_digits=8, decimal_places=4)
    owner = models.CharField(max_length=80, blank=True, help_text=_("Whose it is where it is not ours."))
    aperture_mm = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    tip_um = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    place = models.CharField(max_length=80, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = GaugeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="gauge_number_once", fields=["plant", "number"]),
            models.CheckConstraint(name="gauge_resolution_positive", condition=Q(resolution__gt=0)),
        ]
        ordering = ["number"]

    def __str__(self) -> str:
        return self.number


class Calibration(LedgerRow):
    """A calibration: passed or not, valid until, expanded uncertainty U = a + b x value at coverage k."""

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="calibrations")
    passed = models.BooleanField(default=True)
    due_on = models.DateField()
    certificate = models.CharField(max_length=80, blank=True)
    file = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    expanded_a = models.DecimalField(max_digits=8, decimal_places=4)
    expanded_b = models.DecimalField(max_digits=6, decimal_places=4, default=0)
    coverage_k = models.DecimalField(max_digits=3, decimal_places=2, default="2.00")

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="calibration_uncertainty_sane",
                condition=Q(expanded_a__gte=0, expanded_b__gte=0, coverage_k__gt=0),
            ),
        ]
        indexes = [models.Index(fields=["gauge", "at"])]


class CalibrationRange(LedgerRow):
    """Part of a gauge's range with an uncertainty of its own, U = a + b x value; outside all, the calibration's."""

    calibration = models.ForeignKey(Calibration, on_delete=models.PROTECT, related_name="ranges")
    lower = models.DecimalField(max_digits=10, decimal_places=4)
    upper = models.DecimalField(max_digits=10, decimal_places=4)
    expanded_a = models.DecimalField(max_digits=8, decimal_places=4)
    expanded_b = models.DecimalField(max_digits=6, decimal_places=4, default=0)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="calibration_range_sane",
                condition=Q(lower__lt=F("upper"), lower__gte=0, expanded_a__gte=0, expanded_b__gte=0),
            ),
        ]
        ordering = ["calibration", "lower"]


class TileCheck(LedgerRow):
    """A gauge read its tile before use: what it showed, what the tile is worth, and what that says."""

    class Outcome(models.TextChoices):
        GOOD = "good", _("good")
        LOOK_AGAIN = "look again", _("look again")
        UNFIT = "unfit", _("unfit")

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="tile_checks")
    tile = models.CharField(max_length=40, help_text=_("The number on the tile or the standard."))
    unit = models.CharField(max_length=8)
    value = models.DecimalField(max_digits=10, decimal_places=4)
    tile_value = models.DecimalField(max_digits=10, decimal_places=4)
    tile_expanded = models.DecimalField(max_digits=8, decimal_places=4)
    limit = models.DecimalField(max_digits=8, decimal_places=4, help_text=_("The largest difference that is let pass."))
    outcome = models.CharField(max_length=10, choices=Outcome.choices)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="tile_check_sane",
                condition=Q(value__gte=0, tile_value__gte=0, tile_expanded__gte=0, limit__gt=0),
            ),
        ]
        indexes = [models.Index(fields=["gauge", "at"])]


class GaugeOffset(LedgerRow):
    """What one gauge reads above another of its kind, from a paired comparison that is kept as typed."""

    ours = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="offsets")
    theirs = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="offsets_of_others")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    unit = models.CharField(max_length=8)
    pairs = models.JSONField(help_text="Pairs of values, ours and theirs, as they were typed.")
    offset = models.DecimalField(max_digits=10, decimal_places=5)
    standard_uncertainty = models.DecimalField(max_digits=10, decimal_places=6)
    effective_df = models.DecimalField(max_digits=8, decimal_places=2)
    depends_on_level = models.BooleanField(default=False)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="offset_between_two_gauges", condition=~Q(ours=F("theirs"))),
            models.CheckConstraint(
                name="offset_uncertainty_sane", condition=Q(standard_uncertainty__gte=0, effective_df__gt=0)
            ),
        ]
        indexes = [models.Index(fields=["ours", "theirs", "at"])]
