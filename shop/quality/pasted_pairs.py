"""Pairs of readings as they come out of a spreadsheet: two columns, every fault named by its line."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal

from shop import units
from shop.refusal import Refused, Saying, gettext_noop

LONGEST = 20_000
_SPACES = re.compile(r"\s+")


@dataclass(frozen=True)
class PairFault:
    """What is wrong with one line: its number, what stands there, and why it cannot be taken."""

    line: int
    value: str
    reason: Saying


def read_pairs(text: str) -> tuple[list[tuple[Decimal, Decimal]], list[PairFault]]:
    """Return the pairs in the text, parted by tab, semicolon or space; a first line of words is its head."""
    if len(text) > LONGEST:
        values = {"found": len(text), "limit": LONGEST}
        words = gettext_noop("the text has {found} characters, more than {limit}")
        return [], [PairFault(0, "", Saying("pairs.too_long", words, values))]
    pairs: list[tuple[Decimal, Decimal]] = []
    faults: list[PairFault] = []
    first = True
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip():
            continue
        cells, heading = _cells(line), first
        first = False
        if heading and not any(any(letter.isdigit() for letter in cell) for cell in cells):
            continue
        if len(cells) != 2:
            words = gettext_noop("has {found} values; two are wanted, ours and theirs")
            faults.append(PairFault(number, line.strip()[:60], Saying("pairs.not_two", words, {"found": len(cells)})))
            continue
        try:
            pairs.append((units.parse_decimal(cells[0]), units.parse_decimal(cells[1])))
        except Refused as refused:
            faults.append(PairFault(number, line.strip()[:60], refused.saying))
    return pairs, faults


def _cells(line: str) -> list[str]:
    for mark in "\t;":
        if mark in line:
            return [cell.strip() for cell in line.split(mark) if cell.strip()]
    cells = _SPACES.split(line.strip())
    if len(cells) == 1 and line.count(",") == 1 and "." in line:
        # Two columns parted by a comma, with points for the decimals.
        return [cell.strip() for cell in line.split(",")]
    return cells
