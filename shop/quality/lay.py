"""Which readings decide where a surface was measured along its lay and across it."""

from __future__ import annotations

from collections.abc import Sequence

from shop.quality.models import Reading
from shop.tooling.models import Parameter

ROUGHNESS = frozenset({Parameter.RA.value, Parameter.RQ.value, Parameter.RZ.value})


def deciding(readings: Sequence[Reading]) -> list[Reading]:
    """Return the readings of one limit at one spot that are held against it.

    Roughness is stated in the direction of its largest values, across the lay (ISO 4288:1996, ISO 21920-3:2021): where
    some were read across, those read along stand beside them and decide nothing. Gloss is judged as one.
    """
    across = [reading for reading in readings if reading.direction != Reading.Direction.ALONG]
    if across and readings[0].parameter in ROUGHNESS:
        return across
    return list(readings)
