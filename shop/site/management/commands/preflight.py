"""Say what this system lacks for the product or its tests, and install it where that is possible."""

from __future__ import annotations

import subprocess
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from shop.site import preflight


class Command(BaseCommand):
    help = "Check what paper and tests need from the system; with --install get what is missing (Debian, as root)."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--install", action="store_true", help="install what is missing")

    def handle(self, *_: Any, **options: Any) -> None:
        lacking = preflight.missing()
        if lacking and options["install"]:
            self.stdout.write(preflight.told(lacking))
            try:
                preflight.install(lacking)
            except (PermissionError, subprocess.CalledProcessError) as error:
                raise CommandError(f"{preflight.told(lacking)}\nNot installed: {error}") from error
            lacking = preflight.missing()
        if lacking:
            raise CommandError(preflight.told(lacking))
        for need in preflight.NEEDS:
            self.stdout.write(f"there: {need.name} ({need.there()}), for {need.wanted_for}")
