"""`manage.py health`: whether this installation is well."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from django.utils.translation import gettext as _

from shop.site import health


class Command(BaseCommand):
    help = "Say whether database, ledger triggers, background work and disk are well; ends with 1 where they are not."
    requires_system_checks = ()

    def handle(self, *_args: Any, **_options: Any) -> None:
        """Print one line a thing, and fail where one is not well."""
        found = health.look(timezone.now())
        for one in found:
            self.stdout.write(f"{_('well') if one.well else _('WRONG'):<6} {one.name}: {one.words}")
        if ill := [one.name for one in found if not one.well]:
            raise CommandError(_("Not well: %(names)s") % {"names": ", ".join(ill)})
