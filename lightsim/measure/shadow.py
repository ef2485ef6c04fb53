"""The shadow that a drop casts on the petal, from the known visibility of the key.

Direction: from the drop's centre to the centroid of the dark petal attached to its disc. Length: along that
direction, from the rim to where half of the key's face is seen again. Both as they look in the picture.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.measure.clock import clock_of, direction_of, hours_between
from lightsim.measure.drops import View
from lightsim.measure.highlight import NO_SCALE, Found
from lightsim.picture import Photograph

KEYS = ("shadow_clock", "shadow_length_mm")
NEAR = 1.6  # radii: the direction is taken from the shadow's part within
DARK = 0.5  # share of the key's face seen
STRIP = 0.25  # half the width, in radii, of the strip along which the length is walked
LEAST_PX = 4  # dark pixels beside the disc that make a shadow
MOST_DARK = 0.7  # of the ring: more means that the drop itself stands in shade
STEP_PX = 0.5
LINES = 5
SHORT = 5.0  # radii looked at first; most shadows end within

NOT_KNOWN = "the key's visibility is not known"
NO_RING = "no bare petal beside the drop"
NO_SHADOW = "no shadow beside the drop"
IN_SHADE = "the drop stands in shade"
RUNS_INTO = "the shadow runs into another drop or off the petal"
RUNS_OUT = "the shadow runs out of the frame"


def measure_shadow(
    seen: View, photo: Photograph, centre_px: tuple[float, float], light_clock: float | None
) -> Found:
    """Direction and length of a drop's shadow, and the reasons for what cannot be had."""
    if photo.lit is None or seen.lit is None or seen.bare is None:
        return {}, dict.fromkeys(KEYS, NOT_KNOWN)
    ring = seen.bare & np.isfinite(seen.lit) & (seen.share < NEAR)
    dark = ring & (seen.lit < DARK)
    reason = _no_shadow(ring, dark)
    if reason is not None:
        return {}, dict.fromkeys(KEYS, reason)
    clock = _direction(dark, seen.lit, seen, light_clock)
    if clock is None:
        return {}, dict.fromkeys(KEYS, NO_SHADOW)
    length = _length(photo.lit, centre_px, seen.radius_px, clock)
    if not np.isfinite(photo.mm_per_px):
        length = NO_SCALE
    if isinstance(length, str):
        return {"shadow_clock": clock}, {"shadow_length_mm": length}
    return {"shadow_clock": clock, "shadow_length_mm": length * photo.mm_per_px}, {}


def _no_shadow(ring: NDArray, dark: NDArray) -> str | None:
    around, shaded = np.count_nonzero(ring), np.count_nonzero(dark)
    if around < 3 * LEAST_PX:
        return NO_RING
    if shaded < LEAST_PX:
        return NO_SHADOW
    return IN_SHADE if shaded > MOST_DARK * around else None


def _direction(dark: NDArray, lit: NDArray, seen: View, light_clock: float | None) -> float | None:
    """Clock position of the shadow attached to the disc: the largest, or the one opposite to the light."""
    from scipy.ndimage import label

    parts, _ = label(dark, np.ones((3, 3), int))
    rows, columns = np.nonzero(dark)
    part, shade = parts[rows, columns], 1.0 - lit[rows, columns]
    right = np.bincount(part, shade * seen.right[0, columns])
    down = np.bincount(part, shade * seen.down[rows, 0])
    size, touching = np.bincount(part), np.bincount(part[seen.share[rows, columns] < 1 + 2 / seen.radius_px])
    attached = [k for k in np.flatnonzero(touching) if size[k] >= LEAST_PX]
    if not attached:
        return None
    clocks = {k: clock_of(float(right[k]), float(down[k])) for k in attached}
    if light_clock is None:
        return clocks[max(attached, key=lambda k: size[k])]
    return min(clocks.values(), key=lambda clock: abs(hours_between(light_clock + 6.0, clock)))


def _length(lit: NDArray, centre_px: tuple[float, float], radius_px: float, clock: float) -> float | str:
    """Pixels from the rim to where half of the key's face is seen again, or why there is no such place."""
    farthest = float(np.hypot(*lit.shape))
    for reach in (min(SHORT * radius_px, farthest), farthest):
        along = np.arange(radius_px, radius_px + reach, STEP_PX)
        end = _end(along, *_strip(lit, centre_px, radius_px, clock, along))
        if end is not None:
            return end if isinstance(end, str) else max(0.0, end - radius_px)
    return RUNS_OUT


def _end(along: NDArray, profile: NDArray, within: NDArray) -> float | str | None:
    """Distance from the centre at which the light comes back, or why not; None: further out than looked."""
    known = np.isfinite(profile)
    start = int(np.argmax(known))
    events = ~within[start:] | ~known[start:] | (profile[start:] >= DARK)
    if not events.any():
        return None
    k = start + int(np.argmax(events))
    if not within[k]:
        return RUNS_OUT
    return _crossing(along, profile, k) if known[k] else RUNS_INTO


def _crossing(along: NDArray, profile: NDArray, k: int) -> float:
    """Where the profile reaches DARK between the places k - 1 and k."""
    if k == 0 or not profile[k - 1] < DARK:
        return float(along[k])
    rise = (DARK - profile[k - 1]) / (profile[k] - profile[k - 1])
    return float(along[k - 1] + rise * (along[k] - along[k - 1]))


def _strip(
    lit: NDArray, centre_px: tuple[float, float], radius_px: float, clock: float, along: NDArray
) -> tuple[NDArray, NDArray]:
    """Visibility along a strip outward from a drop.

    Means over the strip's width (NaN where bare petal is lacking), and whether its middle is in the frame.
    """
    height, width = lit.shape
    right, down = direction_of(clock)
    across = np.linspace(-STRIP, STRIP, LINES)[:, None] * radius_px
    column = np.floor(centre_px[0] + along * right - across * down).astype(int)
    row = np.floor(centre_px[1] + along * down + across * right).astype(int)
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    values = np.where(inside, lit[row.clip(0, height - 1), column.clip(0, width - 1)], np.nan)
    known = np.isfinite(values)
    count = known.sum(axis=0)
    profile = np.where(known, values, 0.0).sum(axis=0) / np.maximum(count, 1)
    return np.where(2 * count > LINES, profile, np.nan), inside[LINES // 2]
