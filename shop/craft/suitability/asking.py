"""What is known of a face and the finish it is to have, and what is answered."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from shop.refusal import Refused, Saying, gettext_noop
from shop.standards.grades import RaTable, grade_named
from shop.standards.source import NO_EDITION, Source, Standing
from shop.units import Quantity

YES, CARE, NO, NOT_JUDGED = "yes", "with care", "no", "not judged"
VERDICTS = (YES, CARE, NO, NOT_JUDGED)
TOPICS = (
    "steel", "hardness", "coating", "resin", "gloss of the resin", "draft", "zone", "steel left", "how made", "area",
    "how measured", "cut-off", "tolerance",
)  # fmt: skip
ROUGHNESS = ("Ra", "Rq", "Rz")
TEXTURED = ("etched", "laser")

TRADE_SOURCE = Source(
    "Rules of the bench",
    NO_EDITION,
    Standing.COMMON,
    gettext_noop("Trade knowledge; the lead or the customer decides."),
)
LEAD_DECIDES = Saying("suits.lead_decides", gettext_noop("The toolroom lead decides, with the customer."), {})
HOUSE_DECIDES = Saying("suits.house_decides", gettext_noop("The texture house decides."), {})
PLATER_DECIDES = Saying("suits.plater_decides", gettext_noop("The plater and the toolroom lead decide."), {})
QUALITY_DECIDES = Saying("suits.quality_decides", gettext_noop("Quality decides, and says so on the record."), {})


@dataclass(frozen=True)
class AskedLimit:
    """One limit the finish must meet; `u` is the standard uncertainty of the gauge, in the limit's own unit.

    Roughness in um, gloss in GU with its angle in degrees; a cut-off named on the drawing in mm. `gauge_kind` is of
    the gauge for this limit, where it is another than that for the rest.
    """

    parameter: str
    lower: float | None = None
    upper: float | None = None
    where: str = "part"
    geometry_deg: int | None = None
    cutoff_mm: float | None = None
    u: float | None = None
    gauge_kind: str = ""


@dataclass(frozen=True)
class Ask:
    """What is known: None or empty is not known and is not judged.

    Hardness in HRC, depths and steel in um, area in cm2, lengths in mm. `coating` "none" is bare steel.
    `taken_um` is what the work will take a side; unless told, that of putting the finish in for the first time or
    again. `aperture_mm` and `travel_mm` are the gauge's own: the spot it measures, and what a stylus needs to run up
    and out. `guarded` is whether the customer's acceptance asks for proof.
    """

    steel: str = ""
    hardness_hrc: float | None = None
    coating: str = ""
    resin: str = ""
    opaque: bool | None = None
    draft_deg: float | None = None
    pattern_depth_um: float | None = None
    area_cm2: float | None = None
    width_mm: float | None = None
    length_mm: float | None = None
    zone: str = ""
    steel_left_um: float | None = None
    taken_um: float | None = None
    how_made: str = ""
    scale: str = ""
    code: str = ""
    limits: tuple[AskedLimit, ...] = ()
    gauge_kind: str = ""
    aperture_mm: tuple[float, float] | None = None
    travel_mm: float | None = None
    edition: str = ""
    guarded: bool = True
    required: float = 0.95
    ra_variant: int | RaTable = 2


@dataclass(frozen=True)
class Row:
    """One topic's answer: verdict and reason, the value held against which limit, from which source, what would help.

    `source` is None where nothing but arithmetic decides. `decides` says who does where the verdict is "with care".
    """

    topic: str
    verdict: str
    saying: Saying
    value: Quantity | str | None = None
    limit: Quantity | str | None = None
    source: Source | None = None
    change: Saying | None = None
    decides: Saying | None = None


@dataclass(frozen=True)
class Answer:
    """All rows, and the worst of their verdicts; "not judged" only where nothing could be."""

    verdict: str
    rows: tuple[Row, ...]


def not_known(topic: str) -> Row:
    """Return the row of a topic of which nothing is known.

    Parameters
    ----------
    topic : str
        One of `TOPICS`.

    Returns
    -------
    Row
        Verdict "not judged".

    References
    ----------
    .. [1] House rule: what is not known is not judged, and said so.
    """
    return Row(topic, NOT_JUDGED, Saying("suits.not_known", gettext_noop("Not known, so not judged."), {}))


def outside(topic: str, refused: Saying, source: Source | None = None) -> Row:
    """Return the row of a topic that lies outside the tables, which are not extrapolated.

    Parameters
    ----------
    topic : str
        One of `TOPICS`.
    refused : Saying
        What the table said.
    source : Source, optional
        The table's.

    Returns
    -------
    Row
        Verdict "not judged", with the table's own words.

    References
    ----------
    .. [1] The tables of the standards are not extrapolated.
    """
    return Row(topic, NOT_JUDGED, refused, source=source)


def worst(rows: Iterable[Row]) -> str:
    """Return the worst verdict of rows.

    Parameters
    ----------
    rows : iterable of Row
        The rows.

    Returns
    -------
    str
        "no" before "with care" before "yes"; "not judged" where no row says more.

    References
    ----------
    .. [1] House rule: one "no" is a no.
    """
    seen = {row.verdict for row in rows}
    return next((verdict for verdict in (NO, CARE, YES) if verdict in seen), NOT_JUDGED)


def quantity(value: float, unit: str) -> Quantity:
    """Return a value as a quantity with the digits worth reading.

    Parameters
    ----------
    value : float
        The value. [unit]
    unit : str
        Its unit.

    Returns
    -------
    Quantity
        The value to four digits.

    References
    ----------
    .. [1] IEEE 754: binary tails are not worth showing.
    """
    return Quantity(Decimal(f"{value:.4g}"), unit)


def grade_of(ask: Ask) -> str:
    """Return the mould finish grade that is asked for.

    Parameters
    ----------
    ask : Ask
        What is known.

    Returns
    -------
    str
        "A-1" to "D-3"; empty where another scale or none is asked for.

    References
    ----------
    .. [1] SPI (now PLASTICS) mould finish guide.
    """
    if ask.scale not in ("grade", "") or not ask.code:
        return ""
    try:
        return grade_named(ask.code).name
    except Refused:
        return ""


def is_texture(ask: Ask) -> bool:
    """Return whether a pattern is asked for.

    Parameters
    ----------
    ask : Ask
        What is known.

    Returns
    -------
    bool
        True for etched and laser, and for a pattern depth where nobody said how it is made.

    References
    ----------
    .. [1] Trade words: texture is a pattern put into the steel.
    """
    return ask.how_made in TEXTURED or (not ask.how_made and bool(ask.pattern_depth_um))
