"""The shadow that a drop casts on the petal, from the known visibility of the key.

Direction: from the drop's centre to the centroid of the dark petal attached to its disc. Length: along that
direction, from the rim to where half of the light is back: half of the share of the key's face that the petal
sees beside the shadow. Both as they look in the picture.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.clock import clock_of, direction_of, hours_between
from lightsim.measures.highlight_patch import NO_SCALE, Found
from lightsim.measures.window import View

KEYS = ("shadow_clock", "shadow_length_mm")
NEAR = 1.6  # radii: the direction is taken from the shadow's part within
DARK = 0.5  # share of the key's face seen, of what is seen beside the shadow
SHADE = 0.1  # beside the drop: less and the petal hides the key
STRIP = 0.25  # half the width, in radii, of the strip along which the length is walked
LEAST_PX = 4  # dark pixels beside the disc that make a shadow
LEAST_BARE = 0.75  # of the ring, or of its part away from the light
STEP_PX = 0.5
LINES = 5
SHORT = 5.0  # radii looked at first; most shadows end within

NOT_KNOWN = "the key's visibility is not known"
NO_RING = "no bare petal where the shadow would fall"
NO_SHADOW = "no shadow beside the drop"
IN_SHADE = "the drop stands in shade"
APART = "no shadow along the line that runs from the drop through its shadow's middle"
RUNS_INTO = "the shadow runs into another drop or off the petal"
RUNS_OUT = "the shadow runs out of the frame"


def measure_shadow(seen: View) -> Found:
    """Direction and length of a drop's shadow, and the reasons for what cannot be had."""
    clock = _clock(seen)
    if isinstance(clock, str):
        return {}, dict.fromkeys(KEYS, clock)
    length, scale = _length(seen, clock), seen.frame.mm_per_px
    if isinstance(length, str) or scale is None:
        return {"shadow_clock": clock}, {"shadow_length_mm": length if isinstance(length, str) else NO_SCALE}
    return {"shadow_clock": clock, "shadow_length_mm": length * scale}, {}


def _clock(seen: View) -> float | str:
    """Clock position toward which the shadow falls, or why there is none."""
    if seen.lit is None or seen.bare is None:
        return NOT_KNOWN
    if seen.open_share is None:
        return NO_RING
    if seen.open_share < SHADE:
        return IN_SHADE
    ring = (seen.share > 1.0) & (seen.share < NEAR)
    if seen.away is not None:
        ring &= seen.away
    bare = ring & seen.bare & np.isfinite(seen.lit)
    if np.count_nonzero(bare) < LEAST_BARE * np.count_nonzero(ring):
        return NO_RING
    dark = bare & (seen.lit < DARK * seen.open_share)
    clock = _direction(dark, seen.lit / seen.open_share, seen)
    return NO_SHADOW if clock is None else clock


def _direction(dark: NDArray, lit: NDArray, seen: View) -> float | None:
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
    if seen.frame.light_clock is None:
        return clocks[max(attached, key=lambda k: size[k])]
    opposite = seen.frame.light_clock + 6.0
    return min(clocks.values(), key=lambda clock: abs(hours_between(opposite, clock)))


def _length(seen: View, clock: float) -> float | str:
    """Pixels from the rim to where half of the light is back, or why there is no such place."""
    lit, level = seen.frame.photo.lit, seen.open_share
    if lit is None or level is None:
        return NOT_KNOWN
    farthest = float(np.hypot(*lit.shape))
    for reach in (min(SHORT * seen.radius_px, farthest), farthest):
        along = np.arange(seen.radius_px, seen.radius_px + reach, STEP_PX)
        profile, within = _strip(lit, seen.centre_px, seen.radius_px, clock, along)
        end = _end(along, profile / level, within, NEAR * seen.radius_px)
        if end is not None:
            return end if isinstance(end, str) else end - seen.radius_px
    return RUNS_OUT


def _end(along: NDArray, profile: NDArray, within: NDArray, near: float) -> float | str | None:
    """Distance from the centre at which the light comes back, or why not; None: further out than looked.

    The walk begins at the first dark place out to `near`: a rim that overhangs may stand before a lit strip.
    """
    known = np.isfinite(profile)
    dark = known & (profile < DARK) & (along <= near)
    if not dark.any():
        return APART
    start = int(np.argmax(dark))
    events = ~within[start:] | ~known[start:] | (profile[start:] >= DARK)
    if not events.any():
        return None
    k = start + int(np.argmax(events))
    if not within[k]:
        return RUNS_OUT
    return _crossing(along, profile, k) if known[k] else RUNS_INTO


def _crossing(along: NDArray, profile: NDArray, k: int) -> float:
    """Where the profile reaches DARK between the places k - 1 and k."""
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
