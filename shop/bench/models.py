"""The work order and what hangs on it."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from shop.bench.querysets import LineQuerySet, WorkOrderQuerySet
from shop.bench.states import State, arrow_condition
from shop.ledger.models import LedgerRow, SupersedingQuerySet, SupersedingRow
from shop.paper.models import StoredFile
from shop.people import wording
from shop.people.models import Plant
from shop.quality.models import Inspection
from shop.tooling.models import Face, HowMade, Spec, Tool
from shop.watch import reasons
from shop.watch.models import Call


class OutsideHouse(models.Model):
    """A texture house or plater that work is sent out to."""

    class Kind(models.TextChoices):
        TEXTURE = "texture house", _("texture house")
        PLATER = "plater", _("plater")

    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="outside_houses")
    name = models.CharField(max_length=120, unique=True)
    kind = models.CharField(max_length=14, choices=Kind.choices)
    lead_time_days = models.PositiveSmallIntegerField(default=21)

    def __str__(self) -> str:
        return self.name


class Costs(models.Model):
    """What a plant reckons with when it weighs when to pull a tool. Money is in one currency, by its letters."""

    plant = models.OneToOneField(Plant, on_delete=models.PROTECT, related_name="costs")
    currency = models.CharField(max_length=3, default="EUR")
    bench_hour = models.DecimalField(max_digits=8, decimal_places=2, default="65.00")
    press_hour = models.DecimalField(max_digits=8, decimal_places=2, default="90.00", help_text=_("Of downtime."))
    change_hours = models.DecimalField(
        max_digits=4, decimal_places=1, default="3.0", help_text=_("Press downtime of a pull: out, in, first-offs.")
    )
    strip_hours = models.DecimalField(
        max_digits=4, decimal_places=1, default="2.0", help_text=_("Bench hours of a visit before any face is touched.")
    )
    steel_um = models.DecimalField(
        max_digits=8, decimal_places=2, default="4.00", help_text=_("What a micrometre of a face's steel is worth.")
    )
    bad_part = models.DecimalField(
        max_digits=8, decimal_places=2, default="1.50", help_text=_("What a part beyond its limit costs in the mean.")
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="costs_not_negative",
                condition=Q(
                    bench_hour__gte=0,
                    press_hour__gte=0,
                    change_hours__gte=0,
                    strip_hours__gte=0,
                    steel_um__gte=0,
                    bad_part__gte=0,
                ),
            ),
        ]


class PartCost(models.Model):
    """What a bad part of one tool costs, where it is not the plant's mean."""

    tool = models.OneToOneField(Tool, on_delete=models.PROTECT, related_name="part_cost")
    amount = models.DecimalField(max_digits=8, decimal_places=2)

    class Meta:
        constraints = [models.CheckConstraint(name="part_cost_not_negative", condition=Q(amount__gte=0))]


class WorkOrder(models.Model):
    """One visit of one tool: one pull, one strip-down, one traveller, a line a face."""

    number = models.CharField(max_length=20, unique=True)
    tool = models.ForeignKey(Tool, on_delete=models.PROTECT, related_name="work_orders")
    state = models.CharField(max_length=14, choices=State.choices, default=State.RAISED)
    raised_at = models.DateTimeField()
    polisher = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="bench_work"
    )
    outside_house = models.ForeignKey(
        OutsideHouse, null=True, blank=True, on_delete=models.PROTECT, related_name="work_orders"
    )
    due_on = models.DateField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = WorkOrderQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(name="order_state_known", condition=Q(state__in=State.values)),
            models.CheckConstraint(
                name="order_closed_when_ended",
                condition=Q(closed_at__isnull=False, state__in=["released", "turned down", "withdrawn"])
                | (Q(closed_at__isnull=True) & ~Q(state__in=["released", "turned down", "withdrawn"])),
            ),
            models.CheckConstraint(
                name="planned_order_has_a_hand",
                condition=~Q(state__in=["planned", "on the bench", "sent out"])
                | Q(polisher__isnull=False)
                | Q(outside_house__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["state", "due_on"])]

    def __str__(self) -> str:
        return self.number


class Work(models.TextChoices):
    """What is done to a face, lightest first."""

    CLEAN = "clean", _("clean")
    GLOSS_BLAST = "gloss blast", _("gloss blast")
    KISS = "kiss polish", _("kiss polish")
    LOCAL = "local touch-up", _("local touch-up")
    FULL = "full refinish", _("full refinish")
    RECUT = "re-cut", _("re-cut")


class OutsidePrice(models.Model):
    """What an outside house asks for one kind of work on one face, and how many days it keeps the tool."""

    house = models.ForeignKey(OutsideHouse, on_delete=models.PROTECT, related_name="prices")
    work = models.CharField(max_length=14, choices=Work.choices)
    a_visit = models.DecimalField(max_digits=10, decimal_places=2, default=0)
    a_face = models.DecimalField(max_digits=10, decimal_places=2)
    days = models.PositiveSmallIntegerField(null=True, blank=True, help_text=_("Empty is the house's lead time."))

    class Meta:
        constraints = [
            models.UniqueConstraint(name="outside_price_once", fields=["house", "work"]),
            models.CheckConstraint(name="outside_price_not_negative", condition=Q(a_visit__gte=0, a_face__gte=0)),
        ]


