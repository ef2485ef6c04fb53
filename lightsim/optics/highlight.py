"""The highlight: a distant light's mirror image in a drop, seen by a distant camera.

It lies where the sphere's normal halves the phase angle t, the angle between camera and light.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from lightsim.constants import WATER_INDEX
from lightsim.optics.fresnel import reflectance

Array = NDArray[np.float64]


def highlight_place(phase_deg: ArrayLike) -> Array:
    """Distance of the highlight from the drop's centre, over its radius, toward the light: sin(t/2)."""
    return np.sin(np.radians(np.asarray(phase_deg, dtype=float)) / 2)


def highlight_luminance_share(phase_deg: ArrayLike, index: float = WATER_INDEX) -> Array:
    """Luminance of the highlight over the light's own: Fresnel's reflectance at t/2; any shape."""
    return reflectance(np.asarray(phase_deg, dtype=float) / 2, index)
