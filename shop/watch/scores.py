"""How far each reading of a trend is from what those before it foresee, in normal scores."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shop.drift.residuals import one_step_ahead
from shop.tooling.models import Parameter
from shop.watch.forecast import reached_at, share_of
from shop.watch.models import Trend
from shop.watch.path import points_of

# What the group or the gauge says of the scatter counts as so many readings' word.
KNOWN_DF = 10.0
# A grade is a whole number: rounding alone scatters by the twelfth root of its step.
GRADE_SD = 12.0**-0.5


def scores_of(trend: Trend) -> NDArray[np.float64]:
    """Return the scores; readings that were all alike so far make no small change a far one."""
    points = points_of(trend)
    values = points["value"] - points["step"]
    return one_step_ahead(points["wear"].tolist(), values.tolist(), scatter_of(trend), KNOWN_DF)


def scatter_of(trend: Trend) -> float:
    """Return how a single reading is known to scatter: by the group, else by the gauge or by the step of a grade."""
    least = GRADE_SD if Parameter(trend.parameter).by_eye else trend.last_uncertainty
    if trend.pool is None or not trend.pool.courses:
        return least
    lower, upper = reached_at(trend)
    limit = upper if trend.pool.side == "upper" else lower
    known = max(trend.pool.courses, key=lambda one: float(one["belief"]))["hyper"]["residual_sd"]
    return max(least, float(known) * share_of(limit or 0.0))
