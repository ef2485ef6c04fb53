"""Each drop's highlight: the image of the key in the drop's outer surface.

In a simulated photograph the key's mirror image is known (`glint`). A sphere mirrors the key at the incidence
asin(place), so dividing by Fresnel's reflectance there leaves the share of each pixel that the image fills.
In a real photograph the brightest patch of the disc is taken, between the disc's own level and its peak.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.clock import clock_of, direction_of
from lightsim.measures.measure_records import DropMeasures
from lightsim.measures.patch_shape import Shape, full_level, measure_patch
from lightsim.measures.window import View
from lightsim.optics.exposure_values import stops

Found = tuple[dict[str, float], dict[str, str]]

KEYS = tuple(
    field.name
    for field in fields(DropMeasures)
    if field.name.startswith("highlight_") and field.default is None
)
KNOWN_CORE = 0.10  # of the brightest pixel: the patch's core where the mirror image is known
SEEN_CORE = 0.25  # the same where it is found by brightness alone
LEAST_STOPS = 1.0  # a patch less bright than this above its disc is no highlight (real photographs)
TOWARD = 0.2  # of the radius: so far beyond the middle, away from the light, a highlight may still lie
MIDDLE = 0.02  # share of the radius below which a direction means nothing
LIMB = 0.999
MARGIN = 3  # pixels round a patch

NO_IMAGE = "no image of the key in this drop"
NO_PATCH = "no spot a stop brighter than the drop"
NARROW = "the highlight is narrower than a pixel"
SMALL = "the highlight is narrower than 5 pixels or blurred all over"
ROUND = "the highlight is round"
CENTRED = "the highlight is in the middle of the drop"
NO_PETAL = "no bare petal beside the drop, or a black one"
NO_SCALE = "the picture's scale in mm is not known"


@dataclass(frozen=True)
class Patch:
    """A highlight: where in the drop's window, its shape there, luminance of its full pixels, its core."""

    where: tuple[slice, slice]
    shape: Shape
    luminance: float
    core: NDArray


def find_highlight(seen: View) -> Patch | None:
    """The highlight in a drop's window, None when there is none."""
    if seen.glint is not None:
        return _known(seen, seen.glint)
    return _by_brightness(seen)


def _known(seen: View, glint: NDArray) -> Patch | None:
    near = (glint > 0.0) & (seen.share <= 1.0 + 1.5 / seen.radius_px)
    if seen.other is not None:
        near &= ~seen.other
    if not near.any():
        return None
    where = padded_bounds(near)
    filled = _filled(glint[where], seen.share[where], near[where])
    core = _heaviest(filled >= KNOWN_CORE * filled.max(), filled)
    level = max(full_level(glint[where][core]), full_level(seen.light[where][core]))
    return Patch(where, measure_patch(filled, core, seen.frame.light_outline), level, core)


def padded_bounds(region: NDArray) -> tuple[slice, slice]:
    """The rows and columns that a region touches, MARGIN more on each side."""
    rows, columns = np.flatnonzero(region.any(axis=1)), np.flatnonzero(region.any(axis=0))
    return (
        slice(max(0, int(rows[0]) - MARGIN), int(rows[-1]) + 1 + MARGIN),
        slice(max(0, int(columns[0]) - MARGIN), int(columns[-1]) + 1 + MARGIN),
    )


def _filled(glint: NDArray, share: NDArray, near: NDArray) -> NDArray:
    """The mirror image over the surface's reflectance: the filled share of a pixel, times a constant."""
    from lightsim.optics.fresnel import reflectance

    filled = np.zeros(glint.shape)
    filled[near] = glint[near] / reflectance(np.degrees(np.arcsin(np.minimum(share[near], LIMB))))
    return filled


def _heaviest(region: NDArray, weight: NDArray) -> NDArray:
    """The connected part of `region` (corners touch) with the largest summed weight, bool."""
    from scipy.ndimage import label

    parts, count = label(region, np.ones((3, 3), int))
    if count <= 1:
        return region
    summed = np.bincount(parts.ravel(), np.where(region, weight, 0.0).ravel())
    return parts == 1 + int(np.argmax(summed[1:]))


