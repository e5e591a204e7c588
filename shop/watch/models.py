"""Trends, what they say of each face now, and calls."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow
from shop.press.models import Damage
from shop.quality.models import Verdict
from shop.tooling.models import Face, FinishLife, Parameter, Resin, Spot, Tool, WhereMeasured
from shop.watch.querysets import CallQuerySet, StandingQuerySet, TrendQuerySet


class Trend(models.Model):
    """A line through the readings of one life, refitted from them whenever one comes in; never summed up.

    Shots are the face's own, counted from the beginning of the life. `left_*` are shots from now until
    the chance of having reached the nearer limit is 10, 50 and 90 %; null is never, or not known yet.
    """

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="trends")
    life = models.ForeignKey(FinishLife, on_delete=models.PROTECT, related_name="trends")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    resin = models.ForeignKey(
        Resin, null=True, blank=True, on_delete=models.PROTECT, related_name="+", help_text="Of parts; steel has none."
    )
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
    towards = models.CharField(
        max_length=5, blank=True, choices=[("upper", _("upper limit")), ("lower", _("lower limit"))]
    )
    life_shots = models.PositiveBigIntegerField(help_text="The face's shots in this life when it was fitted.")
    chance_now = models.FloatField(null=True, blank=True)
    left_10 = models.BigIntegerField(null=True, blank=True)
    left_50 = models.BigIntegerField(null=True, blank=True)
    left_90 = models.BigIntegerField(null=True, blank=True)
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
                Coalesce("resin", 0),
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
    due_on = models.DateField(null=True, blank=True, help_text="When left_10 runs out at the recent rate.")
    steel_left_um = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    worked_out_at = models.DateTimeField()

    objects = StandingQuerySet.as_manager()


class Call(models.Model):
    """What the software raises: this face needs something, because. One open call per face and cause."""

    class Cause(models.TextChoices):
        OFF_SPEC = "off spec", _("off spec")
        NOT_PROVEN = "not proven", _("not proven")
        FORECAST = "forecast", _("forecast inside the lead time")
        INTERVAL = "interval", _("interval in shots reached")
        DAMAGE = "damage", _("damage reported")
        NOT_MEASURED = "not measured", _("not measured when planned")

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="calls")
    face = models.ForeignKey(Face, null=True, blank=True, on_delete=models.PROTECT, related_name="calls")
    cause = models.CharField(max_length=14, choices=Cause.choices)
    opened_at = models.DateTimeField()
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_because = models.JSONField(default=dict, help_text="Code and values, worded when shown.")

    objects = CallQuerySet.as_manager()

    class Meta:
        constraints = [
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("tool"),
                Coalesce("face", 0),
                F("cause"),
                name="one_open_call_per_cause",
                condition=Q(closed_at__isnull=True),
            ),
            models.CheckConstraint(
                name="only_damage_is_called_without_a_face", condition=Q(face__isnull=False) | Q(cause="damage")
            ),
            models.CheckConstraint(
                name="call_closes_after_it_opened",
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("opened_at")),
            ),
        ]
        indexes = [models.Index(fields=["closed_at", "opened_at"])]

    @property
    def wants_bench_work(self) -> bool:
        """Return whether the call asks for work on the steel, not for a measurement."""
        return self.cause not in (Call.Cause.NOT_MEASURED, Call.Cause.NOT_PROVEN)


class Evidence(LedgerRow):
    """One reason behind a call, as code and values; a call that meets a new reason gains a row."""

    call = models.ForeignKey(Call, on_delete=models.PROTECT, related_name="evidence")
    code = models.CharField(max_length=40)
    values = models.JSONField(default=dict)
    verdict = models.ForeignKey(Verdict, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    damage = models.ForeignKey(Damage, null=True, blank=True, on_delete=models.PROTECT, related_name="+")


class RefinishInterval(models.Model):
    """A planned interval in shots after which a face is called whatever it reads."""

    face = models.OneToOneField(Face, on_delete=models.PROTECT, related_name="refinish_interval")
    shots = models.PositiveIntegerField()

    class Meta:
        constraints = [models.CheckConstraint(name="interval_positive", condition=Q(shots__gt=0))]
