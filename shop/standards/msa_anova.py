"""The analysis of variance behind a gauge study: table, variance components and their intervals."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtri, fdtrc, fdtri

from shop.refusal import gettext_noop
from shop.standards.source import Source, Standing, need_number, not_in_table

ANOVA_SOURCE = Source(
    gettext_noop("AIAG Measurement Systems Analysis, analysis of variance method"),
    "4th ed., 2010",
    Standing.PUBLISHED,
    gettext_noop("Parts and people both drawn at random; a component that comes out negative counts as none."),
)
INTERVAL_SOURCE = Source(
    gettext_noop("Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies"),
    "2005",
    Standing.PUBLISHED,
    gettext_noop("The formulas are from memory and were checked by their own conditions, not against print."),
)

# How an interval was found: exact, or approximate by one of two methods for sums of mean squares.
CHI_SQUARED = "chi-squared, exact"
GRAYBILL_WANG = "modified large sample, Graybill and Wang (1980)"
TING = "modified large sample, Ting and others (1990)"


@dataclass(frozen=True)
class TableRow:
    """One row of the table; `f` and `p` are None where there is nothing to test, `f` also above a scatter of zero."""

    source: str
    sum_of_squares: float
    df: int
    mean_square: float | None
    f: float | None = None
    p: float | None = None


@dataclass(frozen=True)
class Component:
    """A variance, the share of the total in percent, and its interval where `method` names one.

    `estimate` is what the mean squares say; where that is negative, `variance` is 0 and `floored` is true.
    The interval is of the combination of mean squares itself, its ends not below 0.
    """

    name: str
    variance: float
    estimate: float
    share_percent: float
    lower: float | None
    upper: float | None
    method: str
    floored: bool


@dataclass(frozen=True)
class Anova:
    """The whole analysis: `table` with interaction, `pooled_table` without it and None where it was kept."""

    table: tuple[TableRow, ...]
    pooled_table: tuple[TableRow, ...] | None
    interaction_p: float | None
    alpha: float
    pooled: bool
    components: tuple[Component, ...]
    confidence: float

    def component(self, name: str) -> Component:
        """Return a variance component by name.

        Parameters
        ----------
        name : str
            "repeatability", "person", "interaction", "reproducibility", "grr", "part" or "total".

        Returns
        -------
        Component
            The component. [unit of the values, squared]

        Raises
        ------
        Refused
            If the analysis has no such component.

        References
        ----------
        .. [1] AIAG MSA, 4th ed., analysis of variance method.
        """
        for component in self.components:
            if component.name == name:
                return component
        raise not_in_table("Component", name, ", ".join(component.name for component in self.components))


@dataclass(frozen=True)
class _Term:
    """A mean square with its factor in a sum and its degrees of freedom."""

    factor: float
    square: float
    df: int

    @property
    def part(self) -> float:
        return self.factor * self.square


def analyse(table: NDArray[np.float64], alpha: float = 0.25, confidence: float = 0.95) -> Anova:
    """Return the two-way random analysis of variance of parts by people by trials.

    Parameters
    ----------
    table : NDArray of float
        Values by part, person, trial; complete, at least 2 parts and 2 trials. [any one unit]
    alpha : float
        The interaction is pooled with repeatability unless its p is below this. [1]
    confidence : float
        Of each interval. [1]

    Returns
    -------
    Anova
        Table, components [unit of the values, squared] and intervals.

    Raises
    ------
    Refused
        If `alpha` or `confidence` lies outside 0 to 1.

    References
    ----------
    .. [1] AIAG MSA, 4th ed., analysis of variance method; pooling at 0.25 is its common setting.
    .. [2] Graybill and Wang (1980), JASA 75; Ting and others (1990), J. Stat. Comput. Simul. 35.
    """
    for name, share in (("Alpha", alpha), ("Confidence", confidence)):
        need_number(share, name, "")
        if not 0 < share < 1:
            raise not_in_table(name, share, "0–1")
    parts, people, trials = table.shape
    sums = _sums_of_squares(table)
    dfs = (parts - 1, people - 1, (parts - 1) * (people - 1), parts * people * (trials - 1))
    squares = [total / df if df else 0.0 for total, df in zip(sums, dfs, strict=True)]
    p = _p(squares[2], dfs[2], squares[3], dfs[3]) if dfs[2] else None
    pooled = p is None or p >= alpha
    rest_df = dfs[2] + dfs[3]
    rest = (sums[2] + sums[3]) / rest_df
    whole = _rows(sums, dfs, (squares[2], dfs[2]) if dfs[2] else (squares[3], dfs[3]))
    short = (
        _rows((*sums[:2], 0.0, sums[2] + sums[3]), (*dfs[:2], 0, rest_df), (rest, rest_df))
        if pooled and dfs[2]
        else None
    )
    shape = (parts, people, trials)
    if pooled:
        components = _pooled(shape, squares[:2], dfs[:2], _Term(1.0, rest, rest_df), confidence)
    else:
        components = _kept(shape, squares, dfs, confidence)
    return Anova(whole, short, p, alpha, pooled, components, confidence)


def _sums_of_squares(table: NDArray[np.float64]) -> tuple[float, float, float, float]:
    parts, people, trials = table.shape
    mean = table.mean()
    part, person, cell = table.mean(axis=(1, 2)), table.mean(axis=(0, 2)), table.mean(axis=2)
    both = cell - part[:, None] - person[None, :] + mean
    sums = (
        people * trials * float(((part - mean) ** 2).sum()),
        parts * trials * float(((person - mean) ** 2).sum()),
        trials * float((both**2).sum()),
        float(((table - cell[:, :, None]) ** 2).sum()),
    )
    # What rounding alone makes of equal values is no scatter.
    nothing = table.size * (8 * np.finfo(float).eps * float(np.abs(table).max())) ** 2
    return tuple(total if total > nothing else 0.0 for total in sums)  # type: ignore[return-value]


def _p(square: float, df: int, error: float, error_df: int) -> float:
    if error == 0:
        return 0.0 if square > 0 else 1.0
    return float(fdtrc(df, error_df, square / error))


def _rows(
    sums: tuple[float, float, float, float], dfs: tuple[int, int, int, int], tested_by: tuple[float, int]
) -> tuple[TableRow, ...]:
    """Return the table; parts and people are tested by what `tested_by` gives, the interaction by repeatability."""
    names = ("part", "person", "interaction", "repeatability")
    by = (tested_by, tested_by, (sums[3] / dfs[3], dfs[3]))
    rows = []
    for index, (name, total, df) in enumerate(zip(names, sums, dfs, strict=True)):
        if df == 0:
            continue
        square, f, p = total / df, None, None
        if index < 3:
            error, error_df = by[index]
            f = square / error if error else None
            p = _p(square, df, error, error_df)
        rows.append(TableRow(name, total, df, square, f, p))
    return (*rows, TableRow("total", sum(sums), sum(dfs), None))


def _kept(
    shape: tuple[int, int, int], squares: list[float], dfs: tuple[int, int, int, int], confidence: float
) -> tuple[Component, ...]:
    n, k, r = shape
    part, person, both, error = squares
    rows = {
        "repeatability": ([_Term(1.0, error, dfs[3])], []),
        "person": ([_Term(1 / (n * r), person, dfs[1])], [_Term(1 / (n * r), both, dfs[2])]),
        "interaction": ([_Term(1 / r, both, dfs[2])], [_Term(1 / r, error, dfs[3])]),
        "part": ([_Term(1 / (k * r), part, dfs[0])], [_Term(1 / (k * r), both, dfs[2])]),
        "grr": (
            [
                _Term(1 / (n * r), person, dfs[1]),
                _Term((n - 1) / (n * r), both, dfs[2]),
                _Term(1 - 1 / r, error, dfs[3]),
            ],
            [],
        ),
        "total": (
            [
                _Term(1 / (k * r), part, dfs[0]),
                _Term(1 / (n * r), person, dfs[1]),
                _Term((n * k - n - k) / (n * k * r), both, dfs[2]),
                _Term(1 - 1 / r, error, dfs[3]),
            ],
            [],
        ),
    }
    return _components(rows, confidence)


def _pooled(
    shape: tuple[int, int, int], squares: list[float], dfs: tuple[int, ...], rest: _Term, confidence: float
) -> tuple[Component, ...]:
    n, k, r = shape
    part, person = squares
    by_part, by_person = 1 / (k * r), 1 / (n * r)
    rows = {
        "repeatability": ([rest], []),
        "part": ([_Term(by_part, part, dfs[0])], [_Term(by_part, rest.square, rest.df)]),
        "grr": ([_Term(1.0, rest.square, rest.df)], []),
        "total": ([_Term(by_part, part, dfs[0]), _Term(1 - by_part, rest.square, rest.df)], []),
    }
    if dfs[1]:
        people = _Term(by_person, person, dfs[1])
        rows["person"] = ([people], [_Term(by_person, rest.square, rest.df)])
        rows["grr"] = ([people, _Term(1 - by_person, rest.square, rest.df)], [])
        rows["total"] = ([rows["total"][0][0], people, _Term(1 - by_part - by_person, rest.square, rest.df)], [])
    return _components(rows, confidence)


def _components(rows: dict[str, tuple[list[_Term], list[_Term]]], confidence: float) -> tuple[Component, ...]:
    estimates = {name: sum(t.part for t in plus) - sum(t.part for t in minus) for name, (plus, minus) in rows.items()}
    variances = {name: max(0.0, estimates.get(name, 0.0)) for name in ("repeatability", "person", "interaction")}
    variances["reproducibility"] = variances["person"] + variances["interaction"]
    variances["grr"] = variances["repeatability"] + variances["reproducibility"]
    variances["part"] = max(0.0, estimates["part"])
    variances["total"] = total = variances["grr"] + variances["part"]
    # Without interaction reproducibility is what lies between people; with it no named method gives an interval.
    rows["reproducibility"] = rows["person"] if "interaction" not in rows and "person" in rows else ([], [])
    found = []
    for name, variance in variances.items():
        if name not in rows:
            continue
        lower, upper, method = _interval(*rows[name], confidence)
        estimate = estimates.get(name, variance)
        share = 100 * variance / total if total else 0.0
        floored = name in ("person", "interaction", "part") and estimate < 0
        found.append(Component(name, variance, estimate, share, lower, upper, method, floored))
    return tuple(found)


def _interval(plus: list[_Term], minus: list[_Term], confidence: float) -> tuple[float | None, float | None, str]:
    """Return the ends of the interval of a sum of mean squares, or of a difference of two, and the method."""
    tail = (1 - confidence) / 2
    if not plus:
        return None, None, ""
    if minus:
        return *_of_difference(plus[0], minus[0], tail), TING
    if len(plus) == 1 and plus[0].factor == 1.0:
        sole = plus[0]
        return sole.part * (1 - _g(sole.df, tail)), sole.part * (1 + _h(sole.df, tail)), CHI_SQUARED
    middle = sum(term.part for term in plus)
    below = math.sqrt(sum((_g(term.df, tail) * term.part) ** 2 for term in plus))
    above = math.sqrt(sum((_h(term.df, tail) * term.part) ** 2 for term in plus))
    return max(0.0, middle - below), middle + above, GRAYBILL_WANG


def _g(df: int, tail: float) -> float:
    return float(1 - df / chdtri(df, tail))


def _h(df: int, tail: float) -> float:
    return float(df / chdtri(df, 1 - tail) - 1)


def _of_difference(plus: _Term, minus: _Term, tail: float) -> tuple[float, float]:
    """Return the interval of a difference: its end is 0 just where the F test of the two is at its limit."""
    most, least = float(fdtri(plus.df, minus.df, 1 - tail)), float(fdtri(plus.df, minus.df, tail))
    a, b = plus.part, minus.part
    g, h = _g(plus.df, tail), _h(minus.df, tail)
    cross = ((most - 1) ** 2 - (g * most) ** 2 - h * h) / most
    below = (g * a) ** 2 + (h * b) ** 2 + cross * a * b
    g, h = _g(minus.df, tail), _h(plus.df, tail)
    cross = ((1 - least) ** 2 - (h * least) ** 2 - g * g) / least
    above = (h * a) ** 2 + (g * b) ** 2 + cross * a * b
    return max(0.0, a - b - math.sqrt(max(0.0, below))), max(0.0, a - b + math.sqrt(max(0.0, above)))
