"""Agreement beyond chance: Cohen's kappa of two, plain or weighted, and Fleiss' kappa of many."""

from __future__ import annotations

import math
from collections.abc import Hashable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from shop.refusal import Refused, gettext_noop
from shop.standards.source import Source, Standing, need_number, not_in_table

COHEN_SOURCE = Source(
    gettext_noop("Cohen (1960, 1968); Fleiss, Cohen and Everitt (1969) for the standard error"),
    "Psychological Bulletin 72, 323-327",
    Standing.PUBLISHED,
    gettext_noop("Of several judgements of one piece the standard error takes the piece as one."),
)
FLEISS_SOURCE = Source(
    gettext_noop("Fleiss (1971); Fleiss, Nee and Landis (1979) without agreement; Gwet (2008) for the interval"),
    "Psychological Bulletin 76, 378-382",
    Standing.PUBLISHED,
    gettext_noop("The standard error printed in 1971 was put right in 1979."),
)
WORDS_SOURCE = Source(
    gettext_noop("AIAG Measurement Systems Analysis, study of attributes, after Fleiss (1981)"),
    "4th ed., 2010",
    Standing.SEVERAL,
    gettext_noop("Above 0.75 good to excellent, below 0.40 poor; a rule of thumb."),
)
WEIGHTS = ("none", "linear", "quadratic")


@dataclass(frozen=True)
class Kappa:
    """Agreement beyond chance with its standard error and interval; all None where chance explains everything.

    `null_standard_error` is the one if there were no agreement but by chance, and `p` its one-sided test. `categories`
    gives a kappa of each category against the rest, by Fleiss only.
    """

    kappa: float | None
    observed: float
    expected: float
    standard_error: float | None
    lower: float | None
    upper: float | None
    null_standard_error: float | None
    z: float | None
    p: float | None
    pieces: int
    judgements: int
    weights: str
    confidence: float
    source: Source
    categories: tuple[tuple[Hashable, float | None], ...] = ()


def kappa_words(kappa: float) -> str:
    """Return what a kappa is called, by the source named in `WORDS_SOURCE`.

    Parameters
    ----------
    kappa : float
        Agreement beyond chance. [1]

    Returns
    -------
    str
        "good to excellent", "fair to good" or "poor".

    Raises
    ------
    Refused
        If it is not a number up to 1.

    References
    ----------
    .. [1] AIAG MSA, 4th ed. (2010); Fleiss (1981), Statistical Methods for Rates and Proportions.
    """
    need_number(kappa, "Kappa", "")
    if kappa > 1 + 1e-12:
        raise not_in_table("Kappa", kappa, "≤ 1")
    if kappa > 0.75:
        return gettext_noop("good to excellent")
    return gettext_noop("fair to good") if kappa >= 0.40 else gettext_noop("poor")


