"""Two photographs' measures against each other."""

from __future__ import annotations

from math import log2

from lightsim.measures.clock import hours_between
from lightsim.measures.glossary import FRAME
from lightsim.measures.measure_records import FrameMeasures

IN_STOPS = ("ratio", "mm")
COUNTED = ("count", "index")


def compare_measures(first: FrameMeasures, second: FrameMeasures) -> dict[str, tuple[float, str]]:
    """What changed from the first to the second: measure -> (difference, unit), for numbers that both have.

    Ratios, lengths, the petal's level and its texture change by a factor, given in stops (+1: twice as much);
    stops and shares by a plain difference; clock positions by hours the shorter way round, + clockwise. No
    spreads.
    """
    changed = {}
    for key, (unit, _) in FRAME.items():
        a, b = getattr(first, key), getattr(second, key)
        if a is None or b is None or unit in COUNTED or key.endswith("_spread"):
            continue
        difference = _difference(float(a), float(b), unit, key)
        if difference is not None:
            changed[key] = difference
    return changed


def _difference(a: float, b: float, unit: str, key: str) -> tuple[float, str] | None:
    if unit == "clock":
        return hours_between(a, b), "hours"
    if unit in IN_STOPS or key == "petal_linear" or key.endswith("_rms"):
        return (log2(b / a), "stops") if a > 0.0 and b > 0.0 else None
    return b - a, unit
