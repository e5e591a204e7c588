"""One printed number against what this installation computes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from shop.boards.printed import Printed
from shop.refusal import Refused
from shop.standards.source import Standing

# Printed decimals have no exact binary form; a comparison forgives this much of the printed value and no more.
BINARY = 1e-12


@dataclass(frozen=True)
class Checked:
    """What came of a check: computed beside printed. `difference` is None where words are compared."""

    check: Check
    computed: float | str
    difference: float | None
    within: bool

    @property
    def share_of_tolerance(self) -> float:
        """Return how much of what is allowed the difference takes: 0 exact, above 1 outside."""
        if self.difference is None or self.check.tolerance == 0:
            return 0.0 if self.within else float("inf")
        return abs(self.difference) / self.check.tolerance


@dataclass(frozen=True)
class Check:
    """One printed value of a table: which row, what it is, how it is computed here, and how far it may differ.

    `tolerance` is absolute and in `unit`: half of the last printed digit unless the table's note says more, and nought
    where the value is held and not computed. Source, edition and standing are the printed table's, or its row's.
    """

    area: str
    table: str
    row: str
    what: str
    printed: float | str
    compute: Callable[[], float | str]
    tolerance: float
    unit: str
    source: str
    edition: str
    standing: Standing
    note: str = ""

    @property
    def from_memory(self) -> bool:
        """Return whether the printed value was set down from memory, as its table's note says."""
        return "from memory" in self.note

    def run(self) -> Checked:
        """Compute it and hold it against print; a refusal is an answer outside."""
        try:
            found = self.compute()
        except Refused as refused:
            return Checked(self, refused.plain(), None, within=False)
        if isinstance(found, str) or isinstance(self.printed, str):
            return Checked(self, found, None, within=found == self.printed)
        difference = found - self.printed
        return Checked(self, found, difference, abs(difference) <= self.tolerance + BINARY * abs(self.printed))


@dataclass(frozen=True)
class Table:
    """A printed table on its way into checks of one area."""

    area: str
    printed: Printed

    def check(
        self,
        row: str,
        what: str,
        printed: str,
        compute: Callable[[], float | str],
        unit: str = "",
        *,
        tolerance: float | None = None,
        standing: str = "",
        words: bool = False,
    ) -> Check:
        """Return the check of one value; without a tolerance it must agree to half of its last printed digit."""
        allowed = 0.0 if words else half_digit(printed) if tolerance is None else tolerance
        return Check(
            area=self.area,
            table=self.printed.name,
            row=row,
            what=what,
            printed=printed if words else float(printed),
            compute=compute,
            tolerance=allowed,
            unit=unit,
            source=self.printed.source,
            edition=self.printed.edition,
            standing=Standing(standing or self.printed.standing),
            note=self.printed.note,
        )

    def held(self, row: str, what: str, printed: str, compute: Callable[[], float | str], unit: str = "") -> Check:
        """Return the check of a value that is held in a table here and must be the printed one exactly."""
        return self.check(row, what, printed, compute, unit, tolerance=0.0)


def of(function: Callable[..., object], *args: object, at: str | int | None = None) -> Callable[[], float | str]:
    """Return the computing of a function's value, or of its field or place `at`, put off until the check runs."""

    def computed() -> float | str:
        value: object = function(*args)
        if isinstance(at, str):
            value = getattr(value, at)
        elif at is not None:
            value = value[at]  # type: ignore[index]
        return value if isinstance(value, str) else float(value)  # type: ignore[arg-type]

    return computed


def half_digit(printed: str) -> float:
    """Return half of the last digit that is printed: 0.005 for 0.66, 0.5 for 302."""
    mantissa, _, exponent = printed.lower().partition("e")
    decimals = len(mantissa.partition(".")[2]) - int(exponent or 0)
    return float(f"5e{-decimals - 1}")
