"""The table of a study, by part, person and trial: whole, or refused with the cell at fault."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shop.refusal import Refused, gettext_noop

_FILL = gettext_noop("Fill the gap, or take the part or the person out of the study.")


def whole_table(values: Sequence[Sequence[Sequence[Any]]], fewest_trials: int = 1) -> tuple[int, int, int]:
    """Return how many parts, people and trials a table has, if every cell is there.

    Parameters
    ----------
    values : sequence of sequence of sequence
        values[part][person][trial], numbers or verdicts; None or "" is a gap.
    fewest_trials : int
        Trials that there must be. [1]

    Returns
    -------
    tuple of int
        Parts, people, trials. [1]

    Raises
    ------
    Refused
        If it is empty or ragged, has a gap, or has fewer than 2 parts or fewer trials than asked.

    References
    ----------
    .. [1] AIAG MSA, 4th ed. (2010): a study is crossed, every person measures every part as often.
    """
    parts = len(values)
    if parts < 2:
        raise _too_few(gettext_noop("{found} parts are too few for a study, which needs {limit} or more."), parts, 2)
    people = len(values[0])
    if people < 1:
        raise _too_few(gettext_noop("{found} people are too few for a study, which needs {limit} or more."), people, 1)
    trials = max(len(cell) for row in values for cell in row) if all(len(row) for row in values) else 0
    for part, row in enumerate(values, start=1):
        if len(row) != people:
            raise Refused(
                "study.ragged",
                gettext_noop("Part {part} has values of {found} people, part 1 of {limit}."),
                next_step=_FILL, part=part, found=len(row), limit=people,
            )  # fmt: skip
        for person, cell in enumerate(row, start=1):
            there = sum(not _is_gap(value) for value in cell)
            if there != trials:
                raise Refused(
                    "study.trial_missing",
                    gettext_noop("Part {part}, person {person}: {found} trials are there, {limit} are wanted."),
                    next_step=_FILL, part=part, person=person, found=there, limit=trials,
                )  # fmt: skip
    if trials < fewest_trials:
        template = gettext_noop("{found} trials are too few for a study, which needs {limit} or more.")
        raise _too_few(template, trials, fewest_trials)
    return parts, people, trials


def number_table(values: Sequence[Sequence[Sequence[float]]], fewest_trials: int = 2) -> NDArray[np.float64]:
    """Return a whole table of finite numbers that are not all equal.

    Parameters
    ----------
    values : sequence of sequence of sequence of float
        values[part][person][trial]. [any one unit]
    fewest_trials : int
        Trials that there must be. [1]

    Returns
    -------
    NDArray of float
        The same by part, person, trial. [unit of the values]

    Raises
    ------
    Refused
        As `whole_table`; if a value is not a finite number; if all are equal.

    References
    ----------
    .. [1] AIAG MSA, 4th ed. (2010).
    """
    table = np.empty(whole_table(values, fewest_trials))
    for part, row in enumerate(values):
        for person, cell in enumerate(row):
            for trial, value in enumerate(cell):
                table[part, person, trial] = _number(value, part, person, trial)
    if float(np.ptp(table)) == 0:
        raise Refused(
            "study.all_equal",
            gettext_noop("All {found} values are {value}: this says nothing of the gauge."),
            next_step=gettext_noop("Choose parts that differ, or read the gauge to more digits."),
            found=int(table.size), value=float(table.flat[0]),
        )  # fmt: skip
    return table


def _number(value: Any, part: int, person: int, trial: int) -> float:
    try:
        number = float(value)
    except (TypeError, ValueError):
        number = math.nan
    if not math.isfinite(number) or isinstance(value, bool):
        raise Refused(
            "study.not_a_number",
            gettext_noop("Part {part}, person {person}, trial {trial}: {value} is not a number."),
            next_step=gettext_noop("Enter the value that the gauge showed."),
            part=part + 1, person=person + 1, trial=trial + 1, value=value,
        )  # fmt: skip
    return number


def _is_gap(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _too_few(template: str, found: int, limit: int) -> Refused:
    next_step = gettext_noop("Take more in and measure again.")
    return Refused("study.too_few", template, next_step=next_step, found=found, limit=limit)
