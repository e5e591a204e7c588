"""Calls, the reasons behind them, and the plant's rules for calling."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow
from shop.people.models import Plant
from shop.press.models import Damage
from shop.quality.models import Verdict
from shop.tooling.models import Customer, Face, Tool
from shop.watch.querysets import CallQuerySet


class Call(models.Model):
    """What the software raises: this face needs something, because. One open call per face and cause."""

    class Cause(models.TextChoices):
        OFF_SPEC = "off spec", _("off spec")
        NOT_PROVEN = "not proven", _("not proven")
        FORECAST = "forecast", _("forecast inside the lead time")
        INTERVAL = "interval", _("interval in shots reached")
        DAMAGE = "damage", _("damage reported")
        NOT_MEASURED = "not measured", _("not measured when planned")
        PATTERN = "own pattern", _("left its own pattern")

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
        return self.cause not in (Call.Cause.NOT_MEASURED, Call.Cause.NOT_PROVEN, Call.Cause.PATTERN)


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


class Policy(models.Model):
    """When faces are called: the plant's own rule, and for a customer what is asked for otherwise.

    What is left empty for a customer is the plant's; what is left empty for the plant is what `Plant` says.
    """

    class Chart(models.TextChoices):
        EWMA = "ewma", _("EWMA")
        CUSUM = "cusum", _("CUSUM")
        INDIVIDUALS = "individuals", _("individuals")
        RUN_RULES = "run rules", _("individuals with run rules")
        NONE = "none", _("no chart")

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="policies")
    customer = models.ForeignKey(Customer, null=True, blank=True, on_delete=models.PROTECT, related_name="policies")
    call_chance = models.DecimalField(
        max_digits=3,
        decimal_places=2,
        null=True,
        blank=True,
        validators=[MinValueValidator(0.01), MaxValueValidator(0.5)],
    )
    lead_time_days = models.PositiveSmallIntegerField(null=True, blank=True)
    call_not_proven = models.BooleanField(null=True, blank=True, help_text=_("A reading in the guard zone is called."))
    chart = models.CharField(max_length=12, choices=Chart.choices, blank=True)
    run_length = models.PositiveIntegerField(
        null=True, blank=True, help_text=_("How many readings come between two false alarms, in the mean.")
    )
    interval_shots = models.PositiveIntegerField(
        null=True, blank=True, help_text=_("A finish is called after so many shots whatever it reads.")
    )

    class Meta:
        constraints = [
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(F("plant"), Coalesce("customer", 0), name="one_policy_a_customer"),
            models.CheckConstraint(
                name="policy_chance_is_one",
                condition=Q(call_chance__isnull=True) | Q(call_chance__gte=0.01, call_chance__lte=0.5),
            ),
            models.CheckConstraint(
                name="policy_run_length_long_enough", condition=Q(run_length__isnull=True) | Q(run_length__gte=50)
            ),
            models.CheckConstraint(
                name="policy_interval_positive", condition=Q(interval_shots__isnull=True) | Q(interval_shots__gt=0)
            ),
        ]
