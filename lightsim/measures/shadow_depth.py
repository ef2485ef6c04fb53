"""Shadow depth: bare petal in the key's light against bare petal in the shadow that something casts on it.

A petal that faces away from the key is dark too, but nothing hides the key from it: it is separated by the
direction of its surface, from the heights seen, and left out. Of the petal in light those parts count that
face the key as those in shadow do, so that the ratio is what the shadow takes and not how the petal bends.
Of the shadow its dark tenth counts: drops gather light into theirs, into half of it or more from the side.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.bare_petal import PetalPlaces
from lightsim.measures.highlight_patch import Found
from lightsim.measures.measure_records import LightPlace
from lightsim.measures.petal_contrast import in_stops
from lightsim.measures.window import Frame

LIT = 0.95  # share of the key's light that gets to the side seen: lit
SHADED = 0.01  # in its shadow; more would lift a shadow five stops down
LEAST_AREA = 0.002  # of the bare petal, for the lit part and for the shadow
FACING = 0.1  # cosine between petal and key from which the petal faces it; it faces away below minus that
DARK_PERCENTILE = 10.0  # of the shadow
COSINE_BINS = 12

NO_KEY = "the key’s visibility is not known"
NO_PLACE = "where the key stands is not known"
NO_LIT = f"less than {100 * LEAST_AREA:g} % of the bare petal faces the key in its light"
NO_SHADE = f"less than {100 * LEAST_AREA:g} % of the bare petal is in a shadow that is cast"
NOT_ALIKE = "no petal in the key’s light faces it as the shadow does"
BLACK_SHADE = "the petal in shadow is black"


def measure_shadow_depth(frame: Frame, places: PetalPlaces, key: LightPlace | None) -> Found:
    """Median luminance of bare petal in the key's light : 10th percentile of that in its cast shadow.

    With it the share of the bare petal that is in cast shadow, and that faces away.

    places : of the bare petal.  key : where the key stands.
    """
    petal = places.mask
    names = ("cast_shadow_share", "facing_away_share")
    lit = frame.photo.lit
    if lit is None or key is None or places.depth_mm is None or places.mm_per_px is None:
        reason = NO_PLACE if key is None and lit is not None else NO_KEY
        values, missing = in_stops("shadow_depth", None, reason)
        return values, {**missing, **dict.fromkeys(names, reason)}
    facing = cosine_to(key, places)
    dark = petal & (lit < SHADED)
    cast, away = dark & (facing > FACING), dark & (facing < -FACING)
    bright, whole = petal & (lit > LIT), np.count_nonzero(petal)
    shares = {name: np.count_nonzero(part) / whole for name, part in zip(names, (cast, away), strict=True)}
    bright &= facing > FACING
    values, missing = _depth(frame.light, facing, bright, cast, LEAST_AREA * whole)
    return {**values, **shares}, missing


def _depth(light: NDArray, facing: NDArray, bright: NDArray, cast: NDArray, least: float) -> Found:
    """bright, cast : (h, w) bool.  least : pixels of each that make a part of the petal."""
    if np.count_nonzero(bright) < least:
        return in_stops("shadow_depth", None, NO_LIT)
    if np.count_nonzero(cast) < least:
        return in_stops("shadow_depth", None, NO_SHADE)
    weights = _alike(facing[bright], facing[cast])
    if weights is None:
        return in_stops("shadow_depth", None, NOT_ALIKE)
    above = _percentile(light[bright], weights[0], 50.0)
    below = _percentile(light[cast], weights[1], DARK_PERCENTILE)
    return in_stops("shadow_depth", above / below if below > 0.0 else None, BLACK_SHADE)


def _alike(bright: NDArray, cast: NDArray) -> tuple[NDArray, NDArray] | None:
    """Weights for pixels in light and in shadow, given their cosines, that make both face the key alike.

    Cosines that only one of them has get no weight; None where that leaves less than half of the shadow.
    """
    bins = np.linspace(FACING, 1.0, COSINE_BINS + 1)
    lit, dark = (np.histogram(cosines, bins)[0] for cosines in (bright, cast))
    shared = (lit > 0) & (dark > 0)
    if dark[shared].sum() < 0.5 * len(cast):
        return None
    share = np.where(shared, dark / np.maximum(lit, 1), 0.0)
    of_bright, of_cast = (np.clip(np.digitize(c, bins) - 1, 0, COSINE_BINS - 1) for c in (bright, cast))
    return share[of_bright], shared[of_cast].astype(float)


def _percentile(values: NDArray, weights: NDArray, percentile: float) -> float:
    order = np.argsort(values)
    summed = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(summed, 0.01 * percentile * summed[-1])])


def cosine_to(key: LightPlace, places: PetalPlaces) -> NDArray:
    """Cosine between the petal's normal on the seen side and the direction to the key's middle, (h, w).

    places : with heights and scale.  NaN where there is no bare petal.
    """
    (right, up), petal, depth_mm, mm_per_px = places.slopes, places.mask, places.depth_mm, places.mm_per_px
    assert mm_per_px is not None
    height, width = petal.shape
    x = (np.arange(width, dtype=np.float32) + 0.5 - width / 2) * mm_per_px
    y = (height / 2 - np.arange(height, dtype=np.float32) - 0.5) * mm_per_px
    to = [p - q for p, q in zip(key.place_mm, (x[None, :], y[:, None], depth_mm), strict=True)]
    length = np.sqrt((to[0] ** 2 + to[1] ** 2 + to[2] ** 2) * (right**2 + up**2 + 1.0))
    return np.where(petal, (to[2] - right * to[0] - up * to[1]) / length, np.nan)
