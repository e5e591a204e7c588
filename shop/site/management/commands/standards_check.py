"""`manage.py standards_check`: recompute what the standards print, on this installation."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from shop import __version__
from shop.boards.checks.check import Checked
from shop.boards.standards_check import AreaResult, by_area, common_practice, run


class Command(BaseCommand):
    help = "Recompute every value that standards and handbooks print; ends with 1 where one of them disagrees."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Say what may be given."""
        parser.add_argument("--all", action="store_true", help="print every row, not only those outside")
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
        outside = sum(not each.within for each in checked)
        total = _("Facewright {version}: {within} of {count} printed values recomputed within their tolerance.")
        self.stdout.write(total.format(version=__version__, within=len(checked) - outside, count=len(checked)))
        if outside:
            words = ngettext("{count} value is outside.", "{count} values are outside.", outside)
            raise CommandError(words.format(count=outside), returncode=1)


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
