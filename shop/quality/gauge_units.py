"""In what a gauge reads."""

from __future__ import annotations

from shop.quality.models import Gauge


def unit_of_gauge(kind: str) -> str:
    """Return the unit that the figures of a gauge of this kind are kept in."""
    return "GU" if kind == Gauge.Kind.GLOSS else "um"
