"""A gauge that was found unfit: what it had measured since its last good check, and one decision on each reading."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow, SupersedingRow
from shop.quality.models.gauge import Calibration, Gauge, TileCheck
from shop.quality.models.inspection import Reading


class UnfitFinding(LedgerRow):
    """A gauge was found unfit at `at`; what it read since `last_good_at` is in doubt (all where that is empty)."""

    gauge = models.ForeignKey(Gauge, on_delete=models.PROTECT, related_name="findings")
    last_good_at = models.DateTimeField(null=True, blank=True)
    calibration = models.ForeignKey(Calibration, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    tile_check = models.ForeignKey(TileCheck, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    why = models.TextField()

    class Meta:
        constraints = [models.CheckConstraint(name="finding_says_why", condition=~Q(why=""))]
        indexes = [models.Index(fields=["gauge", "at"])]


class UnfitDecision(SupersedingRow):
    """What was decided about one reading in doubt."""

    class Decision(models.TextChoices):
        STANDS = "stands", _("stands")
        AGAIN = "measure again", _("measure again")
        WITHDRAW = "withdraw", _("withdraw")

    finding = models.ForeignKey(UnfitFinding, on_delete=models.PROTECT, related_name="decisions")
    reading = models.ForeignKey(Reading, on_delete=models.PROTECT, related_name="unfit_decisions")
    decision = models.CharField(max_length=14, choices=Decision.choices)
    reason = models.TextField()

    class Meta:
        constraints = [
            SupersedingRow.says_why("unfit_decision_says_why"),
            models.CheckConstraint(name="unfit_decision_has_reason", condition=~Q(reason="")),
            models.UniqueConstraint(
                name="unfit_decision_once", fields=["finding", "reading"], condition=Q(supersedes__isnull=True)
            ),
        ]
