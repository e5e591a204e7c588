"""`manage.py catalogues gather|check|compile`: the translations of what people see."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from shop.site import catalogues


class Command(BaseCommand):
    help = "Gather the marked texts into the message catalogues, say what is not translated, or compile them."
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what may be done."""
        doing = parser.add_subparsers(dest="do", required=True)
        gather = doing.add_parser("gather", help="bring every catalogue up to what the source marks")
        gather.add_argument("--drop", action="store_true", help="throw away translations of what is marked no more")
        doing.add_parser("check", help="name every text that is missing, fuzzy, obsolete or lacks a placeholder")
        doing.add_parser("compile", help="compile what changed; serve, demo and work do so by themselves")

    def handle(self, *_: Any, **options: Any) -> None:
        """Do what was asked for."""
        getattr(self, "_" + options["do"])(options)

    def _gather(self, options: dict[str, Any]) -> None:
        """Bring every catalogue up to what the source marks."""
        texts = catalogues.marked().values()
        for language in catalogues.languages():
            gathered = catalogues.gather(language, texts, drop=options["drop"])
            missing = len(gathered.untranslated_entries())
            self.stdout.write(f"{language}: {len(texts)} texts, {missing} to translate")

    def _check(self, _options: dict[str, Any]) -> None:
        """Name what is wrong, and fail where anything is."""
        texts = catalogues.marked().values()
        found = [fault for language in catalogues.languages() for fault in catalogues.faults(language, texts)]
        for fault in found:
            self.stdout.write(str(fault))
        if found:
            raise CommandError(f"{len(found)} faults in the message catalogues")

    def _compile(self, _options: dict[str, Any]) -> None:
        """Compile what changed."""
        for path in catalogues.compile_new():
            self.stdout.write(str(path))
