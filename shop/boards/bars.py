"""The finish bar of a trend, as every list of faces shows it."""

from __future__ import annotations

from decimal import Decimal
from statistics import NormalDist

from shop.people import wording
from shop.picture.finish_bar import Bar
from shop.quality.models import Verdict
from shop.tooling.models import Acceptance, Parameter
from shop.units import Quantity
from shop.watch.models import Trend


def quantity(value: float | Decimal, unit: str) -> Quantity:
    """Return a float of the core as a quantity that can be worded."""
    return Quantity(value if isinstance(value, Decimal) else Decimal(str(round(value, 6))), unit)


def guard_of(standard_uncertainty: float, required: float) -> float:
    """Return the width of the guard zone at one limit, for the conformance the plant requires."""
    return NormalDist().inv_cdf(required) * standard_uncertainty if standard_uncertainty > 0 else 0.0


def bar_of(trend: Trend, shots: int, required: float) -> Bar:
    """Return the finish bar of a trend: its last level, and the drift over so many shots."""
    return Bar(
        lower=trend.lower,
        upper=trend.upper,
        guard=guard_of(trend.last_uncertainty, required),
        value=trend.last_value,
        uncertainty=trend.last_uncertainty,
        drift=None if trend.rate is None else trend.rate * shots,
        unit=trend.unit,
        text=f"{Parameter(trend.parameter).label} {wording.show(quantity(trend.last_value, trend.unit))}",
    )


def bar_of_verdict(verdict: Verdict) -> Bar:
    """Return the finish bar of a verdict: the value as judged, within the limits as they held."""
    uncertainty = float(verdict.standard_uncertainty)
    guarded = verdict.acceptance == Acceptance.GUARDED
    value = float(verdict.statistic)
    return Bar(
        lower=None if verdict.lower is None else float(verdict.lower),
        upper=None if verdict.upper is None else float(verdict.upper),
        guard=guard_of(uncertainty, float(verdict.required)) if guarded else 0.0,
        value=value,
        uncertainty=uncertainty,
        drift=None,
        unit=verdict.limit.unit,
        text=f"{Parameter(verdict.parameter).label} {wording.show(quantity(value, verdict.limit.unit))}",
    )
