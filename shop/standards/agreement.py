"""Agreement of people who judge by eye: with themselves, with each other and with the master's verdict."""

from __future__ import annotations

from collections.abc import Collection, Hashable, Sequence
from dataclasses import dataclass
from itertools import combinations

from scipy.special import betaincinv

from shop.refusal import Refused, gettext_noop
from shop.standards.kappa import (
    COHEN_SOURCE,
    FLEISS_SOURCE,
    WEIGHTS,
    WORDS_SOURCE,
    Kappa,
    cohen_kappa,
    fleiss_kappa,
    kappa_words,
)
from shop.standards.source import Source, Standing, need_number, not_in_table
from shop.standards.study_table import whole_table

__all__ = [
    "AGREEMENT_SOURCE",
    "COHEN_SOURCE",
    "FLEISS_SOURCE",
    "WEIGHTS",
    "WORDS_SOURCE",
    "AgreementStudy",
    "Kappa",
    "PairAgreement",
    "PersonAgreement",
    "Share",
    "agreement_study",
    "cohen_kappa",
    "fleiss_kappa",
    "kappa_words",
    "share_of",
]

AGREEMENT_SOURCE = Source(
    gettext_noop("AIAG Measurement Systems Analysis, study of attributes"),
    "4th ed., 2010",
    Standing.PUBLISHED,
    gettext_noop(
        "A piece counts as agreed where every trial agrees; intervals of shares by Clopper and Pearson (1934)."
    ),
)


@dataclass(frozen=True)
class Share:
    """So many of so many, the share and its interval; share and ends None where there is nothing to share."""

    count: int
    of: int
    share: float | None
    lower: float | None
    upper: float | None


@dataclass(frozen=True)
class PersonAgreement:
    """One person: repeats that agree, and agreement with the master, by share and by kappa; None where not asked.

    `missed` are judgements that pass a piece which the master rejects, `false_alarms` the other way round.
    """

    person: int
    repeats: Share | None
    repeats_kappa: Kappa | None
    with_master: Share | None
    master_kappa: Kappa | None
    missed: Share | None
    false_alarms: Share | None


@dataclass(frozen=True)
class PairAgreement:
    """Two people, counted from 0, and their kappa over trials taken in the same order."""

    first: int
    second: int
    kappa: Kappa


@dataclass(frozen=True)
class AgreementStudy:
    """The whole study; `all_agree` counts pieces on which every trial of everybody agrees, and the master too."""

    pieces: int
    people: int
    trials: int
    weights: str
    persons: tuple[PersonAgreement, ...]
    pairs: tuple[PairAgreement, ...]
    everybody: Kappa | None
    all_agree: Share
    all_with_master: Share | None
    confidence: float
    source: Source = AGREEMENT_SOURCE


def agreement_study(
    judgements: Sequence[Sequence[Sequence[Hashable]]],
    *,
    master: Sequence[Hashable] | None = None,
    categories: Sequence[Hashable] | None = None,
    weights: str = "none",
    rejects: Collection[Hashable] = (),
    confidence: float = 0.95,
) -> AgreementStudy:
    """Return how far people who judge by eye agree.

    Parameters
    ----------
    judgements : sequence of sequence of sequence
        judgements[piece][person][trial].
    master : sequence, optional
        The master's verdict of each piece.
    categories : sequence, optional
        All categories in their order; graded judgements with weights need it.
    weights : str
        "none", "linear" or "quadratic", for pairs and for the master; Fleiss' kappa has none.
    rejects : collection
        The categories that reject a piece; with a master they give what was missed and the false alarms.
    confidence : float
        Of every interval. [1]

    Returns
    -------
    AgreementStudy
        Shares and kappas. [1]

    Raises
    ------
    Refused
        If the table is not whole, the master did not judge every piece, or a judgement is no category.

    References
    ----------
    .. [1] AIAG MSA, 4th ed. (2010), study of attributes: cross-tables by trial, effectiveness, miss and false alarm.
    """
    pieces, people, trials = whole_table(judgements)
    if master is not None and len(master) != pieces:
        raise Refused(
            "agreement.master_missing",
            gettext_noop("The master judged {found} pieces of {limit}."),
            next_step=gettext_noop("Give the master's verdict of every piece."),
            found=len(master),
            limit=pieces,
        )
    if categories is None:
        seen = [judgement for row in judgements for cell in row for judgement in cell]
        if weights == "none":
            categories = list(dict.fromkeys((*(master or ()), *seen)))
    how = _How(categories, weights, rejects, confidence)
    persons = tuple(_person(judgements, person, master, how) for person in range(people))
    pairs = tuple(
        PairAgreement(one, other, _pair(_of(judgements, one), _of(judgements, other), how))
        for one, other in combinations(range(people), 2)
    )
    rows = [[judgement for cell in row for judgement in cell] for row in judgements]
    everybody = fleiss_kappa(rows, categories=categories, confidence=confidence) if people * trials > 1 else None
    agree = [len(set(row)) == 1 for row in rows]
    right = None
    if master is not None:
        right = sum(ok and row[0] == verdict for ok, row, verdict in zip(agree, rows, master, strict=True))
    return AgreementStudy(
        pieces, people, trials, weights, persons, pairs, everybody,
        share_of(sum(agree), pieces, confidence),
        None if right is None else share_of(right, pieces, confidence), confidence,
    )  # fmt: skip


