"""All that is measured of the bare petal and of the picture as a whole.

Contrast lies between the petal's bright and dark parts; texture is RMS contrast in two bands of detail.
E. Peli, J. Opt. Soc. Am. A 7 (1990) 2032: contrast in a band is the band-passed luminance over the local mean
luminance, the mean of all coarser detail. The band here is the difference of two averages, see `bare_petal`:
gratings at both of its ends keep half their amplitude. The mean square is that of the contrast's logarithm,
ln(1 + c): the same for small contrasts, and a few bright pixels, grain or caustics, do not count for all the
rest. What grain adds to it is taken away: white noise of variance n leaves n/(4 pi)
(1/s2 + 1/S2 - 4/(s2 + S2)) between averages over Gaussians of variances s2 and S2 (the integral of their
squared difference).

Shadow depth is bare petal in the key's light against bare petal in the shadow that something casts on it. A
petal that faces away from the key is dark too, but nothing hides the key from it: it is separated by the
direction of its surface, from the heights seen, and left out. Of the petal in light those parts count that
face the key as those in shadow do, so that the ratio is what the shadow takes and not how the petal bends. Of
the shadow its dark tenth counts: drops gather light into theirs, into half of it or more from the side.
"""

from __future__ import annotations

from dataclasses import fields
from math import log

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.bare_petal import DETAIL_MM, PIXEL_VARIANCE, SIGMA_OF_PERIOD, PetalPlaces, PetalTones
from lightsim.measures.highlight_patch import NO_SCALE, Found, sort_out
from lightsim.measures.measure_records import FrameMeasures, LightPlace
from lightsim.measures.window import Frame
from lightsim.optics.exposure_values import MID_TONE, stops

LOW, HIGH = 5.0, 95.0  # percentiles
LEAST_CELLS = 25

SMALL = "too little bare petal in the frame"
BLACK_PART = "a twentieth of the bare petal is black"
CLIPPED = "a twentieth of the bare petal or more is clipped; expose less"


def measure_petal_contrast(frame: Frame, clipped_share: float, tones: PetalTones) -> Found:
    """95th : 5th percentile of luminance over the bare petal, detail finer than DETAIL_MM averaged away.

    clipped_share : of the bare petal.  A recorded picture does not tell how bright its clipped parts are:
    empty where they reach down to the 95th percentile. In a simulated one the linear levels
    are known beyond the clipping.
    """
    light, holds = tones.averaged(DETAIL_MM)
    if np.count_nonzero(holds) < LEAST_CELLS:
        return in_stops("petal_contrast", None, SMALL)
    if frame.is_recorded and clipped_share >= 1.0 - HIGH / 100.0:
        return in_stops("petal_contrast", None, CLIPPED)
    dark, bright = (float(p) for p in np.percentile(light[holds], (LOW, HIGH)))
    return in_stops("petal_contrast", bright / dark if dark > 0.0 else None, BLACK_PART)


def in_stops(name: str, ratio: float | None, reason: str) -> Found:
    """A ratio under `name`_ratio and `name`_stops, or the reason why there is none."""
    above = None if ratio is None else stops(ratio)
    return sort_out({f"{name}_ratio": (ratio, reason), f"{name}_stops": (above, reason)})


BANDS_MM = {"fine": (DETAIL_MM, 1.0), "coarse": (1.0, 4.0)}  # periods, from and to
LEAST_PIXELS = 3.0  # of the picture in the band's shortest period
DARKEST = 2.0**-6  # of the local mean: what is darker counts as this
MOST_CLIPPED = 0.05  # share of the bare petal in a recorded picture


def measure_texture(frame: Frame, clipped_share: float, tones: PetalTones) -> Found:
    """RMS contrast in each band of BANDS_MM, and the same in stops.

    clipped_share : of the bare petal.  Shadows on the petal count, whatever casts them.
    """
    values: dict[str, float] = {}
    missing: dict[str, str] = {}
    for name, (shortest, longest) in BANDS_MM.items():
        why = _reason(frame, shortest, longest, clipped_share)
        rms = None if why else _rms(tones, shortest, longest)
        reason = why or SMALL
        found, empty = sort_out(
            {
                f"texture_{name}_rms": (rms, reason),
                f"texture_{name}_stops": (None if rms is None else rms / log(2.0), reason),
            }
        )
        values |= found
        missing |= empty
    return values, missing


