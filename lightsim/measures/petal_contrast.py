"""Petal contrast: how far apart the bright and the dark parts of the bare petal lie."""

from __future__ import annotations

import numpy as np

from lightsim.measures.bare_petal import DETAIL_MM, PetalTones
from lightsim.measures.highlight_patch import Found, sort_out
from lightsim.measures.window import Frame
from lightsim.optics.stops import stops

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
