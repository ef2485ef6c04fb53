"""The light that a drop gathers: the brightest place inside the drop or in its shadow.

The key's mirror image is left out. Where a picture without the key is given, only the key's own light counts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.clock import clock_of
from lightsim.measures.highlight_patch import CENTRED, MIDDLE, NO_PETAL, Found, Patch, padded_bounds, sort_out
from lightsim.measures.window import View
from lightsim.optics.exposure_values import stops

KEYS = ("caustic_stops_above_petal", "caustic_place_share", "caustic_clock")
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
        return {}, dict.fromkeys(KEYS, NO_PETAL)
    region = _searched(seen, petal) & ~_mirrored(seen, patch)
    if not region.any():
        return {}, dict.fromkeys(KEYS, HIDDEN)
    where = padded_bounds(region)
    smooth, level = _brightest(seen, where, region[where], petal)
    ground = _ground(seen, petal)
    if level <= 0.0 or stops(level / ground) < LEAST_STOPS:
        return {}, dict.fromkeys(KEYS, NOTHING)
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
