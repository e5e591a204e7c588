"""`manage.py bring tools.csv`: a plant's own numbers, from files."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shop.bring.answer import Brought
from shop.bring.cells import answers as read_answers
from shop.bring.columns import FILES
from shop.bring.markdown import as_markdown
from shop.bring.service import bring, kind_of
from shop.people.models import Person, Plant
from shop.people.wording import next_step, say
from shop.refusal import Refused
from shop.site.choosing import the_plant, whoever
from shop.site.collecting import collecting_rarely


class Command(BaseCommand):
    help = "Bring presses, gauges, tools, shots or readings from CSV files; all rows are checked before any is taken."
    # The checks are for whoever changes the program.
    requires_system_checks = ()

    def add_arguments(self, parser: CommandParser) -> None:
        """Say what may be given."""
        parser.add_argument(
            "files", nargs="*", type=Path, help="presses.csv, gauges.csv, tools.csv, shots.csv, readings.csv, plan.csv"
        )
        parser.add_argument("--kind", choices=list(FILES), help="what the files hold, where their names do not say")
        parser.add_argument("--plant", help="name of the plant, where there are several")
        parser.add_argument("--by", help="sign-in name of whoever brings it; without it the software signs")
        parser.add_argument("--good-rows", action="store_true", help="take the good rows although others are bad")
        parser.add_argument(
            "--new-names", action="store_true", help="enter customers, resins, presses and plaques that are new"
        )
        parser.add_argument(
            "--answer", action="append", default=[], metavar="QUESTION=ANSWER", help="answer a question for every row"
        )
        parser.add_argument("--columns", action="store_true", help="list what each file may hold")
        parser.add_argument("--markdown", action="store_true", help="with --columns: as the tables of the README")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Bring one file after the other, in the order in which they are given."""
        if options["columns"]:
            if options["markdown"]:
                self.stdout.write(as_markdown(), ending="")
            else:
                self._columns()
            return
        if not options["files"]:
            raise CommandError(_("Name a file, or give --columns to see what files may hold."))
        by = None
        try:
            plant = the_plant(options["plant"])
            by = whoever(plant, options["by"])
            answers = read_answers(" | ".join(options["answer"]), None) if options["answer"] else {}  # type: ignore[arg-type]
            with collecting_rarely():
                for file in options["files"]:
                    self._bring(file, plant, by, answers, options)
        except OSError as fault:
            raise CommandError(str(fault)) from fault
        except Refused as refused:
            raise CommandError(f"{say(refused, by)} {next_step(refused, by)}".strip()) from refused

    def _bring(
        self, file: Path, plant: Plant, by: Person, answers: Mapping[str, str | int], options: Mapping[str, Any]
    ) -> None:
        kind = options["kind"] or kind_of(file.name)
        self.stdout.write(f"{file.name} ...")
        brought = bring(
            kind,
            file.read_bytes(),
            plant=plant,
            by=by,
            at=timezone.now(),
            good_rows=options["good_rows"],
            new_names=options["new_names"],
            answers=answers,
        )
        self._report(brought, by)

    def _report(self, brought: Brought, by: Person) -> None:
        for bad in brought.bad:
            where = f"{bad.column} " if bad.column else ""
            self.stderr.write(f'  {_("line")} {bad.line}: {where}"{bad.value}" {say(bad.reason, by)}')
        if brought.refused:
            raise CommandError(
                ngettext(
                    "{count} fault, so nothing was taken. Mend the file, or give --good-rows to take the rest.",
                    "{count} faults, so nothing was taken. Mend the file, or give --good-rows to take the rest.",
                    len(brought.bad),
                ).format(count=len(brought.bad))
            )
        self.stdout.write(
            "  "
            + _("{taken} rows taken, {known} were there already, {bad} faults.").format(
                taken=brought.taken, known=brought.known, bad=len(brought.bad)
            )
        )

    def _columns(self) -> None:
        for kind, columns in FILES.items():
            self.stdout.write(f"\n{kind}.csv")
            for column in columns:
                must = " *" if column.must else ""
                self.stdout.write(f"  {column.name + must:<24} {_(column.means)}")
        self.stdout.write("\n* " + _("must be given in every row"))
