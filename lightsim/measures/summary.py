"""Over all drops of a photograph: medians, spreads, and why a median is empty."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields

import numpy as np

from lightsim.measures.clock import circular_deviations, circular_median
from lightsim.measures.drop_choice import CUT, DROP_IS, OUTSIDE
from lightsim.measures.highlight_patch import Found
from lightsim.measures.measure_records import DropMeasures, FrameMeasures

NAMES = tuple(field.name for field in fields(FrameMeasures))
WITH_MEDIAN = tuple(name.removesuffix("_median") for name in NAMES if name.endswith("_median"))
NOT_KNOWN = "no drops in the picture are known"
OUT_OF_DEPTH = f"{DROP_IS}outside the depth of field"
NONE_THERE = "no drops in the picture"


def spread_of(values: np.ndarray) -> float:
    """Half the distance between the 16th and the 84th percentile: one standard deviation of a bell curve."""
    low, high = np.percentile(values, (16.0, 84.0))
    return float(high - low) / 2.0


def middle_and_spread(key: str, values: Sequence[float]) -> tuple[float, float]:
    """Median and spread, round the dial for clock positions."""
    if key.endswith("_clock"):
        middle = circular_median(values)
        return middle, spread_of(circular_deviations(values, middle))
    numbers = np.asarray(values, dtype=float)
    return float(np.median(numbers)), spread_of(numbers)


def summarise_drops(drops: Sequence[DropMeasures], no_drops: str) -> Found:
    """Medians and spreads under the names of FrameMeasures, and the reasons for the empty ones.

    no_drops : the reason when there are none.
    """
    values: dict[str, float] = {}
    missing: dict[str, str] = {}
    for key in WITH_MEDIAN:
        names = [name for name in (f"{key}_median", f"{key}_spread") if name in NAMES]
        numbers = [
            value for drop in drops if (value := getattr(drop, key)) is not None and not _left_out(key, drop)
        ]
        if numbers:
            values |= dict(zip(names, middle_and_spread(key, numbers), strict=False))
        else:
            missing |= dict.fromkeys(names, why_empty(key, drops) if drops else no_drops)
    return values, missing


def _left_out(key: str, drop: DropMeasures) -> bool:
    """Whether a number is that of a highlight outside the depth of field, which is drawn larger and fainter
    than it is."""
    return key.startswith("highlight_") and getattr(drop, key) is not None and not drop.in_depth_of_field


def why_empty(key: str, drops: Sequence[DropMeasures]) -> str:
    """The drops' reasons with their counts, the most telling first.

    First what stood in the way where a drop could be looked at, then why others could not, those that the
    frame leaves out last; among equals the most frequent first.
    """
    found = [(drop, OUT_OF_DEPTH if _left_out(key, drop) else drop.missing[key]) for drop in drops]
    counts = Counter((_rank(drop, why), why) for drop, why in found)
    if len(counts) == 1:
        ((_, why), _) = counts.popitem()
        return f"all {len(drops)} drops: {why}" if len(drops) > 1 else why
    ordered = sorted(counts.items(), key=lambda item: (item[0][0], -item[1]))
    return "; ".join(_counted(n, why) for (_, why), n in ordered)


def _rank(drop: DropMeasures, why: str) -> int:
    """0 for a drop that was looked at, 1 for one that could not be, 2 for one beyond the frame."""
    if drop.measurable:
        return 0
    return 2 if why in (OUTSIDE, CUT) else 1


def _counted(count: int, why: str) -> str:
    """ "3 drops out of focus", "1 drop: no shadow beside the drop"."""
    drops = "drop" if count == 1 else "drops"
    short = why.removeprefix(DROP_IS)
    return f"{count} {drops}: {why}" if short == why else f"{count} {drops} {short}"