def cohen_kappa(
    first: Sequence[Hashable],
    second: Sequence[Hashable],
    *,
    categories: Sequence[Hashable] | None = None,
    weights: str = "none",
    pieces: Sequence[Hashable] | None = None,
    confidence: float = 0.95,
) -> Kappa:
    """Return the kappa of two who judged the same pieces.

    Parameters
    ----------
    first, second : sequence
        Their judgements, in the same order.
    categories : sequence, optional
        All categories in their order; weighted kappa needs it.
    weights : str
        "none", "linear" or "quadratic" in the steps between categories.
    pieces : sequence, optional
        The piece of each judgement, where a piece was judged more than once.
    confidence : float
        Of the interval, by the normal distribution. [1]

    Returns
    -------
    Kappa
        Kappa and its standard errors. [1]

    Raises
    ------
    Refused
        If the lengths differ, there are fewer than 2 judgements, a judgement is no category, or weights lack an order.

    References
    ----------
    .. [1] Cohen (1960), Educ. Psychol. Meas. 20, 37-46; Cohen (1968), Psychol. Bull. 70, 213-220.
    .. [2] Fleiss, Cohen and Everitt (1969), Psychol. Bull. 72, 323-327.
    """
    _check_confidence(confidence)
    if len(first) != len(second) or (pieces is not None and len(pieces) != len(first)):
        raise _uneven(len(second), len(first))
    if weights not in WEIGHTS:
        raise not_in_table("Weights", weights, ", ".join(WEIGHTS))
    if weights != "none" and categories is None:
        raise Refused(
            "agreement.no_order",
            gettext_noop("Weights {weights} need the categories in their order."),
            next_step=gettext_noop("Name the categories from one end to the other."),
            weights=weights,
        )
    known = _known((*first, *second), categories)
    a, b = (np.array([known[judgement] for judgement in found]) for found in (first, second))
    n = len(a)
    if n < 2:
        raise _too_few(n)
    share = np.zeros((len(known), len(known)))
    np.add.at(share, (a, b), 1 / n)
    w = _weights(len(known), weights)
    rows, columns = share.sum(axis=1), share.sum(axis=0)
    observed, expected = float((w * share).sum()), float(rows @ w @ columns)
    groups = np.unique(np.arange(n) if pieces is None else _codes(pieces), return_inverse=True)[1]
    count = int(groups.max()) + 1
    if 1 - expected < 1e-12:
        return _undefined(observed, expected, count, n, weights, confidence, COHEN_SOURCE)
    kappa = (observed - expected) / (1 - expected)
    row_weight, column_weight = w @ columns, rows @ w
    # Each judgement's pull on kappa; summed by piece, so that repeats of one piece do not count as new pieces.
    pull = w[a, b] - (row_weight[a] + column_weight[b]) * (1 - kappa)
    by_piece = np.bincount(groups, weights=pull - pull.mean())
    error = math.sqrt(float(by_piece @ by_piece)) / (n * (1 - expected))
    chance = rows[:, None] * columns[None, :]
    both = (w - (row_weight[:, None] + column_weight[None, :])) ** 2
    null = math.sqrt(max(0.0, float((chance * both).sum()) - expected**2) / n) / (1 - expected)
    return _found(kappa, observed, expected, error, null, (count, n), weights, confidence, COHEN_SOURCE)


def fleiss_kappa(
    judgements: Sequence[Sequence[Hashable]],
    *,
    categories: Sequence[Hashable] | None = None,
    confidence: float = 0.95,
) -> Kappa:
    """Return Fleiss' kappa of pieces that were each judged equally often, by whom does not matter.

    Parameters
    ----------
    judgements : sequence of sequence
        judgements[piece], at least 2 of each.
    categories : sequence, optional
        All categories.
    confidence : float
        Of the interval, by the normal distribution. [1]

    Returns
    -------
    Kappa
        Kappa, its standard errors [1], and the kappa of each category.

    Raises
    ------
    Refused
        If pieces were not judged equally often, there are fewer than 2 pieces or judgements, or a judgement is no
        category.

    References
    ----------
    .. [1] Fleiss (1971), Psychol. Bull. 76, 378-382.
    .. [2] Fleiss, Nee and Landis (1979), Psychol. Bull. 86, 974-977: standard error without agreement.
    .. [3] Gwet (2008), Br. J. Math. Stat. Psychol. 61, 29-48: standard error with agreement, by linearisation.
    """
    _check_confidence(confidence)
    n = len(judgements)
    if n < 2:
        raise _too_few(n)
    m = len(judgements[0])
    for row in judgements:
        if len(row) != m:
            raise _uneven(len(row), m)
    if m < 2:
        raise _too_few(m)
    known = _known([judgement for row in judgements for judgement in row], categories)
    counts = np.zeros((n, len(known)))
    for piece, row in enumerate(judgements):
        for judgement in row:
            counts[piece, known[judgement]] += 1
    share = counts.sum(axis=0) / (n * m)
    by_piece = (counts * (counts - 1)).sum(axis=1) / (m * (m - 1))
    observed, expected = float(by_piece.mean()), float(share @ share)
    if 1 - expected < 1e-12:
        return _undefined(observed, expected, n, n * m, "none", confidence, FLEISS_SOURCE)
    kappa = (observed - expected) / (1 - expected)
    pull = (by_piece - expected) / (1 - expected)
    pull -= 2 * (1 - kappa) * ((counts / m) @ share - expected) / (1 - expected)
    error = math.sqrt(float(((pull - kappa) ** 2).sum()) / (n * (n - 1)))
    pq = share * (1 - share)
    under = float(pq.sum() ** 2 - (pq * (1 - 2 * share)).sum())
    null = math.sqrt(2 * max(0.0, under) / (n * m * (m - 1))) / float(pq.sum())
    apart = (counts * (m - counts)).sum(axis=0) / (n * m * (m - 1))
    each = tuple((name, float(1 - apart[code] / pq[code]) if pq[code] > 0 else None) for name, code in known.items())
    return _found(kappa, observed, expected, error, null, (n, n * m), "none", confidence, FLEISS_SOURCE, each)


