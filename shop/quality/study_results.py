"""What a kept study says: its table worked out again, by the methods of the standards."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from decimal import Decimal

from shop.quality.models import AgreementStudy, GaugeStudy
from shop.standards import agreement, msa


def result_of(values: Sequence[Sequence[Sequence[str]]], method: str, tolerance: Decimal | None) -> msa.GaugeStudy:
    """Return what the values as typed say by one method. Raises Refused where they say nothing."""
    table = [[[float(value) for value in cell] for cell in row] for row in values]
    return msa.gauge_study(table, method, tolerance=None if tolerance is None else float(tolerance))


def worked_out(study: GaugeStudy, method: str) -> msa.GaugeStudy:
    """Return what a kept study says by one method. Raises Refused where that method cannot say anything."""
    return result_of(study.values, method, study.tolerance)


def rejecting(study: AgreementStudy) -> list[str]:
    """Return the categories that reject a piece."""
    return [one["name"] for one in study.categories if one["rejects"]]


def category_names(study: AgreementStudy) -> list[str]:
    """Return the categories in their order."""
    return [one["name"] for one in study.categories]


def agreement_of(study: AgreementStudy, *, rejects: Collection[str]) -> agreement.AgreementStudy:
    """Return how far the people of a study agree."""
    return agreement.agreement_study(
        study.judgements, master=study.master, categories=category_names(study), weights=study.weights, rejects=rejects
    )


def headline(found: agreement.AgreementStudy) -> float | None:
    """Return the one kappa by which a study is listed.

    Of two people: Cohen's. Of more: Fleiss' of everybody, or with weights, which that one does not know, the mean of
    the pairs. Of one alone: with the master, else over the repeats. None where chance explains everything.
    """
    if found.people == 1:
        alone = found.persons[0].master_kappa or found.persons[0].repeats_kappa
        return None if alone is None else alone.kappa
    if found.weights == "none" and found.people > 2:
        return None if found.everybody is None else found.everybody.kappa
    kappas = [pair.kappa.kappa for pair in found.pairs if pair.kappa.kappa is not None]
    return sum(kappas) / len(kappas) if kappas else None
