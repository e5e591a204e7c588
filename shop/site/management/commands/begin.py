"""`manage.py begin "Plant name" --owner "Name"`: a real plant's first minute."""

from __future__ import annotations

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import transaction
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _

from shop.people.models import Person, Plant, Role, UnitSystem
from shop.people.passwords import made_up
from shop.people.services import add_person, add_plant
from shop.people.wording import next_step, say
from shop.refusal import Refused


class Command(BaseCommand):
    help = "Make a plant and its first person, an owner, who can sign in with the password that is printed once."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what may be given."""
        parser.add_argument("plant", help="name of the plant")
        parser.add_argument("--owner", required=True, metavar="NAME", help="name of its first person")
        parser.add_argument("--username", help="the owner's sign-in name; without it, made of the name")
        parser.add_argument("--time-zone", metavar="ZONE", help="for example Europe/Berlin")
        parser.add_argument("--units", choices=UnitSystem.values, help="the units in which numbers are shown")
        parser.add_argument("--decimal-comma", action="store_true", help="show numbers with a decimal comma")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Migrate, make plant and owner together or neither, and say how to go on."""
        call_command("migrate", interactive=False, verbosity=0)
        password = made_up()
        username = options["username"] or slugify(options["owner"]).replace("-", ".")
        if not username:
            raise CommandError(_("Give the owner's sign-in name with --username."))
        try:
            with transaction.atomic():
                owner = self._made(options, username, password)
        except Refused as refused:
            raise CommandError(f"{say(refused, None)} {next_step(refused, None)}".strip()) from refused
        self._told(owner, password)

    def _made(self, options: dict[str, Any], username: str, password: str) -> Person:
        wanted = {name: options[name] for name in ("time_zone", "units", "decimal_comma") if options[name]}
        plant: Plant = add_plant(name=options["plant"].strip(), **wanted)
        return add_person(
            plant=plant,
            username=username,
            name=options["owner"].strip(),
            role=Role.OWNER,
            by=None,
            at=timezone.now(),
            password=password,
        )

    def _told(self, owner: Person, password: str) -> None:
        self.stdout.write(
            "\n".join(
                (
                    _("{plant} is there, with {name} as its owner.").format(plant=owner.plant.name, name=owner.name),
                    "",
                    _("Sign in as  {username}").format(username=owner.username),
                    _("Password    {password}   (shown this once)").format(password=password),
                    "",
                    _("Go on with  manage.py people add, manage.py bring, manage.py serve"),
                )
            )
        )
