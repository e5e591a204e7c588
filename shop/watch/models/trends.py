"""Trends, the groups that they learn from, and what they say of each face now."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shop.people.models import Plant
from shop.quality.models import Gauge
from shop.tooling.models import Face, FinishLife, HowMade, Parameter, Resin, Spot, WhereMeasured
from shop.watch.querysets import PoolQuerySet, StandingQuerySet, TrendQuerySet

SIDES = [("upper", _("upper limit")), ("lower", _("lower limit"))]


class Pool(models.Model):
    """What the faces of a group have shown of their wear towards one of their limits, as it was last learned.

    A group is told by what is not empty here: a wider one leaves out zone, then hardness, severity and family.
    Values are shares of the limit, so that faces of other limits stand beside each other; shots are weighted by resin.
    `courses` holds what is believed of the way shots count: power, belief, parameters and how well these are known.
    """

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="pools")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    how_made = models.CharField(max_length=14, choices=HowMade.choices)
    family = models.CharField(max_length=12, blank=True, help_text="Of the finish: A, B, C, D, VDI, plaque, value.")
    severity = models.CharField(max_length=8, blank=True, help_text="Of the resin: mild, filled, harsh.")
    hardness = models.CharField(max_length=8, blank=True, help_text="Class of the steel, in HRC.")
    zone = models.CharField(max_length=14, choices=Spot.Kind.choices, blank=True)
    side = models.CharField(max_length=5, choices=SIDES)
    faces = models.PositiveIntegerField()
    readings = models.PositiveIntegerField()
    courses = models.JSONField(default=list)
    scale = models.FloatField(default=1.0, help_text="Shots that count as one.")
    learned_at = models.DateTimeField()

    objects = PoolQuerySet.as_manager()

    class Meta:
        constraints = [
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("plant"),
                F("parameter"),
                F("where"),
                Coalesce("geometry_deg", 0),
                F("how_made"),
                F("family"),
                F("severity"),
                F("hardness"),
                F("zone"),
                F("side"),
                name="one_pool_of_a_kind",
            ),
        ]


class LevelOffset(models.Model):
    """How much higher a resin and colour, or a gauge, reads than the plant's mean: learned from faces that had both."""

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="level_offsets")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    resin = models.ForeignKey(Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    colour = models.CharField(max_length=40, blank=True)
    gauge = models.ForeignKey(Gauge, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    offset = models.FloatField(help_text="In the parameter's unit.")
    se = models.FloatField()
    spread = models.FloatField(default=1.0, help_text="How a gauge's readings scatter, against the plant's mean.")
    faces = models.PositiveIntegerField()
    learned_at = models.DateTimeField()

    class Meta:
        constraints = [
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("plant"),
                F("parameter"),
                F("where"),
                Coalesce("geometry_deg", 0),
                Coalesce("resin", 0),
                F("colour"),
                Coalesce("gauge", 0),
                name="one_level_offset_of_a_kind",
            ),
            models.CheckConstraint(
                name="level_offset_of_a_resin_or_a_gauge",
                condition=Q(resin__isnull=False, gauge__isnull=True)
                | Q(resin__isnull=True, colour="", gauge__isnull=False),
            ),
        ]


class LearnedSeverity(models.Model):
    """How much faster a resin wears a face than an unfilled one: learned from faces that ran several."""

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="severities")
    resin = models.ForeignKey(Resin, on_delete=models.PROTECT, related_name="learned_severities")
    severity = models.FloatField()
    low = models.FloatField(help_text="Lower end of its 80 % interval.")
    high = models.FloatField(help_text="Upper end of its 80 % interval.")
    faces = models.PositiveIntegerField()
    learned_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="one_learned_severity_a_resin", fields=["plant", "resin"]),
            models.CheckConstraint(name="learned_severity_positive", condition=Q(severity__gt=0)),
        ]


