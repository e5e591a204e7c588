"""Two groups of finish lives beside each other: how many times as long one lasts, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shop.boards.lives import LEVEL, Group, bounds_of, differs_too
from shop.drift.lives import RatioOfLives, lives_between, log_rank, ratio_of_lives
from shop.people import wording
from shop.refusal import Refused, Saying, gettext_noop

# By these chances of so large a difference arising from none, in words.
HARD_TO_BELIEVE, DOUBTFUL = 0.05, 0.2


@dataclass(frozen=True)
class Compared:
    """What the comparison came to; `refused` says why there is none."""

    first: Group
    second: Group
    ratio: RatioOfLives | None
    rank_p: float | None
    words: Saying | None
    besides: tuple[str, ...]
    refused: Refused | None = None


def compared(first: Group, second: Group, by: str) -> Compared:
    """Return how the second group's lives compare with the first's."""
    besides = tuple(differs_too(first, second, by))
    try:
        ratio = ratio_of_lives(lives_between(*bounds_of(first.lives)), lives_between(*bounds_of(second.lives)), LEVEL)
    except Refused as problem:
        return Compared(first, second, None, None, None, besides, problem)
    return Compared(first, second, ratio, _rank(first, second), _words(first, second, ratio), besides)


def _rank(first: Group, second: Group) -> float | None:
    try:
        found = log_rank(
            [one.middle for one in first.lives],
            [one.worn for one in first.lives],
            [one.middle for one in second.lives],
            [one.worn for one in second.lives],
        )
    except Refused:
        return None
    return found.p_value


def _words(first: Group, second: Group, ratio: RatioOfLives) -> Saying:
    if ratio.p_value < HARD_TO_BELIEVE:
        template = gettext_noop(
            "{second} lasts {ratio} times as long as {first} (80 %: {lower} to {upper}); that there is no difference "
            "at all is hard to believe."
        )
    elif ratio.p_value < DOUBTFUL:
        template = gettext_noop(
            "{second} lasts {ratio} times as long as {first} (80 %: {lower} to {upper}); it may be chance."
        )
    else:
        template = gettext_noop(
            "{second} lasts {ratio} times as long as {first} (80 %: {lower} to {upper}); no difference at all is "
            "quite possible."
        )
    values = {"first": first.name, "second": second.name}
    figures = {"ratio": ratio.ratio, "lower": ratio.lower, "upper": ratio.upper}
    told = {name: wording.number(_short(value)) for name, value in figures.items()}
    return Saying("lives.compared", template, {**values, **told})


def _short(value: float) -> Decimal:
    return Decimal(f"{min(value, 99.0):.2g}") if value < 10 else Decimal(round(min(value, 99.0)))
