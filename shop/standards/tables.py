"""Every value that the standards package holds, walked in one place."""

from __future__ import annotations

import math
from collections.abc import Callable

from shop.standards import (
    abrasives,
    acceptance,
    coatings,
    conditions,
    conformity,
    draft,
    eroded,
    gloss,
    grades,
    hardness,
    mould_classes,
    msa,
    resins,
    roughness,
    steels,
)
from shop.standards.source import Standing, Stated


def _gauge_study_rules() -> tuple[Stated, ...]:
    to = [
        Stated("gauge study", f"{rule.verdict} to", rule.to_percent, "percent", rule.source)
        for rule in msa.FITNESS_RULES
        if math.isfinite(rule.to_percent)
    ]
    categories = [
        Stated("gauge study", f"{rule.verdict} from categories", rule.ndc_from, "1", rule.source)
        for rule in msa.FITNESS_RULES
        if rule.ndc_from is not None
    ]
    return (*to, *categories)


TABLES: dict[str, Callable[[], tuple[Stated, ...]]] = {
    "abrasives": abrasives.stated,
    "acceptance": acceptance.stated,
    "coatings": coatings.stated,
    "conditions": conditions.stated,
    "conformity": conformity.stated,
    "draft": draft.stated,
    "eroded": eroded.stated,
    "gloss": gloss.stated,
    "grades": grades.stated,
    "hardness": hardness.stated,
    "mould_classes": mould_classes.stated,
    "msa": _gauge_study_rules,
    "resins": resins.stated,
    "roughness": roughness.stated,
    "steels": steels.stated,
}


def every_value() -> tuple[Stated, ...]:
    """Return every value of every table with its unit and where it is from.

    Returns
    -------
    tuple of Stated
        In the order of the modules.

    References
    ----------
    .. [1] The source that each value names.
    """
    return tuple(value for stated in TABLES.values() for value in stated())


def of_standing(standing: Standing) -> tuple[Stated, ...]:
    """Return every value of one standing, such as all that is common practice.

    Parameters
    ----------
    standing : Standing
        The standing.

    Returns
    -------
    tuple of Stated
        In the order of the modules.

    References
    ----------
    .. [1] The source that each value names.
    """
    return tuple(value for value in every_value() if value.source.standing == standing)


def from_memory() -> tuple[Stated, ...]:
    """Return every value that was set down from memory of a published table.

    Returns
    -------
    tuple of Stated
        In the order of the modules.

    References
    ----------
    .. [1] The source that each value names.
    """
    return tuple(value for value in every_value() if value.source.from_memory)
