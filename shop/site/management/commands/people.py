"""`manage.py people`: who signs in at a plant."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.people.models import Person, Plant, Role
from shop.people.passwords import made_up
from shop.people.services import add_person, change_person, set_password
from shop.people.wording import next_step, say
from shop.refusal import Refused
from shop.site.choosing import the_plant, whoever


class Command(BaseCommand):
    help = "List the people of a plant, add one, give one a new password, or retire one."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what may be given."""
        parser.add_argument("--plant", help="name of the plant, where there are several")
        parser.add_argument("--by", help="sign-in name of whoever does it; without it the software signs")
        doing = parser.add_subparsers(dest="do", title="what to do; without one of these, people are listed")
        add = doing.add_parser("add", help="add a person; their password is printed once")
        add.add_argument("username")
        add.add_argument("--name", required=True)
        add.add_argument("--role", required=True, choices=Role.values)
        doing.add_parser("password", help="make a new password; it is printed once").add_argument("username")
        retire = doing.add_parser("retire", help="let a person sign in no more; what they signed stays")
        retire.add_argument("username")
        retire.add_argument("--why", default="", help="kept with the change")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Do what was asked for."""
        plant = the_plant(options["plant"])
        try:
            if options["do"] is None:
                self._list(plant)
            else:
                by = whoever(plant, options["by"])
                getattr(self, "_" + options["do"])(plant, by, options)
        except Refused as refused:
            raise CommandError(f"{say(refused, None)} {next_step(refused, None)}".strip()) from refused

    def _list(self, plant: Plant) -> None:
        # Nobody signs in as the software's own hand.
        for person in Person.objects.filter(plant=plant).exclude(password="!").order_by("username"):  # noqa: S106
            state = "" if person.is_active else _("retired")
            self.stdout.write(f"{person.username:<16} {person.name:<24} {Role(person.role).label:<16} {state}".rstrip())

    def _add(self, plant: Plant, by: Person, options: dict[str, Any]) -> None:
        password = made_up()
        person = add_person(
            plant=plant,
            username=options["username"],
            name=options["name"],
            role=options["role"],
            password=password,
            by=by,
            at=timezone.now(),
        )
        self._password_of(person, password)

    def _password(self, plant: Plant, by: Person, options: dict[str, Any]) -> None:
        person, password = person_of(plant, options["username"]), made_up()
        self._password_of(set_password(person=person, password=password, by=by, at=timezone.now()), password)

    def _retire(self, plant: Plant, by: Person, options: dict[str, Any]) -> None:
        person = person_of(plant, options["username"])
        change_person(person=person, is_active=False, by=by, at=timezone.now(), why=options["why"])
        self.stdout.write(_("{name} signs in no more.").format(name=person.name))

    def _password_of(self, person: Person, password: str) -> None:
        self.stdout.write(_("Sign in as  {username}").format(username=person.username))
        self.stdout.write(_("Password    {password}   (shown this once)").format(password=password))


def person_of(plant: Plant, username: str) -> Person:
    """Return the person of the plant who signs in under that name and still may."""
    person = Person.objects.filter(plant=plant, username=username.strip().lower(), is_active=True).first()
    if person is None:
        raise CommandError(_("Nobody of this plant signs in as {username}.").format(username=username))
    return person
