"""Run lengths: how many values a chart sees, on average, before it gives an alarm."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

import numpy as np
from scipy.optimize import brentq
from scipy.sparse import csr_matrix, identity
from scipy.sparse.linalg import spsolve
from scipy.special import ndtr, ndtri

from shop.drift.charts import Floats, check_cusum, check_positive, check_weight, cusum, ewma
from shop.drift.run_rules import Look, RunRule, check_rules
from shop.refusal import Refused, gettext_noop

_NODES = 96
# Points a standard deviation of a single move: the kernel is a normal density and is met to 1e-9 by as many.
_NODES_PER_SIGMA = 2
# Longer run lengths are lost in rounding, and no chart is chosen by them.
_ENDLESS = 1e10
LEAST_WEIGHT = 0.001
_SETTLED = 1e-10
# A chart that alarms more often than this is no chart; one that alarms less often finds nothing in a life.
LEAST_RUN_LENGTH, MOST_RUN_LENGTH = 10.0, 100_000.0
DEFAULT_RUN_LENGTH = 370.0
DEFAULT_WEIGHT = 0.2
DEFAULT_ALLOWANCE = 0.5


class Chart(StrEnum):
    """The charts a plant may choose from."""

    EWMA = "ewma"
    CUSUM = "cusum"
    INDIVIDUALS = "individuals"


@dataclass(frozen=True)
class Design:
    """A chart of standardised residuals with its numbers, and how many values it sees between false alarms.

    `weight` and `width` are an EWMA's; `k` and `h` a CUSUM's; `width` alone a chart of single values. `found_after` is
    the mean count of values until a lasting shift of 1 sigma gives an alarm.
    """

    chart: Chart
    in_control_run_length: float
    found_after: float
    weight: float = 1.0
    width: float = 0.0
    k: float = 0.0
    h: float = 0.0

    def alarms(self, residuals: Sequence[float]) -> tuple[int, ...]:
        """Return the places, from 0, at which standardised residuals leave their own pattern.

        Parameters
        ----------
        residuals : sequence of float
            With mean 0 and standard deviation 1 while nothing has changed, oldest first. [1]

        Returns
        -------
        tuple of int
            Places. [index]

        Raises
        ------
        Refused
            If a residual is not a number.

        References
        ----------
        .. [1] `shop.drift.charts`.
        """
        if self.chart is Chart.CUSUM:
            return cusum(residuals, 0.0, 1.0, self.k, self.h).alarms
        return ewma(residuals, 0.0, 1.0, self.weight, self.width).alarms


def design_for(in_control_run_length: float = DEFAULT_RUN_LENGTH, chart: str = Chart.EWMA) -> Design:
    """Return the chart that gives one false alarm in so many values.

    The default is an EWMA of weight 0.2: it finds the slow leaving of a pattern that wear is within few readings, and
    minds single odd values and skewed scatter less than a chart of single values does. Its 370 is what a chart of
    single values at 3 sigma has.

    Parameters
    ----------
    in_control_run_length : float
        Mean count of values between false alarms, 10 to 100 000. [readings]
    chart : str
        "ewma", "cusum" or "individuals".

    Returns
    -------
    Design
        Its numbers, and after how many readings a shift of 1 sigma is found. [readings]

    Raises
    ------
    Refused
        If the run length lies outside or the chart is not known.

    References
    ----------
    .. [1] Lucas and Saccucci (1990), Technometrics 32:1-12.
    .. [2] Borror, Montgomery and Runger (1999), Journal of Quality Technology 31:309-316, on skewed values.
    """
    wanted = float(in_control_run_length)
    if not LEAST_RUN_LENGTH <= wanted <= MOST_RUN_LENGTH:
        raise Refused(
            "chart.run_length",
            gettext_noop("A false alarm in every {value} readings is not offered; between {least} and {limit} are."),
            next_step=gettext_noop("Give 370."),
            value=in_control_run_length,
            least=LEAST_RUN_LENGTH,
            limit=MOST_RUN_LENGTH,
        )
    if chart not in set(Chart):
        raise Refused(
            "chart.unknown",
            gettext_noop("The chart “{value}” is not known."),
            next_step=gettext_noop("Say ewma, cusum or individuals."),
            value=chart,
        )
    return _design(wanted, Chart(chart))


@lru_cache(maxsize=64)
def _design(wanted: float, chart: Chart) -> Design:
    # Run lengths grow like the tail of a normal, so their logarithm is what can be solved for.
    def solved(length: Callable[[float], float], most: float) -> float:
        return float(brentq(lambda at: math.log(length(at) / wanted), 0.05, most, xtol=1e-10))

    if chart is Chart.CUSUM:
        h = solved(lambda at: cusum_run_length(DEFAULT_ALLOWANCE, at), 12.0)
        found = cusum_run_length(DEFAULT_ALLOWANCE, h, 1.0)
        return Design(chart, wanted, found, k=DEFAULT_ALLOWANCE, h=h)
    if chart is Chart.INDIVIDUALS:
        width = float(-ndtri(0.5 / wanted))
        return Design(chart, wanted, 1.0 / float(ndtr(1.0 - width) + ndtr(-1.0 - width)), width=width)
    width = solved(lambda at: ewma_run_length(DEFAULT_WEIGHT, at), 6.0)
    return Design(chart, wanted, ewma_run_length(DEFAULT_WEIGHT, width, 1.0), weight=DEFAULT_WEIGHT, width=width)


def ewma_run_length(weight: float, width: float, shift: float = 0.0, *, steady: bool = False) -> float:
    """Return the mean count of values until a two-sided EWMA alarms, by its integral equation.

    Parameters
    ----------
    weight : float
        Of the newest value, above 0 and up to 1. [1]
    width : float
        Of the limits, in standard deviations of the average. [1]
    shift : float
        How far the values lie from the target, from the first on. [sigma]
    steady : bool
        Whether the limits are those of endless values from the first on, as tables have it; else they are exact at
        each value, as `shop.drift.charts.ewma` draws them.

    Returns
    -------
    float
        Average run length; infinite beyond 1e10. [readings]

    Raises
    ------
    Refused
        If weight or width lies outside.

    References
    ----------
    .. [1] Crowder (1987), Technometrics 29:401-407, the integral equation.
    .. [2] Lucas and Saccucci (1990), Technometrics 32:1-12, table 3.
    """
    check_weight(weight)
    check_positive(width)
    if weight < LEAST_WEIGHT:
        raise Refused(
            "chart.weight_too_small",
            gettext_noop("The run length for a weight of {value} is not computed; it is from {limit} up."),
            next_step=gettext_noop("Give 0.2."),
            value=weight,
            limit=LEAST_WEIGHT,
        )
    spread = math.sqrt(weight / (2.0 - weight))
    end = width * spread
    points, parts = _nodes(2.0 * end / weight)

    def kernel(start: Floats, reach: float) -> Floats:
        """Return what an average at each start brings to each point within a reach."""
        away = (reach * points[None, :] - (1.0 - weight) * start[:, None]) / weight - shift
        return np.asarray(parts * reach / weight * _density(away))

    lengths = np.linalg.solve(np.eye(points.size) - kernel(end * points, end), np.ones(points.size))
    if steady or weight == 1:
        return _finite_length(float(1.0 + (kernel(np.zeros(1), end) @ lengths)[0]))
    settled = math.ceil(math.log(_SETTLED) / (2.0 * math.log1p(-weight)))
    reaches = end * np.sqrt(1.0 - np.power(1.0 - weight, 2.0 * np.arange(settled + 1)))
    ahead = end
    for reach in reaches[:0:-1]:
        lengths = 1.0 + kernel(reach * points, ahead) @ lengths
        ahead = float(reach)
    return _finite_length(float(1.0 + (kernel(np.zeros(1), ahead) @ lengths)[0]))


def cusum_run_length(k: float, h: float, shift: float = 0.0, head_start: float = 0.0) -> float:
    """Return the mean count of values until a two-sided CUSUM alarms, by its integral equation.

    Parameters
    ----------
    k, h : float
        Allowance and limit. [sigma]
    shift : float
        How far the values lie from the target, from the first on. [sigma]
    head_start : float
        What both sums begin with. [sigma]

    Returns
    -------
    float
        Average run length; infinite beyond 1e10. [readings]

    Raises
    ------
    Refused
        If k, h or the head start lies outside.

    References
    ----------
    .. [1] Page (1954), Biometrika 41:100-115, the integral equation of one side.
    .. [2] Lucas and Crosier (1982), Technometrics 24:199-205, both sides and the head start.
    """
    check_cusum(k, h, head_start)
    up, up_ahead = _one_side(k - shift, h, head_start)
    down, down_ahead = _one_side(k + shift, h, head_start)
    # On the far side of a large shift a sum runs practically for ever.
    if math.isinf(down):
        return up_ahead
    if math.isinf(up):
        return down_ahead
    return (up_ahead * down + down_ahead * up - up * down) / (up + down)


def _one_side(allowance: float, h: float, head_start: float) -> tuple[float, float]:
    """Return the run length of one sum from nought and from a head start; the sum can rest at nought."""
    points, parts = _nodes(h)
    at = 0.5 * h * (points + 1.0)
    starts = np.concatenate(([0.0], at))

    def row(start: Floats) -> Floats:
        moves = 0.5 * h * parts * _density(at[None, :] + allowance - start[:, None])
        return np.column_stack((ndtr(allowance - start), moves))

    lengths = np.linalg.solve(np.eye(starts.size) - row(starts), np.ones(starts.size))
    ahead = 1.0 + (row(np.array([head_start])) @ lengths)[0]
    return _finite_length(float(lengths[0])), _finite_length(float(ahead))


def run_rules_run_length(rules: Sequence[RunRule], shift: float = 0.0) -> float:
    """Return the mean count of values until one of a set of run rules is broken, by a Markov chain.

    Parameters
    ----------
    rules : sequence of RunRule
        Rules about distances from the centre.
    shift : float
        How far the values lie from the centre, from the first on. [sigma]

    Returns
    -------
    float
        Average run length; infinite beyond 1e10. [readings]

    Raises
    ------
    Refused
        If there is no rule, or a rule compares values with each other: its chain would have no end of states.

    References
    ----------
    .. [1] Champ and Woodall (1987), Technometrics 29:393-399.
    """
    check_rules(rules)
    for rule in rules:
        if rule.look in (Look.TREND, Look.ALTERNATING):
            raise Refused(
                "chart.no_chain",
                gettext_noop("The run length of “{value}” is not computed: it compares values with each other."),
                next_step=gettext_noop("Ask for rules about distances from the centre."),
                value=rule.code,
            )
    zones, chances = _zones(rules, shift)
    watched = [(rule, met) for rule in rules for met in _met(rule, zones)]
    state: tuple[int, ...] = (0,) * len(watched)
    numbers, queue = {state: 0}, [state]
    rows, columns, entries = [], [], []
    for now in queue:
        for zone, chance in enumerate(chances):
            then = _next(now, watched, zone)
            if then is None:
                continue
            if then not in numbers:
                numbers[then] = len(numbers)
                queue.append(then)
            rows.append(numbers[now])
            columns.append(numbers[then])
            entries.append(chance)
    size = len(numbers)
    chain = csr_matrix((entries, (rows, columns)), shape=(size, size))
    return float(spsolve((identity(size) - chain).tocsc(), np.ones(size))[0])


def _zones(rules: Sequence[RunRule], shift: float) -> tuple[list[tuple[float, float]], list[float]]:
    """Return the zones between all distances of the rules, and the chance that a value falls in each."""
    cuts = sorted({sign * rule.sigmas for rule in rules for sign in (-1.0, 1.0)} | {0.0})
    edges = [-math.inf, *cuts, math.inf]
    zones = list(itertools.pairwise(edges))
    return zones, [float(ndtr(upper - shift) - ndtr(lower - shift)) for lower, upper in zones]


def _met(rule: RunRule, zones: Sequence[tuple[float, float]]) -> list[list[bool]]:
    """Return, for each side a rule looks at, which zones meet it."""
    above = [lower >= rule.sigmas for lower, _ in zones]
    below = [upper <= -rule.sigmas for _, upper in zones]
    if rule.look is Look.ONE_SIDE:
        return [above, below]
    beyond = [high or low for high, low in zip(above, below, strict=True)]
    return [beyond if rule.look is Look.EITHER_SIDE else [not each for each in beyond]]


def _next(now: tuple[int, ...], watched: Sequence[tuple[RunRule, list[bool]]], zone: int) -> tuple[int, ...] | None:
    """Return what each rule remembers after a value, as bits with the newest lowest; None where one is broken."""
    then = []
    for memory, (rule, met) in zip(now, watched, strict=True):
        bits = memory << 1 | met[zone]
        if bits.bit_count() >= rule.needed:
            return None
        if rule.needed == rule.out_of and not met[zone]:
            bits = 0  # a row that is broken is forgotten whole
        then.append(bits & ((1 << (rule.out_of - 1)) - 1))
    return tuple(then)


def _nodes(sigmas: float) -> tuple[Floats, Floats]:
    return _gauss(max(_NODES, math.ceil(_NODES_PER_SIGMA * sigmas)))


@lru_cache(maxsize=8)
def _gauss(count: int) -> tuple[Floats, Floats]:
    points, parts = np.polynomial.legendre.leggauss(count)
    return np.asarray(points, dtype=np.float64), np.asarray(parts, dtype=np.float64)


def _finite_length(length: float) -> float:
    return length if 1.0 <= length < _ENDLESS else math.inf


def _density(z: Floats) -> Floats:
    return np.asarray(np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi), dtype=np.float64)