def share_of(count: int, of: int, confidence: float = 0.95) -> Share:
    """Return a share with its exact interval.

    Parameters
    ----------
    count, of : int
        So many of so many. [1]
    confidence : float
        Of the interval. [1]

    Returns
    -------
    Share
        Share and interval. [1]

    Raises
    ------
    Refused
        If the count does not lie within 0 and `of`, or the confidence not within 0 and 1.

    References
    ----------
    .. [1] Clopper and Pearson (1934), Biometrika 26, 404-413.
    """
    need_number(confidence, "Confidence", "")
    if not 0 < confidence < 1:
        raise not_in_table("Confidence", confidence, "0–1")
    if not 0 <= count <= of:
        raise not_in_table("Count", count, f"0–{of}")
    if of == 0:
        return Share(0, 0, None, None, None)
    tail = (1 - confidence) / 2
    lower = float(betaincinv(count, of - count + 1, tail)) if count else 0.0
    upper = float(betaincinv(count + 1, of - count, 1 - tail)) if count < of else 1.0
    return Share(count, of, count / of, lower, upper)


@dataclass(frozen=True)
class _How:
    categories: Sequence[Hashable] | None
    weights: str
    rejects: Collection[Hashable]
    confidence: float


def _of(judgements: Sequence[Sequence[Sequence[Hashable]]], person: int) -> list[Sequence[Hashable]]:
    return [row[person] for row in judgements]


def _pair(one: Sequence[Sequence[Hashable]], other: Sequence[Sequence[Hashable]], how: _How) -> Kappa:
    return cohen_kappa(
        [judgement for cell in one for judgement in cell],
        [judgement for cell in other for judgement in cell],
        categories=how.categories,
        weights=how.weights,
        pieces=[piece for piece, cell in enumerate(one) for _ in cell],
        confidence=how.confidence,
    )


def _person(
    judgements: Sequence[Sequence[Sequence[Hashable]]],
    person: int,
    master: Sequence[Hashable] | None,
    how: _How,
) -> PersonAgreement:
    own = _of(judgements, person)
    same = [len(set(cell)) == 1 for cell in own]
    repeats, repeats_kappa = None, None
    if len(own[0]) > 1:
        repeats = share_of(sum(same), len(own), how.confidence)
        repeats_kappa = fleiss_kappa(own, categories=how.categories, confidence=how.confidence)
    if master is None:
        return PersonAgreement(person, repeats, repeats_kappa, None, None, None, None)
    right = sum(ok and cell[0] == verdict for ok, cell, verdict in zip(same, own, master, strict=True))
    against = _pair(own, [[verdict] * len(own[0]) for verdict in master], how)
    missed, alarms = None, None
    if how.rejects:
        missed, alarms = (_wrong(own, master, how, bad=bad) for bad in (True, False))
    return PersonAgreement(
        person, repeats, repeats_kappa, share_of(right, len(own), how.confidence), against, missed, alarms
    )


def _wrong(own: Sequence[Sequence[Hashable]], master: Sequence[Hashable], how: _How, *, bad: bool) -> Share:
    """Return the judgements on the wrong side, of the pieces that the master rejects or passes."""
    found = [
        (judgement in how.rejects) != bad
        for cell, verdict in zip(own, master, strict=True)
        if (verdict in how.rejects) == bad
        for judgement in cell
    ]
    return share_of(sum(found), len(found), how.confidence)
