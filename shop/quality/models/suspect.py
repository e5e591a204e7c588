"""What was decided about suspect parts, lot by lot, with a name."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import SupersedingRow
from shop.press.models import Run
from shop.quality.models.inspection import Verdict
from shop.tooling.models import Position


class SuspectDecision(SupersedingRow):
    """One decision on what one run moulded of one lot in one cavity behind a failed verdict."""

    class Decision(models.TextChoices):
        HOLD = "hold", _("hold")
        SORT = "sort", _("sort")
        SHIP = "ship", _("ship")
        SCRAP = "scrap", _("scrap")

    verdict = models.ForeignKey(Verdict, on_delete=models.PROTECT, related_name="suspect_decisions")
    run = models.ForeignKey(Run, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="+")
    lot = models.CharField(max_length=40, blank=True)
    shots = models.PositiveIntegerField(help_text=_("How many parts were in doubt when it was decided."))
    decision = models.CharField(max_length=6, choices=Decision.choices)
    responsible = models.CharField(max_length=120, help_text=_("Who answers for it."))
    reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            SupersedingRow.says_why("suspect_decision_says_why"),
            models.CheckConstraint(name="suspect_decision_has_a_name", condition=~Q(responsible="")),
            models.CheckConstraint(
                name="suspect_shipped_says_why", condition=~Q(decision="ship") | ~Q(reason="")
            ),
        ]
        indexes = [models.Index(fields=["verdict", "at"])]