def _by_brightness(seen: View) -> Patch | None:
    where = padded_bounds(seen.share <= 1.0)
    disc, light = seen.share[where] <= 1.0, seen.light[where]
    floor = float(np.median(light[disc]))
    if seen.frame.light_clock is not None:  # the caustic on the far side is often the brighter one
        right, down = direction_of(seen.frame.light_clock)
        toward = right * seen.right[:, where[1]] + down * seen.down[where[0]]
        disc &= toward > -TOWARD * seen.radius_px
    peak = float(np.partition(light[disc], -3)[-3])
    if peak <= 0.0 or (floor > 0.0 and stops(peak / floor) < LEAST_STOPS):
        return None
    filled = np.clip((light - floor) / (peak - floor), 0.0, 1.0) * disc
    core = _heaviest(filled >= SEEN_CORE, filled)
    return Patch(where, measure_patch(filled, core), full_level(light[core]), core)


def measure_highlight(seen: View, patch: Patch | None) -> Found:
    """All numbers of a drop's highlight, and the reasons for those that cannot be had."""
    if patch is None:
        return {}, dict.fromkeys(KEYS, NO_PATCH if seen.glint is None else NO_IMAGE)
    values: dict[str, float] = {}
    missing: dict[str, str] = {}
    for found, empty in (
        _sizes(seen, patch.shape, seen.frame.mm_per_px),
        _place(seen, patch),
        _brightness(seen, patch),
    ):
        values |= found
        missing |= empty
    return values, missing


def _sizes(seen: View, shape: Shape, mm_per_px: float | None) -> Found:
    pixels: dict[str, tuple[float | None, str]] = {
        "highlight_disc_share": (_over(shape.area_px, np.pi * seen.radius_px**2), NARROW),
        "highlight_area_px": (shape.area_px, NARROW),
        "highlight_aspect": (_over(shape.long_px, shape.short_px), NARROW),
        "highlight_orientation_deg": (shape.orientation_deg, NARROW if shape.short_px is None else ROUND),
    }
    lengths: dict[str, tuple[float | None, str]] = {
        "highlight_area_mm2": (_times(shape.area_px, mm_per_px, 2), NARROW),
        "highlight_long_mm": (_times(shape.long_px, mm_per_px), NARROW),
        "highlight_short_mm": (_times(shape.short_px, mm_per_px), NARROW),
        "highlight_edge_width_mm": (_times(shape.edge_px, mm_per_px), SMALL),
    }
    if mm_per_px is None:
        lengths = {key: (None, NO_SCALE) for key in lengths}
    return sort_out(pixels | lengths)


def sort_out(candidates: dict[str, tuple[float | None, str]]) -> Found:
    """Parts (number or None, reason if None) into the numbers and the reasons."""
    values = {key: float(value) for key, (value, _) in candidates.items() if value is not None}
    return values, {key: why for key, (value, why) in candidates.items() if value is None}


def _over(part: float | None, whole: float | None) -> float | None:
    return None if part is None or whole is None else part / whole


def _times(length: float | None, mm_per_px: float | None, power: int = 1) -> float | None:
    return None if length is None or mm_per_px is None else length * mm_per_px**power


def _place(seen: View, patch: Patch) -> Found:
    rows, columns = patch.where
    right = patch.shape.centre_px[0] - 0.5 + float(seen.right[0, columns.start])
    down = patch.shape.centre_px[1] - 0.5 + float(seen.down[rows.start, 0])
    place = float(np.hypot(right, down)) / seen.radius_px
    clock = clock_of(right, down) if place >= MIDDLE else None
    return sort_out({"highlight_place_share": (place, ""), "highlight_clock": (clock, CENTRED)})


def _brightness(seen: View, patch: Patch) -> Found:
    weight = patch.shape.weight
    clipped = float(weight[seen.clipped[patch.where]].sum() / weight.sum())
    above = None
    if seen.petal is not None and patch.luminance > 0.0:
        above = stops(patch.luminance / seen.petal)
    return sort_out(
        {"highlight_clipped_share": (clipped, ""), "highlight_stops_above_petal": (above, NO_PETAL)}
    )