class Trend(models.Model):
    """One wear path through the readings of one life, refitted from them whenever one comes in; never summed up.

    Shots are the face's own, counted from the beginning of the life. `left_*` are shots from now until
    the chance of having reached the nearer limit is 10, 50 and 90 %; null is never, or not known yet. They come from
    the face's group where there is a `pool`, else from its own line, whose own answer stays in `own_left_*`.
    `points` are the readings as they are forecast from (see `shop.watch.path`): shots weighted by resin and values
    brought to one resin and gauge, without what their inspections share.
    """

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="trends")
    life = models.ForeignKey(FinishLife, on_delete=models.PROTECT, related_name="trends")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    resin = models.ForeignKey(
        Resin,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="+",
        help_text="Which its level stands for, the last one read; others are brought to it. Steel has none.",
    )
    colour = models.CharField(max_length=40, blank=True)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True, help_text="Gloss angles do not convert.")
    unit = models.CharField(max_length=8)
    count = models.PositiveIntegerField()
    last_value = models.FloatField()
    last_uncertainty = models.FloatField(default=0, help_text="Standard uncertainty of the last reading.")
    last_at = models.DateTimeField()
    last_life_shots = models.PositiveBigIntegerField()
    lower = models.FloatField(null=True, blank=True)
    upper = models.FloatField(null=True, blank=True)
    intercept = models.FloatField(null=True, blank=True)
    slope = models.FloatField(null=True, blank=True)
    se_intercept = models.FloatField(null=True, blank=True)
    se_slope = models.FloatField(null=True, blank=True)
    residual_sd = models.FloatField(null=True, blank=True)
    mean_shots = models.FloatField(null=True, blank=True)
    sxx = models.FloatField(null=True, blank=True)
    towards = models.CharField(max_length=5, blank=True, choices=SIDES)
    life_shots = models.PositiveBigIntegerField(help_text="The face's shots in this life when it was fitted.")
    chance_now = models.FloatField(null=True, blank=True)
    left_10 = models.BigIntegerField(null=True, blank=True)
    left_50 = models.BigIntegerField(null=True, blank=True)
    left_90 = models.BigIntegerField(null=True, blank=True)
    own_left_10 = models.BigIntegerField(null=True, blank=True)
    own_left_50 = models.BigIntegerField(null=True, blank=True)
    own_left_90 = models.BigIntegerField(null=True, blank=True)
    pool = models.ForeignKey(Pool, null=True, blank=True, on_delete=models.SET_NULL, related_name="trends")
    shape = models.CharField(
        max_length=8,
        blank=True,
        choices=[
            ("flat", _("flat")),
            ("line", _("even wear")),
            ("run-in", _("run-in")),
            ("power", _("wear that hastens")),
        ],
    )
    severity = models.FloatField(default=1.0, help_text="What a shot of the resin that runs counts.")
    life_wear = models.FloatField(default=0.0, help_text="Shots of the life, each weighted by its resin.")
    rate = models.FloatField(null=True, blank=True, help_text="What a shot to come is expected to change the level by.")
    points = models.BinaryField(default=b"")
    shared = models.JSONField(null=True, blank=True, help_text="How well the line that steps share with wear is known.")
    fitted_at = models.DateTimeField()

    objects = TrendQuerySet.as_manager()

    class Meta:
        constraints = [
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("life"),
                F("parameter"),
                Coalesce("spot", 0),
                F("where"),
                Coalesce("geometry_deg", 0),
                name="one_trend_of_a_kind",
            ),
        ]


class Standing(models.Model):
    """How one face stands now: worked out from its trends, verdicts, life and calls; rebuilt at any time."""

    class State(models.TextChoices):
        AWAITING_PARTS = "awaiting parts", _("awaiting parts")
        SOUND = "sound", _("sound")
        WEARING = "wearing", _("wearing")
        DUE = "due", _("due")
        OFF_SPEC = "off spec", _("off spec")

    face = models.OneToOneField(Face, on_delete=models.PROTECT, related_name="standing")
    state = models.CharField(max_length=16, choices=State.choices, default=State.SOUND)
    on_concession = models.BooleanField(default=False)
    worst = models.ForeignKey(Trend, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    life_shots = models.PositiveBigIntegerField(default=0)
    shots_per_day = models.FloatField(null=True, blank=True)
    left_10 = models.BigIntegerField(null=True, blank=True)
    left_50 = models.BigIntegerField(null=True, blank=True)
    due_on = models.DateField(null=True, blank=True, help_text="When the chance is 10 %, by planned runs and rate.")
    even_on = models.DateField(null=True, blank=True, help_text="When the chance is 50 %.")
    sure_on = models.DateField(null=True, blank=True, help_text="When the chance is 90 %.")
    window_from = models.DateField(null=True, blank=True, help_text="The natural window: the press has a gap.")
    window_to = models.DateField(null=True, blank=True)
    chance_ahead = models.FloatField(null=True, blank=True, help_text="Of reaching a limit within four weeks.")
    bad_shots_ahead = models.FloatField(
        null=True, blank=True, help_text="Shots that are to be expected beyond the limit within four weeks."
    )
    steel_left_um = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    worked_out_at = models.DateTimeField()

    objects = StandingQuerySet.as_manager()