def _reason(frame: Frame, shortest: float, longest: float, clipped_share: float) -> str | None:
    """Why a band cannot be measured."""
    if frame.mm_per_px is None:
        return NO_SCALE
    if frame.is_recorded and clipped_share >= MOST_CLIPPED:
        return CLIPPED
    if shortest < LEAST_PIXELS * frame.mm_per_px:
        return f"detail of {shortest:g} mm is less than {LEAST_PIXELS:g} pixels"
    if longest > frame.mm_per_px * min(frame.photo.shape):
        return f"detail of {longest:g} mm is larger than the frame"
    return None


def _rms(tones: PetalTones, shortest: float, longest: float) -> float | None:
    sharp, holds = tones.averaged(shortest)
    mean, _ = tones.averaged(longest)
    holds = holds & (mean > 0.0)
    if np.count_nonzero(holds) < LEAST_CELLS:
        return None
    contrast = np.log(np.maximum(sharp[holds] / mean[holds], DARKEST).astype(float))
    return float(np.sqrt(max(np.mean(contrast**2) - _by_grain(tones, shortest, longest), 0.0)))


def _by_grain(tones: PetalTones, shortest: float, longest: float) -> float:
    """What the picture's grain adds to the mean square in a band."""
    periods = (shortest / tones.pixel_mm, longest / tones.pixel_mm)
    fine, coarse = ((SIGMA_OF_PERIOD * period) ** 2 - PIXEL_VARIANCE for period in periods)
    return tones.grain / (4.0 * np.pi) * (1.0 / fine + 1.0 / coarse - 4.0 / (fine + coarse))


LIT = 0.95  # share of the key's light that gets to the side seen: lit
SHADED = 0.01  # in its shadow; more would lift a shadow five stops down
LEAST_AREA = 0.002  # of the bare petal, for the lit part and for the shadow
FACING = 0.1  # cosine between petal and key from which the petal faces it; it faces away below minus that
DARK_PERCENTILE = 10.0  # of the shadow
COSINE_BINS = 12

NO_KEY = "the key’s visibility is not known"
NO_PLACE = "where the key stands is not known"
NO_LIT = f"less than {100 * LEAST_AREA:g} % of the bare petal faces the key with nothing between"
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


OF_PETAL = tuple(
    field.name
    for field in fields(FrameMeasures)
    if field.name.startswith(("petal_", "shadow_depth_", "cast_shadow_", "facing_away_", "texture_"))
)
LIGHTING = ("lighting_ratio", "lighting_stops")

NO_MASK = "which part is petal is not known: give a mask or the drops"
NO_PETAL = "no bare petal in the frame"
NO_LIGHTS = "the lights of the set are not known"
BLACK = "the petal is black"


def measure_petal(frame: Frame, places: PetalPlaces | None, key: LightPlace | None = None) -> Found:
    """Contrast, shadows, texture and level of the bare petal, and the picture's clipped share.

    places : where the bare petal is; None where that is not known.  key : where the key stands.
    """
    values = {"clipped_share": float(frame.clipped.mean())}
    missing = dict.fromkeys(LIGHTING, NO_LIGHTS)
    if places is None or not places.mask.any():
        return values, missing | dict.fromkeys(OF_PETAL, NO_MASK if places is None else NO_PETAL)
    tones, petal = PetalTones.of(frame, places), places.mask
    clipped = float(frame.clipped[petal].mean())
    for found, empty in (
        measure_petal_contrast(frame, clipped, tones),
        measure_shadow_depth(frame, places, key),
        measure_texture(frame, clipped, tones),
        _level(frame, petal, clipped),
    ):
        values |= found
        missing |= empty
    return values, missing


def _level(frame: Frame, petal: NDArray, clipped_share: float) -> Found:
    mean = float(frame.light[petal].mean(dtype=np.float64))
    return sort_out(
        {
            "petal_linear": (mean, ""),
            "petal_stops_from_mid_tone": (stops(mean / MID_TONE) if mean > 0.0 else None, BLACK),
            "petal_clipped_share": (clipped_share, ""),
        }
    )