def _weights(count: int, weights: str) -> NDArray[np.float64]:
    if weights == "none" or count == 1:
        return np.eye(count)
    steps = np.abs(np.subtract.outer(np.arange(count), np.arange(count))) / (count - 1)
    return np.asarray(1 - (steps if weights == "linear" else steps**2))


def _known(judgements: Sequence[Hashable], categories: Sequence[Hashable] | None) -> dict[Hashable, int]:
    names = list(dict.fromkeys(judgements if categories is None else categories))
    known = {name: code for code, name in enumerate(names)}
    for judgement in judgements:
        if judgement is None or judgement == "" or judgement not in known:
            raise Refused(
                "agreement.no_category",
                gettext_noop("{value} is not one of the categories {known}."),
                next_step=gettext_noop("Judge each piece by one of the categories."),
                value=judgement,
                known=", ".join(map(str, names)),
            )
    return known


def _codes(pieces: Sequence[Hashable]) -> NDArray[np.int64]:
    known = {piece: code for code, piece in enumerate(dict.fromkeys(pieces))}
    return np.array([known[piece] for piece in pieces])


def _found(
    kappa: float,
    observed: float,
    expected: float,
    error: float,
    null: float,
    counts: tuple[int, int],
    weights: str,
    confidence: float,
    source: Source,
    categories: tuple[tuple[Hashable, float | None], ...] = (),
) -> Kappa:
    half = float(ndtri((1 + confidence) / 2)) * error
    z = kappa / null if null > 0 else None
    return Kappa(
        kappa=kappa, observed=observed, expected=expected, standard_error=error, lower=max(-1.0, kappa - half),
        upper=min(1.0, kappa + half), null_standard_error=null, z=z, p=None if z is None else float(ndtr(-z)),
        pieces=counts[0], judgements=counts[1], weights=weights, confidence=confidence, source=source,
        categories=categories,
    )  # fmt: skip


def _undefined(
    observed: float, expected: float, pieces: int, judgements: int, weights: str, confidence: float, source: Source
) -> Kappa:
    """Return the kappa of pieces that all fell into one category: there is none."""
    return Kappa(
        None, observed, expected, None, None, None, None, None, None, pieces, judgements, weights, confidence, source
    )


def _check_confidence(confidence: float) -> None:
    need_number(confidence, "Confidence", "")
    if not 0 < confidence < 1:
        raise not_in_table("Confidence", confidence, "0–1")


def _uneven(found: int, limit: int) -> Refused:
    return Refused(
        "agreement.uneven",
        gettext_noop("{found} judgements stand against {limit}; each piece is judged equally often."),
        next_step=gettext_noop("Fill the gap, or take the piece out of the study."),
        found=found,
        limit=limit,
    )


def _too_few(found: int) -> Refused:
    return Refused(
        "agreement.too_few",
        gettext_noop("{found} is too few for agreement, which needs {limit} or more."),
        next_step=gettext_noop("Judge more pieces, more often, or by more people."),
        found=found,
        limit=2,
    )
