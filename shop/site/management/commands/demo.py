"""`manage.py demo`: the invented plant, from nothing to serving."""

from __future__ import annotations

import time
from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _

from shop import loop
from shop.bench.models import WorkOrder
from shop.people.models import Person, Plant, Role
from shop.refusal import Refused
from shop.site.catalogues import compile_new
from shop.site.collecting import collecting_rarely
from shop.site.demo.loading import load, there
from shop.site.demo.making import make_files, password
from shop.tooling.models import Face, Tool
from shop.watch.models import Standing


class Command(BaseCommand):
    help = "Load the demo plant where it is not there yet, look at every face, say what was found, and serve."
    # The checks are for whoever changes the program; a newcomer waits for them in vain.
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Say where to serve."""
        parser.add_argument("--host", default="127.0.0.1")
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-serve", action="store_true", help="load and look, then end")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Migrate, load once, sweep, say what was found, serve."""
        self.began = time.monotonic()
        compile_new()
        self.stage(_("database"))
        call_command("migrate", interactive=False, verbosity=0)
        try:
            with collecting_rarely():
                plant = self.loaded()
                self.stage(_("looking at every face"))
                loop.swept(plant, timezone.now())
        except Refused as refused:
            raise CommandError(refused.plain()) from refused
        self.found(plant, options)
        if not options["no_serve"]:
            call_command("serve", host=options["host"], port=options["port"])

    def stage(self, said: str) -> None:
        """Say what is done now, and after how long."""
        self.stdout.write(f"{time.monotonic() - self.began:6.1f} s  {said}")
        self.stdout.flush()

    def loaded(self) -> Plant:
        """Return the demo's plant, loaded now where it was not there."""
        if plant := there():
            self.stage(_("{plant} is there already and goes on").format(plant=plant.name))
            return plant
        self.stage(_("making two years of records"))
        yesterday = timezone.localdate() - timedelta(days=1)
        return load(make_files(yesterday), end=yesterday, password=password(), tell=self.stage)

    def found(self, plant: Plant, options: dict[str, Any]) -> None:
        """Print what there is to see, where, and who may sign in."""
        standings = Standing.objects.in_plant(plant)
        orders = WorkOrder.objects.in_plant(plant)
        self.stage(_("ready"))
        lines = [
            "",
            _("{plant}: {tools} tools, {faces} faces").format(
                plant=plant.name,
                tools=Tool.objects.in_plant(plant).count(),
                faces=Face.objects.filter(insert__tool__plant=plant).count(),
            ),
            _("  faces due: {due}, off spec: {off}, wearing: {wearing}").format(
                due=standings.filter(state=Standing.State.DUE).count(),
                off=standings.filter(state=Standing.State.OFF_SPEC).count(),
                wearing=standings.filter(state=Standing.State.WEARING).count(),
            ),
            _("  work orders: {open} open, {done} released").format(
                open=orders.open().count(), done=orders.filter(state="released").count()
            ),
            "",
            _("Address   http://{host}:{port}/").format(host=options["host"], port=options["port"]),
            _("Sign in as"),
        ]
        for person in Person.objects.filter(plant=plant, is_active=True).order_by("pk"):
            lines.append(f"  {person.username:<11} {person.name:<18} {Role(person.role).label}")
        lines.append(
            _("Password  {password}   (kept in {where})").format(password=password(), where=settings.VAR / "demo")
        )
        self.stdout.write("\n".join(lines) + "\n")
        self.stdout.flush()
