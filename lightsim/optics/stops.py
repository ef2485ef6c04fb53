"""Stops: a stop is a factor of two in light."""

from __future__ import annotations

from math import log2


def stops(ratio: float) -> float:
    """A ratio of light in stops."""
    return log2(ratio)


def metered_ratio_stops(ratio: float) -> float:
    """Stops between the two metered sides of a lighting ratio (key + fill) : fill."""
    return log2(ratio)
