"""The tool, its cavity positions, and the inserts fitted into them from one day to another."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from shop.people.models import Plant
from shop.tooling.querysets import FittingQuerySet, InsertQuerySet, ToolQuerySet


class Acceptance(models.TextChoices):
    """How a customer wants values near a limit decided."""

    GUARDED = "guarded", _("guarded (ISO 14253-1)")
    SIMPLE = "simple", _("simple")
    PLAQUE = "plaque", _("by plaque")


class Customer(models.Model):
    name = models.CharField(max_length=120, unique=True)
    acceptance = models.CharField(max_length=8, choices=Acceptance.choices, default=Acceptance.GUARDED)
    buy_off = models.BooleanField(default=False, help_text=_("The customer signs before a tool is released."))

    def __str__(self) -> str:
        return self.name


class Resin(models.Model):
    """A moulding material as this plant buys it; `severity` weighs its shots against an unfilled resin's."""

    name = models.CharField(max_length=80, unique=True)
    family = models.CharField(max_length=12, help_text=_("ABS, PP, PA, PC, POM, PMMA ..."))
    filler = models.CharField(max_length=40, blank=True)
    filler_percent = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(80)])
    severity = models.DecimalField(max_digits=4, decimal_places=2, default="1.00")

    class Meta:
        constraints = [models.CheckConstraint(name="resin_severity_positive", condition=Q(severity__gt=0))]

    def __str__(self) -> str:
        return self.name


class Tool(models.Model):
    class Place(models.TextChoices):
        IN_PRESS = "in press", _("in press")
        RACK = "rack", _("rack")
        BENCH = "bench", _("bench")
        SENT_OUT = "sent out", _("sent out")
        AT_TOOLMAKER = "at toolmaker", _("at toolmaker")
        AT_CUSTOMER = "at customer", _("at customer")
        OTHER_PLANT = "other plant", _("other plant")

    class Status(models.TextChoices):
        PRODUCTION = "production", _("production")
        REPAIR = "repair", _("repair")
        DISPOSED = "disposed", _("disposed")

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="tools")
    number = models.CharField(max_length=40)
    title = models.CharField(max_length=160)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="tools")
    part_number = models.CharField(max_length=60, blank=True)
    part_revision = models.CharField(max_length=20, blank=True)
    mould_class = models.CharField(max_length=8, blank=True, help_text=_("101 to 105"))
    owner = models.CharField(max_length=120, blank=True, help_text=_("Whose steel it is; empty is the plant's own."))
    place = models.CharField(max_length=12, choices=Place.choices, default=Place.RACK)
    status = models.CharField(max_length=10, choices=Status.choices, default=Status.PRODUCTION)
    resin = models.ForeignKey(
        Resin,
        null=True,
        blank=True,
        on_delete=models.PROTECT,
        related_name="tools",
        help_text=_("What it usually runs."),
    )

    objects = ToolQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="tool_number_once", fields=["plant", "number"]),
            models.CheckConstraint(
                name="tool_disposed_is_out_of_press", condition=~Q(status="disposed", place="in press")
            ),
        ]
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.number} {self.title}"


class Position(models.Model):
    """A cavity position. A family tool groups its positions into sets that run together."""

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="positions")
    number = models.PositiveSmallIntegerField(validators=[MinValueValidator(1)])
    in_set = models.CharField(max_length=12, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(name="position_once", fields=["tool", "number"])]
        ordering = ["number"]

    def __str__(self) -> str:
        return f"{self.tool.number}/{self.number}"


class Insert(models.Model):
    """A piece of steel with its own number and its own history; it may be fitted, spare or retired."""

    class Kind(models.TextChoices):
        CAVITY = "cavity", _("cavity insert")
        CORE = "core", _("core insert")
        SLIDE = "slide", _("slide")
        LIFTER = "lifter", _("lifter")

    class Coating(models.TextChoices):
        NONE = "", _("none")
        CHROME = "hard chrome", _("hard chrome")
        NICKEL = "electroless nickel", _("electroless nickel")
        PVD = "PVD", _("PVD")
        DLC = "DLC", _("DLC")
        NITRIDED = "nitrided", _("nitrided")

    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="inserts")
    number = models.CharField(max_length=40)
    kind = models.CharField(max_length=8, choices=Kind.choices, default=Kind.CAVITY)
    steel = models.CharField(max_length=20, help_text=_("EN or AISI number"))
    hardness_hrc = models.DecimalField(max_digits=4, decimal_places=1, null=True, blank=True)
    coating = models.CharField(max_length=20, choices=Coating.choices, blank=True, default=Coating.NONE)
    retired_at = models.DateTimeField(null=True, blank=True)

    objects = InsertQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="insert_number_once", fields=["tool", "number"]),
            models.CheckConstraint(
                name="insert_hardness_on_scale",
                condition=Q(hardness_hrc__isnull=True) | Q(hardness_hrc__gte=0, hardness_hrc__lte=70),
            ),
        ]
        ordering = ["number"]

    def __str__(self) -> str:
        return self.number


class Fitting(models.Model):
    """An insert in a position, from one time to another. `kind` repeats the insert's, for the constraint."""

    insert = models.ForeignKey(Insert, on_delete=models.PROTECT, related_name="fittings")
    position = models.ForeignKey(Position, on_delete=models.PROTECT, related_name="fittings")
    kind = models.CharField(max_length=8, choices=Insert.Kind.choices)
    slot = models.PositiveSmallIntegerField(default=1, help_text=_("Which of several of its kind in the position."))
    from_at = models.DateTimeField()
    to_at = models.DateTimeField(null=True, blank=True)

    objects = FittingQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="insert_in_one_place", fields=["insert"], condition=Q(to_at__isnull=True)
            ),
            models.UniqueConstraint(
                name="position_holds_one_of_a_kind",
                fields=["position", "kind", "slot"],
                condition=Q(to_at__isnull=True),
            ),
            models.CheckConstraint(
                name="fitting_ends_after_it_began", condition=Q(to_at__isnull=True) | Q(to_at__gt=F("from_at"))
            ),
        ]
        indexes = [models.Index(fields=["position", "from_at"])]
