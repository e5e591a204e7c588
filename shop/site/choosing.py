"""Which plant a command is about, and whose hand signs what it does."""

from __future__ import annotations

from django.core.management.base import CommandError
from django.utils.translation import gettext as _

from shop.people.models import Person, Plant
from shop.people.services import the_software


def the_plant(name: str | None) -> Plant:
    """Return the plant of that name, or the only one there is."""
    plants = list(Plant.objects.filter(name=name) if name else Plant.objects.all()[:2])
    if len(plants) != 1:
        raise CommandError(_("Say which plant with --plant; there is no single one of that name."))
    return plants[0]


def whoever(plant: Plant, username: str | None) -> Person:
    """Return the person of that sign-in name, or the software's own hand."""
    if not username:
        return the_software(plant)
    person = Person.objects.filter(plant=plant, username=username.lower(), is_active=True).first()
    if person is None:
        raise CommandError(_("Nobody of this plant signs in as {username}.").format(username=username))
    return person
