"""Contrast of the bare petal: between its bright and dark parts, and in bands of detail, its texture.

Texture is RMS contrast in two bands. E. Peli, J. Opt. Soc. Am. A 7 (1990) 2032: contrast in a band is the
band-passed luminance over the local mean luminance, the mean of all coarser detail. The band here is the
difference of two averages, see `bare_petal`: gratings at both of its ends keep half their amplitude. The
mean square is that of the contrast's logarithm, ln(1 + c): the same for small contrasts, and a few bright
pixels, grain or caustics, do not count for all the rest. What grain adds to it is taken away: white noise
of variance n leaves n/(4 pi) (1/s2 + 1/S2 - 4/(s2 + S2)) between averages over Gaussians of variances s2
and S2 (the integral of their squared difference).
"""

from __future__ import annotations

from math import log

import numpy as np

from lightsim.measures.bare_petal import DETAIL_MM, PIXEL_VARIANCE, SIGMA_OF_PERIOD, PetalTones
from lightsim.measures.highlight_patch import NO_SCALE, Found, sort_out
from lightsim.measures.window import Frame
from lightsim.optics.exposure_values import stops

LOW, HIGH = 5.0, 95.0  # percentiles
LEAST_CELLS = 25

SMALL = "too little bare petal in the frame"
BLACK = "a twentieth of the bare petal is black"
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
    return in_stops("petal_contrast", bright / dark if dark > 0.0 else None, BLACK)


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
