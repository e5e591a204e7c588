"""What could be told of a face after each reading is what its forecast would have said then."""

from __future__ import annotations

import pytest

from shop.watch.forecast import outlook
from shop.watch.hindsight import chances_after
from shop.watch.models import Pool
from tests.watch.test_forecast import fitted, group

RISING = [2.0, 2.2, 2.35, 2.6, 2.75, 2.95]
AHEAD = (0.0, 3_000.0, 20_000.0, 150_000.0)
SHARED = [[0.01, 0.0], [0.0, 1e-12]]


@pytest.mark.parametrize("severity", [1.0, 1.8])
@pytest.mark.parametrize("shared", [None, SHARED])
@pytest.mark.parametrize("lower", [None, 1.9])
@pytest.mark.parametrize("pool", [None, group(), group(side="lower")])
def test_chance_after_a_reading_is_what_the_forecast_said_then(
    pool: Pool | None, lower: float | None, shared: list[list[float]] | None, severity: float
) -> None:
    trend = fitted(RISING, lower=lower, upper=4.0, pool=pool, severity=severity)
    trend.pool, trend.shared = pool, shared
    counts = range(1, len(RISING) + 1)
    told = chances_after(trend, counts)
    seen = 0
    for count, chance in zip(counts, told, strict=True):
        then = fitted(RISING[:count], lower=lower, upper=4.0, pool=pool, severity=severity)
        then.pool, then.shared = pool, shared
        said = outlook(then)
        assert (chance is None) == (said is None)
        if chance is not None and said is not None:
            assert [chance(one) for one in AHEAD] == pytest.approx([said.chance_by(one) for one in AHEAD], abs=1e-12)
            seen += 1
    assert seen >= (2 if pool is None or pool.side == "lower" else len(RISING))


def test_readings_that_came_later_do_not_tell() -> None:
    trend, other = (fitted(values, lower=None, upper=4.0, pool=group()) for values in (RISING, RISING[:4] + [2.6] * 2))
    then, also = (chances_after(one, [4])[0] for one in (trend, other))
    assert then is not None
    assert also is not None
    assert then(20_000.0) == also(20_000.0)


def test_nothing_is_told_without_a_limit_or_of_one_reading_without_a_group() -> None:
    assert chances_after(fitted(RISING, lower=None, upper=None), [6]) == [None]
    assert chances_after(fitted(RISING[:1], lower=None, upper=4.0), [1]) == [None]
