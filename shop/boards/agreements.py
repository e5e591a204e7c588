"""A study of people who judge by eye: how far they agree, with whom, and on which pieces they do not."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from shop.boards.studies import figure, rounded
from shop.people import wording
from shop.picture.study_chart import AgreementMatrix
from shop.quality.models import AgreementStudy
from shop.quality.study_results import agreement_of, category_names, headline, rejecting
from shop.refusal import Saying, gettext_noop
from shop.standards import agreement
from shop.standards.source import Source

WEIGHT_WORDS = {
    "none": gettext_noop("every difference counts the same"),
    "linear": gettext_noop("differences count by steps between the categories"),
    "quadratic": gettext_noop("differences count by the square of the steps"),
}
GOOD, FAIR = 0.75, 0.40
MOST_NAMED = 12


@dataclass(frozen=True)
class KappaLine:
    """One kappa as words: of whom, its interval, what it is called, how often they agreed."""

    name: str
    kappa: str
    interval: str
    words: str
    observed: str


@dataclass(frozen=True)
class PersonLine:
    """One person: repeats that agree, agreement with the master, what was missed, false alarms."""

    name: str
    repeats: str
    repeats_kappa: KappaLine | None
    with_master: str
    master_kappa: KappaLine | None
    missed: str
    false_alarms: str


@dataclass(frozen=True)
class AgreementCard:
    """A study of judges as its page shows it."""

    study: AgreementStudy
    headline: str
    headline_words: str
    weights: str
    pairs: tuple[KappaLine, ...]
    everybody: KappaLine | None
    categories: tuple[tuple[str, str], ...]
    persons: tuple[PersonLine, ...]
    has_repeats: bool
    has_rejects: bool
    all_agree: str
    all_with_master: str
    matrix: AgreementMatrix
    split: tuple[tuple[str, str], ...]
    more_split: int
    next: Saying
    sources: tuple[Source, ...]


def agreement_card(study: AgreementStudy) -> AgreementCard:
    """Return what a study of judges says."""
    found = agreement_of(study, rejects=rejecting(study))
    kappa = headline(found)
    split = _split(study)
    return AgreementCard(
        study=study, headline=figure(kappa, 2), headline_words=_called(kappa), weights=WEIGHT_WORDS[study.weights],
        pairs=tuple(_kappa(_two(study, one), one.kappa) for one in found.pairs),
        everybody=_kappa("", found.everybody) if found.everybody and found.people > 1 else None,
        categories=tuple((str(name), figure(value, 2)) for name, value in found.everybody.categories)
        if found.everybody and found.people > 1 else (),
        persons=tuple(_person(study, one) for one in found.persons), has_repeats=found.trials > 1,
        has_rejects=bool(study.master and rejecting(study)), all_agree=_share(found.all_agree),
        all_with_master=_share(found.all_with_master), matrix=_matrix(study, found),
        split=tuple(split[:MOST_NAMED]), more_split=max(0, len(split) - MOST_NAMED), next=_next(study, found, kappa),
        sources=(found.source, agreement.COHEN_SOURCE, agreement.FLEISS_SOURCE, agreement.WORDS_SOURCE),
    )  # fmt: skip


def _two(study: AgreementStudy, pair: agreement.PairAgreement) -> str:
    return f"{study.people[pair.first]} – {study.people[pair.second]}"


def _kappa(name: str, found: agreement.Kappa) -> KappaLine:
    if found.kappa is None:
        return KappaLine(name, wording.NOTHING, "", _("all fell into one category: chance explains it"), "100 %")
    interval = ""
    if found.lower is not None and found.upper is not None:
        interval = _("%(lower)s to %(upper)s") % {"lower": figure(found.lower, 2), "upper": figure(found.upper, 2)}
    return KappaLine(name, figure(found.kappa, 2), interval, _called(found.kappa), _percent(found.observed))


def _called(kappa: float | None) -> str:
    return "" if kappa is None else _(agreement.kappa_words(kappa))


def _percent(share: float) -> str:
    return f"{figure(100 * share, 1)}\u00a0%"


def _share(found: agreement.Share | None) -> str:
    """Return so many of so many, the share and its interval."""
    if found is None or found.share is None or found.lower is None or found.upper is None:
        return wording.NOTHING
    return _("%(n)d of %(all)d, %(share)s (%(lower)s to %(upper)s)") % {
        "n": found.count, "all": found.of, "share": _percent(found.share),
        "lower": _percent(found.lower), "upper": _percent(found.upper),
    }  # fmt: skip


def _person(study: AgreementStudy, one: agreement.PersonAgreement) -> PersonLine:
    return PersonLine(
        study.people[one.person], _share(one.repeats),
        _kappa("", one.repeats_kappa) if one.repeats_kappa else None, _share(one.with_master),
        _kappa("", one.master_kappa) if one.master_kappa else None, _share(one.missed), _share(one.false_alarms),
    )  # fmt: skip


def _matrix(study: AgreementStudy, found: agreement.AgreementStudy) -> AgreementMatrix:
    who = wording.reader()
    names = [*study.people, *([_("master")] if study.master is not None else [])]
    between: dict[tuple[int, int], float | None] = {}
    for pair in found.pairs:
        between[pair.first, pair.second] = between[pair.second, pair.first] = pair.kappa.kappa
    for one in found.persons:
        between[one.person, one.person] = one.repeats_kappa.kappa if one.repeats_kappa else None
        if one.master_kappa is not None:
            last = len(names) - 1
            between[one.person, last] = between[last, one.person] = one.master_kappa.kappa
    rows = range(len(names))
    said = "; ".join(
        f"{names[a]} – {names[b]} {figure(kappa, 2)}" for (a, b), kappa in sorted(between.items()) if a < b
    )
    return AgreementMatrix(
        tuple(names), tuple(tuple(between.get((row, column)) for column in rows) for row in rows),
        _("Kappa of each two: %(pairs)s") % {"pairs": said}, bool(who and who.decimal_comma),
    )  # fmt: skip


def _split(study: AgreementStudy) -> list[tuple[str, str]]:
    """Return the pieces that were not judged alike throughout, the most divided first, with how they were judged."""
    order = category_names(study)
    found = []
    for piece, row in zip(study.pieces, study.judgements, strict=True):
        judged = [one for cell in row for one in cell]
        counts = {name: judged.count(name) for name in order if name in judged}
        if len(counts) > 1:
            words = ", ".join(f"{count} × {name}" for name, count in counts.items())
            found.append((max(counts.values()), piece, words))
    return [(piece, words) for _count, piece, words in sorted(found, key=lambda one: one[0])]


def _next(study: AgreementStudy, found: agreement.AgreementStudy, kappa: float | None) -> Saying:
    if kappa is None:
        return Saying("agreement.next_mixed", gettext_noop(
            "All pieces fell into one category, which shows nothing: choose pieces from both sides of the limit, some "
            "of them near it, and judge again."
        ), {})  # fmt: skip
    missed = [one for one in found.persons if one.missed and one.missed.count]
    if missed:
        return Saying("agreement.next_missed", gettext_noop(
            "{people} let pieces pass that the master rejects: look at those pieces together, beside the plaque, and "
            "judge again."
        ), {"people": [study.people[one.person] for one in missed]})  # fmt: skip
    weak = [one for one in found.persons if one.master_kappa and (one.master_kappa.kappa or 0) <= GOOD]
    if weak:
        return Saying("agreement.next_master", gettext_noop(
            "{people} should judge the pieces again beside the plaque, with somebody who agrees with the master."
        ), {"people": [study.people[one.person] for one in weak]})  # fmt: skip
    if kappa > GOOD:
        return Saying("agreement.next_none", gettext_noop(
            "These people may judge alone. Repeat the study with new people, another plaque, or within the year."
        ), {})  # fmt: skip
    template = (
        gettext_noop("Kappa {value} is below {limit}: settle the divided pieces beside the plaque, and judge again.")
        if kappa >= FAIR
        else gettext_noop("Kappa {value} is below {limit}: nobody should judge alone until the pieces are agreed upon.")
    )
    return Saying("agreement.next_settle", template, {
        "value": rounded(kappa, 2), "limit": rounded(GOOD if kappa >= FAIR else FAIR, 2)
    })  # fmt: skip
