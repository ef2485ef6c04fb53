"""Contrast of the whole photograph: lit petal against shadow, percentiles, RMS, lighting ratio.

Levels are medians: the bright spots that drops throw into their shadows do not count, clipped or not.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from lightsim.measures.highlight import Found, sort_out
from lightsim.measures.records import stops
from lightsim.measures.window import BARE, Frame
from lightsim.picture import Photograph, luminance

LIT = 0.95  # share of the key's light that gets to the side seen: lit
SHADED = 0.01  # in its shadow; more would lift a shadow five stops down
LEAST_PIXELS = 25
LEAST_SHARE = 0.0005  # of the bare petal: fewer lit or shaded pixels are its edge, not a part to be compared
MOST_HIDDEN = 0.01  # clipped pixels that may lie below the median: it is too low by no more than a hundredth
FLOOR = 2.0**-12  # of saturation: darker than this counts as this in the contrast in stops

NO_MAPS = "what each pixel shows is not known"
NO_KEY = "the key's visibility is not known"
NO_LIT = "no bare petal lit by the key in the frame"
NO_SHADE = "no bare petal in the key's shadow in the frame"
BLACK_SHADE = "the petal in shadow is black"
CLIPPED_LIT = "the petal in the light is clipped; expose less"
CLIPPED_SHADE = "the petal in shadow is clipped; expose less"
BLACK = "the darkest twentieth of the picture is black"
NO_FILL = "no picture without the key to compare with"
NO_FILL_LIGHT = "nothing but the key lights the petal"
NO_PETAL = "no bare petal in the frame"
ALL_BLACK = "the picture is black"


def measure_contrast(frame: Frame, fill_linear: NDArray | None = None) -> Found:
    """All contrasts of a photograph, and the reasons for those that cannot be had.

    The contrast ratio and the lighting ratio need what a simulated photograph knows; the rest does not.
    """
    values: dict[str, float] = {}
    missing: dict[str, str] = {}
    bare = _bare(frame.photo)
    parts = (
        _lit_to_shade(frame, bare),
        _percentiles(frame.light),
        _rms(frame),
        _lighting(frame, bare, fill_linear),
        _levels(frame, bare),
    )
    for found, empty in parts:
        values |= found
        missing |= empty
    return values, missing


def _bare(photo: Photograph) -> NDArray | None:
    return None if photo.maps is None else photo.maps.petal_cover > BARE


def _ratio(name: str, ratio: float | None, reason: str) -> Found:
    """A ratio under `name`_ratio and `name`_stops."""
    above = None if ratio is None else stops(ratio)
    return sort_out({f"{name}_ratio": (ratio, reason), f"{name}_stops": (above, reason)})


def _lit_to_shade(frame: Frame, bare: NDArray | None) -> Found:
    """Median luminance of bare petal that nearly all of the key's light gets to : that none of it gets to."""
    lit = frame.photo.lit
    if lit is None or bare is None:
        return _ratio("contrast", None, NO_KEY)
    bright, dark = bare & (lit > LIT), bare & (lit < SHADED)
    least = max(LEAST_PIXELS, LEAST_SHARE * np.count_nonzero(bare))
    if np.count_nonzero(bright) < least:
        return _ratio("contrast", None, NO_LIT)
    if np.count_nonzero(dark) < least:
        return _ratio("contrast", None, NO_SHADE)
    above = middle_unless_clipped(frame.light[bright], frame.clipped[bright])
    below = middle_unless_clipped(frame.light[dark], frame.clipped[dark])
    if above is None or below is None:
        return _ratio("contrast", None, CLIPPED_LIT if above is None else CLIPPED_SHADE)
    return _ratio("contrast", above / below if below > 0.0 else None, BLACK_SHADE)


def middle_unless_clipped(values: NDArray, clipped: NDArray) -> float | None:
    """Median of values of which the clipped ones are truly higher; None where they hide it.

    A clipped value above the median stays above it, whatever it truly is. One below, as where a single
    channel is at the sensor's limit, may belong above it.
    """
    middle = float(np.median(values))
    hidden = np.count_nonzero(clipped & (values <= middle))
    return None if hidden > MOST_HIDDEN * len(values) else middle


def _percentiles(light: NDArray) -> Found:
    """95th : 5th percentile of luminance over the whole picture, drops and backdrop included."""
    dark, bright = (float(p) for p in np.percentile(light, (5.0, 95.0)))
    return _ratio("percentile", bright / dark if dark > 0.0 else None, BLACK)


def _rms(frame: Frame) -> Found:
    """Standard deviation of luminance scaled to 0..1, and of its logarithm to base 2.

    E. Peli, J. Opt. Soc. Am. A 7 (1990) 2032: the population's standard deviation; 1 is the sensor's limit.
    The figure in stops does not change with the exposure until something clips.
    """
    scaled = np.clip(frame.light / frame.photo.saturation, 0.0, 1.0)
    spread = float(scaled.std(dtype=float))
    in_stops = None
    if scaled.max() > 0.0:
        in_stops = float(np.log2(np.maximum(scaled, FLOOR)).std(dtype=float))
    return sort_out({"rms_contrast": (spread, ""), "rms_contrast_stops": (in_stops, ALL_BLACK)})


def _lighting(frame: Frame, bare: NDArray | None, fill_linear: NDArray | None) -> Found:
    """(Key + fill) : fill, as metered on the side that the key lights: median over the same bare petal.

    This is the ratio of metered sides (2:1 is one stop), not that of the lamps (1:1 gives 2:1 here); both
    conventions are in use (common practice, no source).
    """
    if fill_linear is None:
        return _ratio("lighting", None, NO_FILL)
    if bare is None:
        return _ratio("lighting", None, NO_MAPS)
    where = bare if frame.photo.lit is None else bare & (frame.photo.lit > LIT)
    if np.count_nonzero(where) < LEAST_PIXELS:
        return _ratio("lighting", None, NO_LIT)
    fill = luminance(fill_linear)[where]
    if np.median(fill) <= 0.0:
        return _ratio("lighting", None, NO_FILL_LIGHT)
    times = frame.light[where] / np.maximum(fill, np.finfo(np.float32).tiny)
    return _ratio("lighting", middle_unless_clipped(times, frame.clipped[where]), CLIPPED_LIT)


def _levels(frame: Frame, bare: NDArray | None) -> Found:
    petal, reason = None, NO_MAPS
    if bare is not None:
        reason = NO_PETAL
        if bare.any():
            petal = float(frame.light[bare].mean(dtype=float))
    return sort_out({"clipped_share": (float(frame.clipped.mean()), ""), "petal_mean": (petal, reason)})
