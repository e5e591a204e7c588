"""`manage.py standards_check`: recompute what the standards print, on this installation."""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone, translation
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shop import __version__
from shop.boards.checks.check import Checked
from shop.boards.standards_check import AreaResult, by_area, common_practice, run
from shop.boards.standards_paper import issue_of
from shop.paper import services
from shop.people import wording
from shop.people.models import Plant
from shop.people.services import the_software
from shop.refusal import Refused


class Command(BaseCommand):
    help = "Recompute every value that standards and handbooks print; ends with 1 where one of them disagrees."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what may be given."""
        parser.add_argument("--all", action="store_true", help="print every row, not only those outside")
        parser.add_argument("--pdf", metavar="PATH", help="issue the dated paper, keep it, and write a copy to PATH")
        parser.add_argument("--common-practice", action="store_true", help="list what rests on common practice alone")

    def handle(self, *_args: Any, **options: Any) -> None:
        """Print each area with its counts and its worst difference; raise where a value is outside."""
        checked = run()
        for area in by_area(checked):
            self.stdout.write(_area_line(area))
            for each in area.checked:
                if options["all"] or not each.within:
                    self.stdout.write("  " + _row_line(each))
        if options["common_practice"]:
            for value in common_practice():
                memory = _(" (from memory)") if value.source.from_memory else ""
                self.stdout.write(
                    f"{value.table}: {value.what} {value.value} {value.unit} – {value.source.title}{memory}"
                )
        if options["pdf"]:
            self.stdout.write(_issued(checked, Path(options["pdf"])))
        outside = sum(not each.within for each in checked)
        total = _("Facewright {version}: {within} of {count} printed values recomputed within their tolerance.")
        self.stdout.write(total.format(version=__version__, within=len(checked) - outside, count=len(checked)))
        if outside:
            words = ngettext("{count} value is outside.", "{count} values are outside.", outside)
            raise CommandError(words.format(count=outside), returncode=1)


def _issued(checked: Sequence[Checked], path: Path) -> str:
    """Issue the paper in the name of the software, and write a copy of its bytes."""
    plant = Plant.objects.order_by("pk").first()
    if plant is None:
        raise CommandError(_("No plant is entered yet, in whose records the paper could be kept."), returncode=2)
    by = the_software(plant)
    try:
        with wording.reading_as(by), translation.override(by.language):
            told = issue_of(checked, plant=plant, by=by)
        document = services.issue(
            **told, language=by.language, paper_size=plant.paper_size, by=by, at=timezone.now()
        )
        path.write_bytes(services.read_file(document.file))
    except Refused as refused:
        raise CommandError(f"{refused.plain()} {wording.next_step(refused)}", returncode=2) from refused
    except OSError as error:
        raise CommandError(str(error), returncode=2) from error
    return _("{number} is issued and kept as {sha256}; a copy is at {path}.").format(
        number=document.number, sha256=document.file.sha256, path=path
    )


def _area_line(area: AreaResult) -> str:
    worst = area.worst
    if worst.difference is None:
        told = _("words, all alike") if worst.within else _("words that differ")
    else:
        told = _("worst difference {difference:.3g} {unit} of {allowed:.3g} allowed ({row}, {what})").format(
            difference=worst.difference, unit=worst.check.unit, allowed=worst.check.tolerance, row=worst.check.row,
            what=worst.check.what,
        )  # fmt: skip
    counts = _("{within} of {count}").format(within=area.within, count=area.count)
    return f"{area.area:<28} {counts:>12}  {told}"


def _row_line(each: Checked) -> str:
    check = each.check
    mark = "=" if each.within else "≠"
    computed = each.computed if isinstance(each.computed, str) else f"{each.computed:.12g}"
    printed = check.printed if isinstance(check.printed, str) else f"{check.printed:.12g}"
    difference = "" if each.difference is None else f"  ({each.difference:+.3g})"
    where = f"{check.source}, {check.edition}; {check.standing}"
    return f"{mark} {check.row}, {check.what}: {computed} / {printed} {check.unit}{difference}  [{where}]"
