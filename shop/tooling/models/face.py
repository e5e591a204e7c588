"""The face of an insert, the spots it is measured at, its finish lives and the steel it has left."""

from __future__ import annotations

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import SupersedingRow
from shop.tooling.models.tool import Insert
from shop.tooling.querysets import FaceQuerySet, LifeQuerySet, SteelQuerySet


class HowMade(models.TextChoices):
    POLISHED = "polished", _("polished")
    STONED = "stoned", _("stoned")
    BLASTED = "blasted", _("blasted")
    ERODED = "spark-eroded", _("spark-eroded")
    ETCHED = "etched", _("etched")
    LASER = "laser", _("laser textured")


class Face(models.Model):
    """A moulding surface of one insert; it belongs to the steel and travels with it.

    `map_*` place the face on the drawn map of its insert, in per cent of the map's width and height.
    `zone_of` names the face that this one lies within: a polished logo in a grained panel.
    """

    insert = models.ForeignKey(Insert, on_delete=models.PROTECT, related_name="faces")
    name = models.CharField(max_length=60)
    zone_of = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="zones")
    area_cm2 = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    draft_deg = models.DecimalField(max_digits=4, decimal_places=2, null=True, blank=True)
    steel_to_give_um = models.DecimalField(
        max_digits=8, decimal_places=2, null=True, blank=True,
        help_text=_("What wall and shut-off let refinishing take in all, a side; empty is not known."),
    )
    map_x = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(100)])
    map_y = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(100)])
    map_w = models.PositiveSmallIntegerField(default=100, validators=[MaxValueValidator(100)])
    map_h = models.PositiveSmallIntegerField(default=100, validators=[MaxValueValidator(100)])

    objects = FaceQuerySet.as_manager()

    class Meta:
        constraints = [models.UniqueConstraint(name="face_name_once", fields=["insert", "name"])]
        ordering = ["insert", "name"]

    def __str__(self) -> str:
        return f"{self.insert.number} {self.name}"


class Spot(models.Model):
    """A named place on a face where it is measured; x and y in per cent of the face."""

    class Kind(models.TextChoices):
        GATE = "gate", _("gate")
        END_OF_FILL = "end of fill", _("end of fill")
        VENT = "vent", _("vent")
        SHUT_OFF = "shut-off edge", _("shut-off edge")
        MIDDLE = "middle", _("middle")

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="spots")
    name = models.CharField(max_length=40)
    kind = models.CharField(max_length=14, choices=Kind.choices, default=Kind.MIDDLE)
    x = models.PositiveSmallIntegerField(default=50, validators=[MaxValueValidator(100)])
    y = models.PositiveSmallIntegerField(default=50, validators=[MaxValueValidator(100)])

    class Meta:
        constraints = [models.UniqueConstraint(name="spot_name_once", fields=["face", "name"])]
        ordering = ["id"]

    def __str__(self) -> str:
        return self.name


class FinishLife(models.Model):
    """One life of a face's finish, from the first shot after the work that made it to the next such work.

    `began_by` and `ended_by` name the work in words ("new tool", "WO-0042 full refinish").
    """

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="lives")
    number = models.PositiveSmallIntegerField()
    began_at = models.DateTimeField()
    began_by = models.CharField(max_length=120)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.CharField(max_length=120, blank=True)

    objects = LifeQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="life_number_once", fields=["face", "number"]),
            models.UniqueConstraint(name="one_running_life", fields=["face"], condition=Q(ended_at__isnull=True)),
            models.CheckConstraint(
                name="life_ends_after_it_began", condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("began_at"))
            ),
        ]
        ordering = ["face", "number"]

    def __str__(self) -> str:
        return f"{self.face} #{self.number}"


class SteelEntry(SupersedingRow):
    """Steel taken from a face, or a re-cut that gave it a new allowance."""

    class Kind(models.TextChoices):
        TAKEN = "taken", _("taken")
        RECUT = "re-cut", _("re-cut")

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="steel_entries")
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.TAKEN)
    depth_um = models.DecimalField(max_digits=8, decimal_places=2, help_text=_("Taken a side, or the new allowance."))
    work = models.CharField(max_length=120, help_text=_("The work that took it, in words."))

    objects = SteelQuerySet.as_manager()

    class Meta:
        constraints = [
            SupersedingRow.says_why("steel_entry_says_why"),
            models.CheckConstraint(name="steel_depth_not_negative", condition=Q(depth_um__gte=0)),
        ]
