"""Can this face have this finish? Each topic answered with the reason, the value, the limit and the source."""

from __future__ import annotations

from shop.craft.suitability.asking import (
    CARE,
    NO,
    NOT_JUDGED,
    TOPICS,
    VERDICTS,
    YES,
    Answer,
    Ask,
    AskedLimit,
    Row,
    worst,
)
from shop.craft.suitability.material import material_rows
from shop.craft.suitability.measuring import measuring_rows
from shop.craft.suitability.shape import shape_rows

__all__ = [
    "CARE",
    "NO",
    "NOT_JUDGED",
    "TOPICS",
    "VERDICTS",
    "YES",
    "Answer",
    "Ask",
    "AskedLimit",
    "Row",
    "can_have",
]


def can_have(ask: Ask) -> Answer:
    """Return whether a face can have a finish, topic by topic.

    Parameters
    ----------
    ask : Ask
        What is known of the face, the finish and the gauge. [HRC, um, deg, cm2, mm, GU]

    Returns
    -------
    Answer
        Rows in the order of `TOPICS`, and the worst verdict. "no" comes only from arithmetic or a published rule;
        trade knowledge and conflicting sources give "with care" and say who decides.

    References
    ----------
    .. [1] The tables of `shop.standards`; each row names its source.
    """
    rows = (*material_rows(ask), *shape_rows(ask), *measuring_rows(ask))
    ordered = tuple(sorted(rows, key=lambda row: TOPICS.index(row.topic)))
    return Answer(worst(ordered), ordered)
