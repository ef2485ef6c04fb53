"""Directions in the picture as clock positions: 12 up, 3 right, 6 down, 9 left; 0 < clock <= 12."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

HOURS = 12.0


def clock_of(right: float, down: float) -> float:
    """Clock position of a direction given by columns to the right and rows down."""
    return wrapped(np.arctan2(right, -down) * HOURS / (2.0 * np.pi))


def wrapped(clock: float) -> float:
    """The same clock position brought into 0 < clock <= 12."""
    hour = float(clock) % HOURS
    return hour if hour > 0.0 else HOURS


def direction_of(clock: float) -> tuple[float, float]:
    """Unit vector (columns to the right, rows down) of a clock position."""
    angle = clock * 2.0 * np.pi / HOURS
    return float(np.sin(angle)), float(-np.cos(angle))


def hours_between(first: float, second: float) -> float:
    """The shorter way round from `first` to `second` in hours, -6 <= hours < 6, + clockwise."""
    return (second - first + HOURS / 2) % HOURS - HOURS / 2


def circular_median(clocks: Sequence[float]) -> float:
    """The clock position among `clocks` with the least summed distance round the dial to all others.

    N. I. Fisher, Statistical Analysis of Circular Data (1993), section 2.3.2 (the definition, from memory);
    for an even number the middle of the two that tie nearest to each other.
    """
    hours = np.asarray(clocks, dtype=float)
    summed = np.abs(_apart(hours[:, None], hours[None, :])).sum(axis=1)
    best = hours[np.isclose(summed, summed.min(), rtol=0.0, atol=1e-9)]
    return wrapped(best[0] + np.median(_apart(best[0], best)))


def circular_deviations(clocks: Sequence[float], middle: float) -> np.ndarray:
    """Hours from `middle` to each clock position, the shorter way round."""
    return _apart(middle, np.asarray(clocks, dtype=float))


def _apart(first: np.ndarray | float, second: np.ndarray) -> np.ndarray:
    return (second - first + HOURS / 2) % HOURS - HOURS / 2
