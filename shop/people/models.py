"""Plant and Person."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _


class UnitSystem(models.TextChoices):
    METRIC = "metric", _("µm, mm")
    INCH = "inch", _("µin, in")


class DecimalSign(models.TextChoices):
    POINT = "point", _("0.8, with a point")
    COMMA = "comma", _("0,8, with a comma")


class Role(models.TextChoices):
    LEAD = "lead", _("toolroom lead")
    POLISHER = "polisher", _("polisher")
    PRESS = "press", _("press tech")
    QUALITY = "quality", _("quality")
    ENGINEER = "engineer", _("engineer")
    VIEWER = "viewer", _("viewer")
    OWNER = "owner", _("owner")


class Plant(models.Model):
    """One moulding plant with its clock, its units and the rules it has set itself."""

    name = models.CharField(max_length=120, unique=True)
    time_zone = models.CharField(max_length=60, default="Europe/Berlin")
    units = models.CharField(max_length=10, choices=UnitSystem.choices, default=UnitSystem.METRIC)
    decimal_comma = models.BooleanField(default=False)
    paper_size = models.CharField(max_length=8, choices=[("A4", "A4"), ("Letter", "Letter")], default="A4")
    release_override = models.BooleanField(
        default=False, help_text=_("The polisher may release own work, by name and with a reason.")
    )
    call_chance = models.DecimalField(
        max_digits=3,
        decimal_places=2,
        default="0.10",
        validators=[MinValueValidator(0.01), MaxValueValidator(0.5)],
        help_text=_("A face is called when the chance of reaching its limit inside the lead time passes this."),
    )
    lead_time_days = models.PositiveSmallIntegerField(default=14)
    conformance_required = models.DecimalField(max_digits=4, decimal_places=3, default="0.950")
    grade_ra_variant = models.PositiveSmallIntegerField(
        default=2, help_text=_("Which published set of Ra bands stands beside the mould finish grades.")
    )
    grade_ra_bands = models.JSONField(
        null=True, blank=True, help_text="The plant's own Ra bands by grade, lower and upper in um, where it has some."
    )
    grade_ra_name = models.CharField(max_length=80, blank=True, help_text=_("What the plant's own bands are called."))

    def __str__(self) -> str:
        return self.name


class PersonManager(BaseUserManager["Person"]):
    def create_user(self, username: str, name: str, role: str, plant: Plant, password: str | None = None) -> Person:
        """Make a person who can sign in; without a password nobody can sign in as them."""
        person = self.model(username=username.lower(), name=name, role=role, plant=plant)
        person.set_password(password)
        person.save(using=self._db)
        return person


class Person(AbstractBaseUser):
    """Somebody who signs in; the role decides which pages are theirs."""

    username = models.CharField(_("sign-in name"), max_length=60, unique=True)
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=12, choices=Role.choices, default=Role.VIEWER)
    plant = models.ForeignKey(Plant, on_delete=models.PROTECT, related_name="people")
    language = models.CharField(max_length=8, default="en")
    units = models.CharField(max_length=10, choices=UnitSystem.choices, blank=True)
    decimal_sign = models.CharField(max_length=5, choices=DecimalSign.choices, blank=True)
    is_active = models.BooleanField(default=True)

    objects: ClassVar[PersonManager] = PersonManager()
    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(name="person_role_known", condition=models.Q(role__in=Role.values)),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def unit_system(self) -> str:
        """Return the units this person reads, else the plant's."""
        return self.units or self.plant.units

    @property
    def decimal_comma(self) -> bool:
        """Return whether this person reads a decimal comma, else what the plant reads."""
        return self.decimal_sign == DecimalSign.COMMA if self.decimal_sign else self.plant.decimal_comma
