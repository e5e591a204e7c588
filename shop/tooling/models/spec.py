"""What a face must be: the finish spec by revision, its limits, plaques and concessions."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy as _

from shop.ledger.models import LedgerRow, SupersedingRow
from shop.paper.models import StoredFile
from shop.people.models import Plant
from shop.tooling.models.face import Face, HowMade, Spot
from shop.tooling.models.tool import Acceptance
from shop.tooling.querysets import ConcessionQuerySet, SpecQuerySet


class Parameter(models.TextChoices):
    """What is measured or compared. A comparison is graded -2 to 2 against the plaque."""

    RA = "Ra", _("Ra")
    RQ = "Rq", _("Rq")
    RZ = "Rz", _("Rz")
    GLOSS = "gloss", _("gloss")
    LOOK_GLOSS = "look gloss", _("gloss by eye")
    LOOK_ROUGHNESS = "look roughness", _("roughness by eye")

    @property
    def by_eye(self) -> bool:
        """Return whether this is a graded comparison with the plaque."""
        return self in (Parameter.LOOK_GLOSS, Parameter.LOOK_ROUGHNESS)


class WhereMeasured(models.TextChoices):
    STEEL = "steel", _("steel")
    PART = "part", _("part")
    REPLICA = "replica", _("replica")


class Plaque(models.Model):
    """A signed sample that says what a finish looks like."""

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="plaques")
    number = models.CharField(max_length=40)
    house = models.CharField(max_length=80, blank=True)
    code = models.CharField(max_length=60, blank=True)
    copy = models.CharField(
        max_length=8, choices=[("master", _("master")), ("working", _("working copy"))], default="working"
    )
    signed_by = models.CharField(max_length=120, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    place = models.CharField(max_length=80, blank=True)
    pattern_depth_um = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    photo = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    master = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="copies")
    limit_of = models.ForeignKey("self", null=True, blank=True, on_delete=models.PROTECT, related_name="limit_plaques")
    limit_side = models.CharField(
        max_length=5, choices=[("light", _("light limit")), ("dark", _("dark limit"))], blank=True
    )
    recheck_days = models.PositiveSmallIntegerField(null=True, blank=True, help_text=_("How often it is checked."))
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_because = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(name="plaque_number_once", fields=["plant", "number"]),
            models.CheckConstraint(
                name="plaque_limit_has_a_side",
                condition=Q(limit_of__isnull=True, limit_side="") | (Q(limit_of__isnull=False) & ~Q(limit_side="")),
            ),
            models.CheckConstraint(
                name="plaque_withdrawn_says_why", condition=Q(withdrawn_at__isnull=True) | ~Q(withdrawn_because="")
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.code}".strip()


class PlaqueCheck(LedgerRow):
    """A plaque was looked at, or measured: it still says what it should, or it does not."""

    plaque = models.ForeignKey(Plaque, on_delete=models.PROTECT, related_name="checks")
    passed = models.BooleanField()
    against = models.ForeignKey(Plaque, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    gloss_gu = models.DecimalField(max_digits=6, decimal_places=2, null=True, blank=True)
    note = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="plaque_check_failed_says_why", condition=Q(passed=True) | ~Q(note="")),
        ]
        indexes = [models.Index(fields=["plaque", "at"])]


class Spec(LedgerRow):
    """One revision of a face's finish; `at` is from when it holds. Editing a spec makes the next revision."""

    class Scale(models.TextChoices):
        VDI = "VDI 3400", "VDI 3400"
        GRADE = "grade", _("mould finish grade")
        N = "N", _("N grade")
        VALUE = "value", _("by value")
        PLAQUE = "plaque", _("plaque")

    class Edition(models.TextChoices):
        ISO_1996 = "ISO 4288:1996", "ISO 4288:1996"
        ISO_2021 = "ISO 21920-3:2021", "ISO 21920-3:2021"
        ASME = "ASME B46.1", "ASME B46.1"

    class Rule(models.TextChoices):
        EDITION = "", _("the drawing edition's default")
        SIXTEEN = "16 %", "16 %"
        TMAX = "Tmax", "Tmax"
        T16 = "T16", "T16"
        TMED = "Tmed", "Tmed"
        MEAN = "mean", _("mean (house rule)")

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="specs")
    revision = models.PositiveSmallIntegerField()
    reason = models.TextField()
    how_made = models.CharField(max_length=14, choices=HowMade.choices)
    scale = models.CharField(max_length=10, choices=Scale.choices)
    code = models.CharField(max_length=60, blank=True)
    plaque = models.ForeignKey(Plaque, null=True, blank=True, on_delete=models.PROTECT, related_name="specs")
    pattern_depth_um = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    micro_matt = models.BooleanField(default=False, help_text=_("A blasted micro-matt lies on the pattern."))
    grade_ra_table = models.CharField(
        max_length=80, blank=True, help_text=_("The set of Ra bands that stood beside the grade when it was saved.")
    )
    drawing_edition = models.CharField(max_length=20, choices=Edition.choices, default=Edition.ISO_2021)
    tolerance_rule = models.CharField(max_length=8, choices=Rule.choices, blank=True, default=Rule.EDITION)
    acceptance = models.CharField(max_length=8, choices=Acceptance.choices, default=Acceptance.GUARDED)

    objects = SpecQuerySet.as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="spec_revision_once", fields=["face", "revision"]),
            models.CheckConstraint(name="spec_says_why", condition=~Q(reason="")),
            models.CheckConstraint(
                name="spec_by_plaque_has_one",
                condition=~Q(acceptance="plaque") | Q(plaque__isnull=False),
            ),
        ]
        ordering = ["face", "revision"]

    def __str__(self) -> str:
        return f"{self.face} rev {self.revision}"


