"""The shadow that a drop casts on the petal, from the known visibility of the key, and the light it gathers.

Direction: from the drop's centre to the centroid of the dark petal attached to its disc. Length: along that
direction, from the rim to where half of the light is back: half of the share of the key's face that the petal
sees beside the shadow. Both as they look in the picture.
The caustic is the brightest place inside the drop or in its shadow. The key's mirror image is left out. Where
a picture without the key is given, only the key's own light counts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.clock import clock_of, direction_of, hours_between
from lightsim.measures.highlight_patch import (
    CENTRED,
    MIDDLE,
    NO_PETAL,
    NO_SCALE,
    Found,
    Patch,
    padded_bounds,
    sort_out,
)
from lightsim.measures.window import View
from lightsim.optics.exposure_values import stops

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

NOT_KNOWN = "the key’s visibility is not known"
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


CAUSTIC_KEYS = ("caustic_stops_above_petal", "caustic_place_share", "caustic_clock")
LEAST_STOPS = 0.25  # less than this is the petal itself seen through the water
SMOOTHED = 0.05  # of the radius: a single bright pixel is no caustic
LEAST_SIGMA_PX = 0.7
MIRRORED = 0.01  # of the mirror image's brightest pixel: the highlight's own pixels
ATTACHED = 1.4  # radii: light gathered farther out than this must begin nearer
SHADED = 0.5  # share of the key's face seen, of what is seen beside the drop

HIDDEN = "the highlight covers the drop"
NOTHING = "no caustic brighter than the petal and the rest of the drop"


def measure_caustic(seen: View, patch: Patch | None) -> Found:
    """Place and brightness of the caustic, and the reasons for what cannot be had."""
    petal = seen.petal
    if petal is None:
        return {}, dict.fromkeys(CAUSTIC_KEYS, NO_PETAL)
    region = _searched(seen, petal) & ~_mirrored(seen, patch)
    if not region.any():
        return {}, dict.fromkeys(CAUSTIC_KEYS, HIDDEN)
    where = padded_bounds(region)
    smooth, level = _brightest(seen, where, region[where], petal)
    ground = _ground(seen, petal)
    if level <= 0.0 or stops(level / ground) < LEAST_STOPS:
        return {}, dict.fromkeys(CAUSTIC_KEYS, NOTHING)
    peak = float(smooth.max())
    of_other_lights = level - peak
    half = 0.5 * (peak + max(ground - of_other_lights, 0.0))
    centre = _centre(smooth, half, seen.right[:, where[1]], seen.down[where[0]])
    return _found(stops(level / petal), *centre, seen.radius_px)


def _brightest(
    seen: View, where: tuple[slice, slice], region: NDArray, petal: float
) -> tuple[NDArray, float]:
    """The light to search, smoothed (the key's own where it is known), and all light's level there."""
    sigma = max(SMOOTHED * seen.radius_px, LEAST_SIGMA_PX)
    smooth = _smoothed(seen.light[where], region, petal, sigma)
    if seen.key is None:
        return smooth, float(smooth.max())
    key = seen.key[where]
    of_key = _smoothed(key, region, float(np.median(key[region])), sigma)
    return of_key, float(smooth.flat[int(np.argmax(of_key))])


def _ground(seen: View, petal: float) -> float:
    """What a caustic stands out from: the petal, or the drop's own level where that is higher."""
    inside = seen.light[(seen.share <= 1.0) if seen.own is None else seen.own]
    return max(petal, float(np.median(inside))) if len(inside) else petal


def _found(above: float, right: float, down: float, radius_px: float) -> Found:
    place = float(np.hypot(right, down)) / radius_px
    clock = clock_of(right, down) if place >= MIDDLE else None
    return sort_out(
        {
            "caustic_stops_above_petal": (above, ""),
            "caustic_place_share": (place, ""),
            "caustic_clock": (clock, CENTRED),
        }
    )


def _searched(seen: View, petal: float) -> NDArray:
    """The disc, and where the key's visibility is known petal near it in shadow or a stop brighter.

    Only petal that all but hangs together with the disc, on the side away from the light where that is known:
    the rest belongs to other drops.
    """
    from scipy.ndimage import label

    inside = seen.share <= 1.0
    if seen.own is not None:
        inside &= seen.own
    if seen.lit is None or seen.bare is None:
        return inside
    level = 1.0 if seen.open_share is None else seen.open_share
    beside = (seen.lit < SHADED * level) | (seen.light > 2.0 * petal)
    beside &= seen.bare
    if seen.away is not None:
        beside &= seen.away
    parts, _ = label((seen.share <= ATTACHED) | beside)
    middle = parts[np.unravel_index(int(np.argmin(seen.share)), parts.shape)]
    return inside | (beside & (parts == middle))


def _mirrored(seen: View, patch: Patch | None) -> NDArray:
    """Pixels that belong to the highlight."""
    from scipy.ndimage import binary_dilation

    if seen.glint is not None:
        return seen.glint > MIRRORED * max(float(seen.glint.max()), 1e-30)
    mirrored = np.zeros(seen.light.shape, bool)
    if patch is not None:
        mirrored[patch.where] = binary_dilation(patch.core, iterations=2)
    return mirrored


def _smoothed(light: NDArray, region: NDArray, level: float, sigma: float) -> NDArray:
    """Gaussian mean, `level` standing in for what lies outside the region; zero there."""
    from scipy.ndimage import gaussian_filter

    filled = np.where(region, light, np.float32(level)).astype(np.float32, copy=False)
    smooth = gaussian_filter(filled, sigma, mode="nearest", truncate=3.0)
    return np.where(region, smooth, np.float32(0.0))


def _centre(smooth: NDArray, level: float, right: NDArray, down: NDArray) -> tuple[float, float]:
    """Pixels right and down of the drop's centre: middle of the brightest patch above `level`."""
    from scipy.ndimage import label

    parts, _ = label(smooth >= level)
    weight = np.where(parts == parts.flat[int(np.argmax(smooth))], smooth, 0.0)
    total = weight.sum()
    return float((weight * right).sum() / total), float((weight * down).sum() / total)
