"""Where a number comes from and how much it can be relied on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

from shop.refusal import Refused, Word, gettext_noop


class Standing(StrEnum):
    """How well a number is founded; shown beside it wherever it is shown."""

    PUBLISHED = "published"
    SEVERAL = "several sources"
    CONFLICTING = "conflicting"
    COMMON = "common practice"


STANDING_LABELS: dict[Standing, str] = {
    Standing.PUBLISHED: gettext_noop("published standard or handbook, seen"),
    Standing.SEVERAL: gettext_noop("several independent sources agree"),
    Standing.CONFLICTING: gettext_noop("sources conflict: choose one and say which"),
    Standing.COMMON: gettext_noop("common practice, without a source that can be named"),
}


# What a refusal calls the numbers of this package; symbols are everybody's.
NAMES = frozenset(
    {
        gettext_noop("Angle"),
        gettext_noop("Coating"),
        gettext_noop("Component"),
        gettext_noop("Confidence"),
        gettext_noop("Count"),
        gettext_noop("Coverage factor"),
        gettext_noop("Cut-off"),
        gettext_noop("Degrees of freedom"),
        gettext_noop("Depth"),
        gettext_noop("Diamond"),
        gettext_noop("Draft"),
        gettext_noop("Draft a step"),
        gettext_noop("Edition"),
        gettext_noop("Ends"),
        gettext_noop("Form"),
        gettext_noop("Gloss"),
        gettext_noop("Grade"),
        gettext_noop("Grading system"),
        gettext_noop("Grain"),
        gettext_noop("Index"),
        gettext_noop("Kappa"),
        gettext_noop("Length"),
        gettext_noop("Limit"),
        gettext_noop("Lower limit"),
        gettext_noop("Method"),
        gettext_noop("Mould class"),
        gettext_noop("Offset"),
        gettext_noop("Probability"),
        gettext_noop("Reading"),
        gettext_noop("Repeats"),
        gettext_noop("Resin"),
        gettext_noop("Rule"),
        gettext_noop("Sampling lengths"),
        gettext_noop("Scale"),
        gettext_noop("Side"),
        gettext_noop("Standard deviation"),
        gettext_noop("Steel"),
        gettext_noop("Thickness"),
        gettext_noop("Tolerance"),
        gettext_noop("Travel"),
        gettext_noop("Uncertainty"),
        gettext_noop("Value"),
        gettext_noop("Variant"),
        gettext_noop("Weights"),
        gettext_noop("Width"),
        gettext_noop("Work"),
    }
)

# Where a guide or a habit has been told on without an edition that could be named.
NO_EDITION = gettext_noop("no edition named")


@dataclass(frozen=True)
class Source:
    """A table's origin: title, edition, standing, and what a reader must know before relying on it.

    `from_memory` marks what was set down from memory of a published table and not seen beside it.
    """

    title: str
    edition: str
    standing: Standing
    note: str = ""
    from_memory: bool = False


@dataclass(frozen=True)
class Stated:
    """One value of a table as it stands there, with its unit and where it is from."""

    table: str
    what: str
    value: float | str
    unit: str
    source: Source


def need_number(value: float, name: str, unit: str, *, above: float = -math.inf) -> float:
    """Return the value if it is a finite number above a bound.

    Parameters
    ----------
    value : float
        The value. [unit]
    name, unit : str
        What it is and its unit, for the refusal.
    above : float
        The bound, itself excluded. [unit]

    Returns
    -------
    float
        The value. [unit]

    Raises
    ------
    Refused
        If it is not a number, infinite, or not above the bound.

    References
    ----------
    .. [1] IEEE 754: comparisons with NaN are false, so it would pass unseen.
    """
    if not math.isfinite(value) or value <= above:
        raise Refused(
            "value.impossible",
            gettext_noop("{name} {value} {unit} is not possible."),
            next_step=gettext_noop("Enter a number that can be measured."),
            name=Word(name),
            value=value,
            unit=unit,
            limit=above,
        )
    return value


def not_in_table(name: str, value: object, known: str) -> Refused:
    """Return the refusal for a value that a published table does not hold.

    Parameters
    ----------
    name : str
        What was asked for.
    value : object
        The value that is not there. [as asked]
    known : str
        What the table holds.

    Returns
    -------
    Refused
        The refusal, to be raised.

    References
    ----------
    .. [1] The tables of this package are not extrapolated.
    """
    return Refused(
        "table.outside",
        gettext_noop("{name} {value} is not in the table, which holds {known}."),
        next_step=gettext_noop("Stay inside the table, or name the value on the drawing."),
        name=Word(name),
        value=value,
        known=known,
        limit=known,
    )