class Line(models.Model):
    """The work on one face in one visit, or a job that rides along (`job`, without a face)."""

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="lines")
    face = models.ForeignKey(Face, null=True, blank=True, on_delete=models.PROTECT, related_name="work_lines")
    spec = models.ForeignKey(Spec, null=True, blank=True, on_delete=models.PROTECT, related_name="work_lines")
    job = models.CharField(max_length=120, blank=True)
    job_values = models.JSONField(default=dict, blank=True, help_text="What a job that the software proposed says.")
    cause = models.CharField(max_length=14, blank=True, help_text="Of the first call; empty when the lead added it.")
    work = models.CharField(max_length=14, choices=Work.choices, blank=True)
    how = models.CharField(max_length=14, choices=HowMade.choices, blank=True, help_text="How the finish is put back.")
    planned_minutes = models.PositiveIntegerField(null=True, blank=True)
    planned_steel_um = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    note = models.TextField(blank=True)
    suits = models.JSONField(
        default=list, blank=True, help_text="What spoke against the finish or for care when the route was laid."
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    dropped_because = models.TextField(blank=True)

    objects = LineQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="line_is_a_face_or_a_job",
                condition=Q(face__isnull=False, job="") | (Q(face__isnull=True) & ~Q(job="")),
            ),
            models.UniqueConstraint(
                name="one_open_line_per_face_and_cause",
                fields=["face", "cause"],
                condition=Q(closed_at__isnull=True, face__isnull=False),
            ),
        ]

    @property
    def job_words(self) -> str:
        """Return the job as it was typed, or what the software proposed in the reader's words."""
        return wording.say(reasons.worded("line.job", self.job_values, self.job)) if self.job_values else self.job

    @property
    def changes_finish(self) -> bool:
        """Return whether the work ends the life of the finish; cleaning does not."""
        return self.face_id is not None and self.work != Work.CLEAN


class LineCall(LedgerRow):
    """A call that a line answers, with its evidence as it was when it joined."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="line_calls")
    call = models.OneToOneField(Call, on_delete=models.PROTECT, related_name="line_call")
    evidence = models.JSONField()


class Move(LedgerRow):
    """One step of an order along its way. The database knows the arrows."""

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="moves")
    from_state = models.CharField(max_length=14, blank=True)
    to_state = models.CharField(max_length=14, choices=State.choices)
    why = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(name="move_follows_an_arrow", condition=arrow_condition()),
            models.CheckConstraint(
                name="move_off_the_way_says_why",
                condition=~Q(to_state__in=["stopped", "turned down", "withdrawn"]) | ~Q(why=""),
            ),
        ]


class Step(models.Model):
    """One step of a line's route."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=16, help_text="clean, etch test, stone, paper, blast, erode, texture ...")
    medium = models.CharField(max_length=80, blank=True)
    grading = models.CharField(max_length=10, blank=True, help_text="FEPA P, CAMI, FEPA F, um, bead")
    grain = models.CharField(max_length=10, blank=True)
    direction = models.CharField(max_length=60, blank=True)
    target = models.CharField(max_length=120, blank=True)
    planned_minutes = models.PositiveIntegerField(null=True, blank=True)
    planned_steel_um = models.DecimalField(max_digits=8, decimal_places=2, default=0)
    done_at = models.DateTimeField(null=True, blank=True)
    done_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        constraints = [
            models.UniqueConstraint(name="step_number_once", fields=["line", "number"]),
            models.CheckConstraint(
                name="step_done_has_a_hand",
                condition=Q(done_at__isnull=True, done_by__isnull=True)
                | Q(done_at__isnull=False, done_by__isnull=False),
            ),
        ]
        ordering = ["line", "number"]

    @property
    def grain_words(self) -> str:
        """Return the grain with who graded it: FEPA F 230, CAMI 400, 15 µm; empty where the step has none."""
        if not self.grain:
            return ""
        if self.grading == "um":
            return f"{self.grain} µm"
        return f"{gettext(self.grading)} {self.grain}" if self.grading else self.grain


class Booking(SupersedingRow):
    """Minutes that somebody spent on a line. `by` is whose minutes they are."""

    line = models.ForeignKey(Line, on_delete=models.PROTECT, related_name="bookings")
    step = models.ForeignKey(Step, null=True, blank=True, on_delete=models.PROTECT, related_name="bookings")
    minutes = models.PositiveIntegerField()
    note = models.TextField(blank=True)
    photo = models.ForeignKey(StoredFile, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    objects = SupersedingQuerySet.as_manager()

    class Meta:
        constraints = [
            SupersedingRow.says_why("booking_says_why"),
            models.CheckConstraint(
                name="booking_minutes_in_a_day", condition=Q(minutes__gt=0, minutes__lte=1440) | Q(void=True)
            ),
        ]


class Passing(LedgerRow):
    """A signature on an order: the steel, the parts, the customer's buy-off or the release; passed or not.

    `override` marks a release by a polisher who worked on it, which a plant may allow, and says why.
    """

    class Stage(models.TextChoices):
        STEEL = "steel", _("steel")
        PARTS = "parts", _("parts")
        CUSTOMER = "customer", _("customer buy-off")
        RELEASE = "release", _("release")

    order = models.ForeignKey(WorkOrder, on_delete=models.PROTECT, related_name="passings")
    stage = models.CharField(max_length=8, choices=Stage.choices)
    passed = models.BooleanField()
    inspection = models.ForeignKey(
        Inspection, null=True, blank=True, on_delete=models.PROTECT, related_name="passings"
    )
    signed_for = models.CharField(max_length=120, blank=True, help_text="The customer's name at a buy-off.")
    override = models.BooleanField(default=False)
    why = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="passing_exception_says_why",
                condition=Q(passed=True, override=False) | ~Q(why=""),
            ),
        ]
