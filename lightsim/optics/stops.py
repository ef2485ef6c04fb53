"""Stops: a stop is a factor of two in light."""

from __future__ import annotations

from math import log2


def stops(ratio: float) -> float:
    """A ratio of light in stops."""
    return log2(ratio)


def light_ratio(stops: float) -> float:
    """Stops as a ratio of light."""
    return 2.0**stops


def f_number_stops(from_f_number: float, to_f_number: float) -> float:
    """Light lost by stopping down, in stops: 2 log2(N2 / N1). Give exact f-numbers, not marks (f/8 to
    f/22 is 3)."""
    return 2 * log2(to_f_number / from_f_number)


def stopped_f_number(f_number: float, stops: float) -> float:
    """The f-number that many stops further down."""
    return f_number * 2.0 ** (stops / 2)


def ratio_text(stops: float) -> str:
    """A difference of light as a photographer says it: both the ratio and the stops, "4.0:1 (2.0 stops)"."""
    return f"{2.0 ** abs(stops):.3g}:1 ({abs(stops):.1f} stops)"


def metered_ratio_stops(ratio: float) -> float:
    """Stops between the two metered sides of a lighting ratio (key + fill) : fill."""
    return log2(ratio)


def lamp_stops(ratio: float) -> float:
    """Stops from fill to key alone for a lighting ratio (key + fill) : fill, over 1: log2(ratio - 1)."""
    return log2(ratio - 1)