class Limit(LedgerRow):
    """One limit of a spec revision: a parameter, where, and its two sides, of which at least one is set.

    `spot` empty means every spot of the face. `unit` is um, GU or grade.
    """

    spec = models.ForeignKey(Spec, on_delete=models.PROTECT, related_name="limits")
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    spot = models.ForeignKey(Spot, null=True, blank=True, on_delete=models.PROTECT, related_name="+")
    where = models.CharField(max_length=8, choices=WhereMeasured.choices)
    lower = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    upper = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    unit = models.CharField(max_length=8)
    geometry_deg = models.PositiveSmallIntegerField(null=True, blank=True)
    cutoff_mm = models.DecimalField(max_digits=5, decimal_places=3, null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="limit_has_a_side", condition=Q(lower__isnull=False) | Q(upper__isnull=False)
            ),
            models.CheckConstraint(
                name="limit_sides_in_order",
                condition=Q(lower__isnull=True) | Q(upper__isnull=True) | Q(lower__lt=F("upper")),
            ),
            models.CheckConstraint(
                name="limit_gloss_is_on_the_part_at_an_angle",
                condition=~Q(parameter="gloss") | Q(where="part", geometry_deg__in=[20, 60, 85]),
            ),
            # Not nulls_distinct=False: SQLite would leave that constraint out without a word.
            models.UniqueConstraint(
                F("spec"),
                F("parameter"),
                Coalesce("spot", 0),
                F("where"),
                Coalesce("geometry_deg", 0),
                name="limit_once",
            ),
        ]


class Concession(SupersedingRow):
    """A customer's leave to run a face outside its spec, until a date, a count of shots or a quantity."""

    face = models.ForeignKey(Face, on_delete=models.PROTECT, related_name="concessions")
    number = models.CharField(max_length=60, help_text=_("The customer's number."))
    parameter = models.CharField(max_length=16, choices=Parameter.choices)
    lower = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    upper = models.DecimalField(max_digits=10, decimal_places=4, null=True, blank=True)
    reason = models.TextField()
    until_on = models.DateField(null=True, blank=True)
    until_insert_shots = models.PositiveBigIntegerField(
        null=True, blank=True, help_text=_("The insert's total at which it ends.")
    )
    until_quantity = models.PositiveBigIntegerField(null=True, blank=True, help_text=_("Parts that may be delivered."))

    objects = ConcessionQuerySet.as_manager()

    class Meta:
        constraints = [
            SupersedingRow.says_why("concession_says_why"),
            models.CheckConstraint(
                name="concession_ends_somewhere",
                condition=Q(until_on__isnull=False)
                | Q(until_insert_shots__isnull=False)
                | Q(until_quantity__isnull=False),
            ),
            models.CheckConstraint(
                name="concession_has_a_side", condition=Q(lower__isnull=False) | Q(upper__isnull=False)
            ),
        ]

    def __str__(self) -> str:
        return self.number
